"""``hgmap explain``, and parameters that are given, from the command line."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


def test_a_place_is_explained_by_its_readings(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    got = run("explain", site, "--floor", "ground", "--at", "1.5,1.5", "--cell", "0.5")
    assert got.code == 0, got.text
    assert re.search(r"estimate: [\d.]+ µg/m³ \(median\); 95 % interval", got.out)
    assert re.search(r"probability above it [01]\.\d", got.out)
    assert "same room" in got.out
    assert "Local codes and licensed practice decide" in got.out
    assert not (site / "results").exists()
    total = sum(float(line.split()[0]) for line in got.out.splitlines()
                if re.match(r" *-?\d\.\d\d ", line))  # fmt: skip
    assert 0.5 < total < 1.5


def test_idw_is_explained_too(make_site: MakeSite, run: Run) -> None:
    got = run("explain", make_site(), "--floor", "ground", "--at", "1.5,1.5", "--cell", "0.5",
              "--method", "idw")  # fmt: skip
    assert got.code == 0
    assert "no error model" in got.out


@pytest.mark.parametrize("place", ["1.5", "1.5,x", "1,2,3", "nan,1", "", "inf,2"])
def test_what_is_no_place_is_said_in_one_line(make_site: MakeSite, run: Run, place: str) -> None:
    got = run("explain", make_site(), "--floor", "ground", "--at", place)
    assert got.code == 2
    assert "--at" in got.err


def test_a_place_outside_every_room_names_the_nearest(make_site: MakeSite, run: Run) -> None:
    got = run("explain", make_site(), "--floor", "ground", "--at", "500,1", "--cell", "0.5")
    assert got.code == 2
    assert "in no room" in got.err
    assert "nearest room" in got.err


def test_a_floor_that_is_not_there_is_said(make_site: MakeSite, run: Run) -> None:
    got = run("explain", make_site(), "--floor", "attic", "--at", "1,1")
    assert got.code == 2
    assert "attic" in got.err


def test_a_floor_without_a_surface_says_why(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    site = make_site(readings={"first.csv": make_table(list(make_rows())[:2])})
    got = run("explain", site, "--floor", "ground", "--at", "1,1", "--cell", "0.5")
    assert got.code == 2
    assert "no surface to explain" in got.err


@pytest.mark.usefixtures("no_sheets")
def test_given_parameters_are_used_and_said(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    got = run("map", site, "--cell", "0.5", "--range", "4", "--nugget", "0.02", "--sill", "0.5")
    assert got.code == 0, got.text
    summary = json.loads((site / "results/first/summary.json").read_bytes())
    (floor,) = summary["floors"]
    assert floor["variogram"]["origin"] == "given"
    assert floor["variogram"]["range_m"] == pytest.approx(4.0)
    assert any("given, not weighed" in note for note in floor["notes"])


def test_a_place_is_explained_with_the_parameters_that_are_given(
    make_site: MakeSite, run: Run
) -> None:
    where = ("explain", make_site(), "--floor", "ground", "--at", "1.5,1.5", "--cell", "0.5")
    given = run(*where, "--range", "4", "--nugget", "0.02", "--sill", "0.5")
    assert given.code == 0, given.text
    said = " ".join(given.out.split())  # lines are as wide as the terminal
    assert "given, not weighed by the readings: range 4 m, nugget 0.02, sill 0.5" in said
    weighed = run(*where)
    assert "given, not weighed" not in " ".join(weighed.out.split())
    lines = [next(line for line in one.out.splitlines() if line.startswith("estimate:"))
             for one in (given, weighed)]  # fmt: skip
    assert lines[0] != lines[1]
    refused = run(*where, "--range", "0")
    assert refused.code == 2
    assert "a range of 0 cannot be used" in refused.text


@pytest.mark.usefixtures("no_sheets")
def test_parameters_can_be_given_in_the_site_file(make_site: MakeSite, run: Run) -> None:
    site = make_site(extra="[map]\ncell_m = 0.5\nrange_m = 5.0\n")
    assert run("map", site).code == 0
    summary = json.loads((site / "results/first/summary.json").read_bytes())
    assert summary["floors"][0]["settings"]["range_m"] == 5.0


@pytest.mark.parametrize(("option", "value"), [("--range", "0"), ("--nugget", "-1"),
                                               ("--sill", "nan"), ("--range", "1e-300"),
                                               ("--range", "1e200"), ("--sill", "1e-320"),
                                               ("--nugget", "1e-320")])  # fmt: skip
def test_a_parameter_that_cannot_be_is_refused_in_one_line(
    make_site: MakeSite, run: Run, option: str, value: str
) -> None:
    got = run("map", make_site(), "--cell", "0.5", f"{option}={value}", "--straight")
    assert got.code == 2
    assert re.search(r"a \w+ of \S+ cannot be used; give (0 or )?one from \S+ to 1e\+06", got.text)


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_the_second_opinion_is_printed(make_site: MakeSite, run: Run, method: str) -> None:
    got = run("map", make_site(), "--cell", "0.5", "--method", method)
    found = re.search(r"second opinion: .* at (\d+) points by PyKrige .* at most (\S+) \(mean\)",
                      got.out)  # fmt: skip
    assert found is not None
    assert int(found[1]) > 10
    assert float(found[2]) < 1e-8


@pytest.mark.usefixtures("no_sheets")
def test_a_sill_that_the_readings_contradict_clears_nothing_and_is_warned_of(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site()
    got = run("map", site, "--cell", "0.5", "--sill", "1e-6")
    assert got.code == 1
    assert "nothing is clear" in got.out
    summary = json.loads((site / "results/first/summary.json").read_bytes())
    assert summary["floors"][0]["zones_m2"]["clear"] == 0
