"""``hgmap clearance``: what the readings of a room say under a rule."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.clearance import ClearanceOptions, clear_site
from tests.clearance_cases import EVERY, LEVEL, MAP, MEAN, Run, outcome, row, rows, ruled, said


def test_a_round_with_all_that_it_needs_meets_and_exits_clean(
    clearing: Callable[..., Path], run: Run
) -> None:
    site = clearing(rows(["0.2", "0.3", "<0.05", "0.4"]))
    got = run("clearance", site, "--round", "first", "--level", LEVEL, "--rule", EVERY)
    assert got.code == 0, got.text
    assert "meets" in got.out
    assert got.out.splitlines()[-1] == (
        "Local codes and licensed practice decide. The health agency says who may return."
    )
    written = site / "results/first"
    assert {one.name for one in written.iterdir()} == {"clearance.csv", "clearance.json"}
    with (written / "clearance.csv").open(encoding="utf-8-sig", newline="") as file:
        table = list(csv.DictReader(file))
    assert [one["what"] for one in table] == ["room", "room", "floor"]
    assert {one["outcome"] for one in table} == {"meets"}
    (first, *_) = table
    assert float(first["maximum_detect"]) == 0.4
    assert first["mean_method"].startswith("Kaplan-Meier")
    summary = json.loads((written / "clearance.json").read_text("utf-8"))
    assert summary["levels"][0]["holds_for_every_room"] == []


def test_a_reading_above_the_level_does_not_meet_whatever_is_missing(
    clearing: Callable[..., Path],
) -> None:
    got = ruled(clearing(rows(["3.5"]), log=None, temperature=5))
    assert outcome(got) == "does not meet"
    assert outcome(got, "B") == "cannot tell yet"
    assert got.levels[0].floors[0].outcomes[0].ruling.outcome == "does not meet"
    assert got.exit_code == 1


def test_below_the_detection_limit_nothing_can_be_told(clearing: Callable[..., Path]) -> None:
    site = clearing(rows(["<0.5"] * 8, ["<0.5"] * 8))
    got = clear_site(site, ClearanceOptions(levels=("0.2 ug/m3",)))
    assert {o.ruling.outcome for r in got.levels[0].rooms for o in r.outcomes} == {
        "cannot tell yet"
    }
    assert "can see 0.2" in said(ruled(site, level="0.2 ug/m3"))


def test_a_detection_limit_above_half_the_level_is_taken_back(
    clearing: Callable[..., Path],
) -> None:
    site = clearing(rows(["<0.5"] * 4))
    assert outcome(ruled(site, level="0.9 ug/m3")) == "cannot tell yet"
    assert "more than half of the level" in said(ruled(site, level="0.9 ug/m3"))
    assert outcome(ruled(site, level="1.5 ug/m3")) == "meets"


@pytest.mark.parametrize("rule", [EVERY, MEAN])
def test_nothing_detected_meets_without_a_mean(clearing: Callable[..., Path], rule: str) -> None:
    got = ruled(clearing(rows(["<0.05"] * 4)), rule)
    assert outcome(got) == "meets"
    assert got.levels[0].rooms[0].bands[0].statistics.mean.value is None


@pytest.mark.parametrize(("level", "expected"), [
    ("0.3 ug/m3", "meets"), ("0.12 ug/m3", "cannot tell yet"),
])  # fmt: skip
def test_nothing_detected_gives_no_confidence_limit_but_a_bound(
    clearing: Callable[..., Path], level: str, expected: str
) -> None:
    got = ruled(clearing(rows(["<0.05"] * 9, ["<0.05"] * 9)), "ucl-below", level)
    assert outcome(got) == expected
    assert "nothing was detected" in said(got)
    assert "as uneven below their limits as they can be" in said(got)
    assert got.levels[0].rooms[0].bands[0].statistics.ucl.value is None


def test_one_reading_a_room_cannot_tell(clearing: Callable[..., Path]) -> None:
    got = clear_site(clearing(rows(["0.2"], ["0.2"])), ClearanceOptions(levels=(LEVEL,)))
    for room in got.levels[0].rooms:
        assert {one.ruling.outcome for one in room.outcomes} == {"cannot tell yet"}
    assert "2 more usable readings" in said(got)


def test_repeats_of_one_place_count_once_at_their_highest(clearing: Callable[..., Path]) -> None:
    same = [row(k, "A", value, x=2.0) for k, value in enumerate(["0.2", "0.9", "0.3", "<0.05"])]
    got = ruled(clearing([*same, *rows([])]))
    figures = got.levels[0].rooms[0].bands[0].statistics
    assert (figures.n, figures.maximum) == (1, 0.9)
    assert outcome(got) == "cannot tell yet"


def test_a_room_read_only_at_the_floor_cannot_tell_however_low(
    clearing: Callable[..., Path],
) -> None:
    low = [row(k, "A", "0.1", "0.05") for k in range(5)]
    got = ruled(clearing([*low, *rows([])]))
    assert outcome(got) == "cannot tell yet"
    assert "none in the breathing zone" in said(got)
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize("rule", [EVERY, MEAN, "ucl-below"])
def test_a_hot_place_on_the_floor_is_not_averaged_away(
    clearing: Callable[..., Path], rule: str
) -> None:
    air = rows([f"0.{k}" for k in range(1, 10)], [f"0.{k}" for k in range(1, 10)])
    got = ruled(clearing([*air, row(40, "A", "34", "0.05")]), rule, level="9 ug/m3")
    assert outcome(got) == "cannot tell yet"
    assert "34 was read at another height" in said(got)
    assert outcome(got, "B") == "meets"


def test_each_breathing_height_is_judged_apart_and_the_worst_counts(
    clearing: Callable[..., Path],
) -> None:
    low = [row(30 + k, "A", "3.5", "0.3") for k in range(3)]
    got = ruled(clearing([*rows(["0.2"] * 4), *low]))
    assert outcome(got) == "does not meet"
    assert got.levels[0].rooms[0].outcomes[0].band == "child breathing"


@pytest.mark.parametrize("hot", ["1.5", "0.3"])
def test_a_single_reading_that_the_rule_allows_counts_at_its_own_height_only(
    clearing: Callable[..., Path], hot: str
) -> None:
    # 4 is under 2 times the level of 3, which the rule of the mean allows, at either height
    air = [row(k, "A", "4" if k == 0 and hot == "1.5" else "0.2") for k in range(5)]
    low = [row(30 + k, "A", "4" if k == 0 and hot == "0.3" else "0.2", "0.3") for k in range(5)]
    table = [*air, *low, *rows([])]
    assert outcome(ruled(clearing(table), MEAN)) == "meets"
    assert outcome(ruled(clearing(table, folder="every"), EVERY)) == "does not meet"


def test_where_children_are_every_breathing_height_is_asked_for(
    clearing: Callable[..., Path],
) -> None:
    got = ruled(clearing(rows(["0.2"] * 4), use="school"), level="0.5 ug/m3")
    assert outcome(got) == "cannot tell yet"
    assert "child breathing: 3 more usable readings" in said(got)


@pytest.mark.parametrize("height", ["1.5", "0.05"])
def test_a_saturated_reading_never_meets(clearing: Callable[..., Path], height: str) -> None:
    got = ruled(clearing([*rows(["0.2"] * 4), row(9, "A", ">1", height)]))
    assert outcome(got) == "cannot tell yet"
    assert "saturated" in said(got)
    assert outcome(got, "B") == "meets"


def test_raising_the_level_never_turns_meets_into_does_not_meet(
    clearing: Callable[..., Path],
) -> None:
    order = {"does not meet": 0, "cannot tell yet": 1, "meets": 2}
    site = clearing(rows([f"0.{k}" for k in range(1, 10)], ["<0.05", "0.3", "0.2", "2.5"]))
    levels = ("0.08 ug/m3", "0.5 ug/m3", "0.95 ug/m3", "2.4 ug/m3", "4 ug/m3", "20 ug/m3")
    got = clear_site(site, ClearanceOptions(levels=levels[::-1]))
    assert [one.level.concentration for one in got.levels] == [0.08, 0.5, 0.95, 2.4, 4, 20]
    seen = set()
    for place in range(2):
        for rule in range(len(got.rules)):
            found = [order[one.rooms[place].outcomes[rule].ruling.outcome] for one in got.levels]
            seen |= set(found)
            assert found == sorted(found)
    assert seen == {0, 1, 2}


def test_the_unit_of_the_level_does_not_change_the_outcome(
    clearing: Callable[..., Path],
) -> None:
    site = clearing(rows(["0.3", "0.3", "0.29", "0.2"]))
    for level in ("0.3 ug/m3", "300 ng/m3"):
        got = ruled(site, level=level)
        assert outcome(got) == "cannot tell yet"
        assert "stands at the level" in said(got)


@pytest.mark.usefixtures("no_sheets")
def test_the_rule_of_the_map_asks_for_the_map(clearing: Callable[..., Path]) -> None:
    table = rows(["<0.05", "0.1", "0.1", "0.08", "0.09"], ["0.06", "0.1", "0.05", "0.08", "0.1"])
    site = clearing(table, temperature=36)
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8") + "\n[map]\ncell_m = 0.5\n", "utf-8")
    without = ruled(site, MAP)
    assert outcome(without) == "cannot tell yet"
    assert "run again with --with-map" in said(without)
    mapped = ruled(site, MAP, level="20 ug/m3", with_map=True)
    assert outcome(mapped) == "meets", said(mapped)
    assert (mapped.levels[0].rooms[0].bands[0].nowhere or 0.0) >= 0.95


@pytest.mark.parametrize(("child", "adult"), [("3.5", "0.2"), ("0.2", "3.5")])
def test_the_worse_height_counts_whichever_it_is(
    clearing: Callable[..., Path], child: str, adult: str
) -> None:
    low = [row(30 + k, "A", child, "0.3") for k in range(3)]
    got = ruled(clearing([*rows([adult] * 4), *low]))
    assert outcome(got) == "does not meet"
    worse = "child breathing" if child == "3.5" else "adult breathing"
    assert got.levels[0].rooms[0].outcomes[0].band == worse


def test_a_map_that_may_clear_nothing_lets_no_room_meet(clearing: Callable[..., Path]) -> None:
    table = rows(["<0.05", "0.1", "0.4", "0.08", "0.9"], ["0.06", "0.1", "0.5", "0.08", "0.7"])
    site = clearing(table)
    toml = site / "site.toml"
    given = "\n[map]\ncell_m = 0.5\nrange_m = 3\nnugget = 0.0001\nsill = 0.0001\n"
    toml.write_text(toml.read_text("utf-8") + given, "utf-8")
    got = ruled(site, MAP, level="20 ug/m3", with_map=True)
    assert outcome(got) == "cannot tell yet"
    assert "a map that is allowed to clear" in said(got)
