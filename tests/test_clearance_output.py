"""``hgmap clearance``: what is refused, and what the terminal and the files say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.clearance import ClearanceOptions, clear_site
from hgmap.errors import HgmapError
from tests.clearance_cases import EVERY, LEVEL, MakeSite, Run, of_kind, outcome, row, rows, ruled


@pytest.mark.parametrize("level", ["0 ug/m3", "-1 ug/m3", "nan ug/m3"])
def test_a_level_that_is_none_is_refused_in_one_line(
    clearing: Callable[..., Path], run: Run, level: str
) -> None:
    site = clearing(rows(["0.2"] * 4))
    got = run("clearance", site, f"--level={level}")
    assert got.code == 2
    assert got.err.startswith("hgmap:")
    assert not (site / "results").exists()


@pytest.mark.parametrize("words", [("--rule", "none"), ("--round", "none"), ("--level", "none")])
def test_a_name_that_is_not_known_is_refused_in_one_line(
    clearing: Callable[..., Path], run: Run, words: tuple[str, str]
) -> None:
    got = run("clearance", clearing(rows(["0.2"] * 4)), *words)
    assert got.code == 2
    assert "none" in got.err


def test_an_unread_room_stands_in_the_table(clearing: Callable[..., Path], run: Run) -> None:
    got = run("clearance", clearing(rows([])), "--level", LEVEL, "--rule", EVERY)
    assert got.code == 1
    assert "Room A" in got.out
    assert "3 more usable readings in a room: every room that cannot be told yet" in got.out


def test_formulas_in_names_are_guarded_and_nothing_is_promised(
    make_site: MakeSite, make_plan: Any, make_room: Any, make_table: Any, run: Run
) -> None:
    room = make_room("A", 0, 0, 6, 5)
    room["properties"]["name"] = "=1+1"
    site = make_site(plans={"ground": make_plan(room)},
                     readings={"first.csv": make_table([row(1, "A", "0.2")])})  # fmt: skip
    got = run("clearance", site, "--round", "first")
    assert got.code == 1
    text = (site / "results/first/clearance.csv").read_text("utf-8-sig")
    assert ",=1+1" not in text
    assert "=1+1" in text
    whole = text + got.out + (site / "results/first/clearance.json").read_text("utf-8")
    assert "safe" not in whole.casefold()


def test_a_site_that_is_not_about_air_is_refused(make_site: MakeSite, make_table: Any) -> None:
    site = make_site(readings={"first.csv": make_table([])}, top='medium = "surface"', level=None)
    with pytest.raises(HgmapError, match="this site is about surface"):
        clear_site(site, ClearanceOptions(levels=("1 ug/m3",)))


def test_the_terminal_gathers_how_many_readings_are_wanted(
    clearing: Callable[..., Path], run: Run
) -> None:
    a = ["0.20", "0.45", "0.30", "0.25", "0.40", "0.35", "0.22", "0.38"]
    b = ["0.21", "0.55", "0.30", "0.25", "0.40", "0.35", "0.22", "0.48"]
    site = clearing(rows(a, b))
    got = run("clearance", site, "--level", "0.6 ug/m3", "--rule", "ucl-below")
    lines = [" ".join(one.split()) for one in got.out.split("WHAT IS MISSING")[1].splitlines()]
    assert [one for one in lines if "more readings: about" in one] == [
        "more readings: about 12 to 24 in the room, if their mean and scatter stay as they are: "
        "every room that cannot be told yet"
    ]
    assert "limit has to hold by Chebyshev as well, at 99 % below 59 readings" in got.out


def test_days_of_a_round_are_said(clearing: Callable[..., Path]) -> None:
    later = [one.replace("2026-03-02", "2026-03-05") for one in rows(["0.2"] * 2)]
    got = ruled(clearing([*rows(["0.2"] * 4), *later]))
    assert any("read on 2 days, 2026-03-02 to 2026-03-05" in note for note in got.notes)
    got = ruled(clearing(rows(["0.2"] * 4), folder="one"))
    assert any("dated 2026-03-01 and was read on 2026-03-02" in note for note in got.notes)


def test_a_sample_that_cannot_see_the_level_is_noted_beside_a_reading(
    clearing: Callable[..., Path],
) -> None:
    table = [*rows(["0.2"] * 4), row(9, "A", "<2.5", x=0.5)]
    got = ruled(of_kind(clearing(table), {"R9": "laboratory"}))
    assert outcome(got) == "meets"
    (note,) = [one for one in got.levels[0].notes if "confirm nothing" in one]
    assert "R9 (<2.5 ug/m3)" in note
    assert not any("no laboratory sample" in one for one in got.notes)


def test_many_rooms_that_meet_are_not_all_explained_on_the_terminal(
    clearing: Callable[..., Path], run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hgmap.terminal.clearance.MOST_WHY", 1)
    got = run("clearance", clearing(rows(["0.2"] * 4)), "--level", LEVEL, "--rule", EVERY)
    assert "meets: 1 more; clearance.csv says why of each room" in got.out
