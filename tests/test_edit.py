"""`hgmap edit` changes a plan as the window does, says in a line what it did, and can be tried."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely

from hgmap.editing.plan_check import check_plans
from hgmap.site.folder import read_site
from tests.editing.drawn_plans import door, room

Run = Callable[..., Any]
SPLIT = ("--room", "Room A", "--from", "2,0", "--to", "2,5")


@pytest.fixture
def site(make_site: Callable[..., Path]) -> Path:
    only = "id,floor,room,height,time,value,unit\nr1,ground,Room B,1.5,2026-03-02,1,ug/m3\n"
    return make_site(readings={"first.csv": only})


def rooms(site: Path, floor: int = 0) -> dict[str, float]:
    return {one.name: one.area_m2 for one in read_site(site).floors[floor].rooms}


def test_a_room_is_split_and_the_areas_are_said(site: Path, run: Run) -> None:
    got = run("edit", "split", site, "--floor", "ground", *SPLIT, "--other", "Store")
    assert (got.code, got.err) == (0, "")
    assert got.out == (
        "split room 'Room A' (30.00 m²): room 'Room A' (20.00 m²) and room 'Store' (10.00 m²)\n"
    )
    assert rooms(site) == pytest.approx({"Room A": 20, "Store": 10, "Room B": 30})


def test_a_bent_line_is_drawn_through_its_bends(site: Path, run: Run) -> None:
    bent = ("--from", "2,0", "--via", "2,3", "--to", "6,3")
    assert run("edit", "split", site, "--floor", "ground", "--room", "A", *bent).code == 0
    assert sorted(rooms(site).values()) == pytest.approx([12, 18, 30])


def test_a_dry_run_says_it_and_writes_nothing(site: Path, run: Run) -> None:
    before = (site / "plans/0.geojson").read_bytes()
    got = run("edit", "split", site, "--floor", "ground", *SPLIT, "--dry-run")
    assert got.out.splitlines()[-1] == "nothing was written"
    assert (site / "plans/0.geojson").read_bytes() == before


def test_rows_that_mean_something_else_are_named_and_the_exit_status_is_1(
    site: Path, run: Run
) -> None:
    got = run("edit", "rename", site, "--floor", "ground", "--room", "B", "--name", "Office")
    assert got.code == 1
    assert got.out.splitlines() == [
        "renamed room 'Room B' (30.00 m²): 'Office' now, its id stays 'B'",
        "! 1 reading of room 'Room B' will be held: no room 'Room B' on floor 'ground'; did you "
        "mean 'Room A'? (readings/first.csv, row 2)",
        "`hgmap edit rename ... --readings` also writes the new name into the readings",
    ]


def test_a_rename_that_the_readings_follow_is_clean(site: Path, run: Run) -> None:
    words = ("--room", "B", "--name", "Office", "--readings")
    got = run("edit", "rename", site, "--floor", "ground", *words)
    assert (got.code, got.out.count("\n")) == (0, 1)
    assert read_site(site).readings[0].held == ()
    assert ",Office," in (site / "readings/first.csv").read_text("utf-8")


def test_rooms_are_merged_and_openings_added_moved_closed_and_removed(site: Path, run: Run) -> None:
    at = ("--floor", "ground")
    add = ("--from", "6,3.4", "--to", "6,4.3", "--state", "closed", "--id", "d2")
    assert run("edit", "add-opening", site, *at, *add).code == 0
    move = ("--opening", "d2", "--from", "6,0.5", "--to", "6,1.3")
    assert "now 0.80 m wide, closed" in run("edit", "move-opening", site, *at, *move).out
    seal = ("--opening", "d2", "--state", "sealed")
    assert run("edit", "close-opening", site, *at, *seal).out == (
        "opening 'd2': closed before, sealed now\n"
    )
    assert run("edit", "close-opening", site, *at, "--opening", "d1").code == 0
    states = {one.id: one.state for one in read_site(site).floors[0].openings}
    assert states == {"d1": "closed", "d2": "sealed"}
    assert run("edit", "remove-opening", site, *at, "--opening", "d2").code == 0
    assert [one.id for one in read_site(site).floors[0].openings] == ["d1"]
    merged = run("edit", "merge", site, *at, "--room", "A", "--room", "B", "--name", "Hall")
    assert "into room 'Hall' (60.00 m²)" in merged.out
    assert rooms(site) == pytest.approx({"Hall": 60})


def test_a_floor_is_copied_and_one_that_is_there_is_refused(site: Path, run: Run) -> None:
    words = ("edit", "copy-floor", site, "--floor", "ground", "--to", "first")
    assert run(*words).code == 0
    assert rooms(site, 1) == rooms(site)
    before = (site / "site.toml").read_bytes()
    again = run(*words)
    assert (again.code, again.out) == (2, "")
    assert "floor 'first' is called 'first' already; choose another name" in again.err
    assert (site / "site.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("split", *SPLIT[:2], "--from", "two", "--to", "2,5"), "--from: 'two' is not a place"),
        (("split", "--room", "Z", *SPLIT[2:]), "no room on floor 'ground' is called 'Z'"),
        (("remove-opening", "--opening", "d9"), "known: 'd1'"),
        (("merge", "--room", "A", "--room", "A"), "merging takes two rooms or more"),
    ],
)
def test_what_cannot_be_done_changes_nothing(
    site: Path, run: Run, words: tuple[str, ...], text: str
) -> None:
    before = (site / "plans/0.geojson").read_bytes()
    got = run("edit", words[0], site, "--floor", "ground", *words[1:])
    assert (got.code, got.out) == (2, "")
    assert text in got.err
    assert (site / "plans/0.geojson").read_bytes() == before


def test_what_stands_so_in_the_building_is_kept_and_asked_no_more(
    make_site: Callable[..., Path], run: Run
) -> None:
    wide = [room("A", 0, 0, 40, 5), room("B", 0, 5, 40, 9), door("d1", 2, 5, 2.9, 5),
            door("d2", 5, 5, 25, 5), room("C", 40, 0, 44, 5)]  # fmt: skip
    site = make_site(plans={"ground": {"type": "FeatureCollection", "features": wide}})
    assert not check_plans(site).sound
    got = run("edit", "keep", site, "--finding", 1, "--finding", 2)
    assert got.out.splitlines()[0] == "kept as drawn on floor 'ground': opening 'd2' is 20 m wide"
    assert check_plans(site).sound
    assert all(one.finding.kept for one in check_plans(site).findings)
    assert "there is no finding 9" in run("edit", "keep", site, "--finding", 9).err


def test_a_floor_is_found_by_its_title_too(make_site: Callable[..., Path], run: Run) -> None:
    site = make_site()
    toml = (site / "site.toml").read_text("utf-8")
    titled = toml.replace('name = "ground"', 'name = "ground"\ntitle = "Ground floor"')
    (site / "site.toml").write_text(titled, "utf-8")
    words = ("--floor", "ground floor", "--opening", "d1")
    assert run("edit", "close-opening", site, *words).code == 0


def test_a_floor_that_is_not_there_is_one_line(site: Path, run: Run) -> None:
    got = run("edit", "remove-opening", site, "--floor", "attic", "--opening", "d1")
    assert (got.code, got.err) == (2, "hgmap: site.toml: no floor 'attic'; known: 'ground'\n")


def test_rooms_are_found_between_walls_and_a_repair_can_be_refused(
    tmp_path: Path, run: Run
) -> None:
    walls: list[Any] = [
        {"type": "Feature", "properties": {"kind": "wall"},
         "geometry": {"type": "LineString", "coordinates": line}}
        for line in ([[0, 0.03], [0, 4], [8, 4], [8, 0], [0, 0]], [[4, 0], [4, 1]],
                     [[4, 1.9], [4, 4]])
    ]  # fmt: skip
    drawn = {
        "type": "Feature", "properties": {"kind": "room", "name": "Shed"},
        "geometry": shapely.geometry.mapping(shapely.box(20, 0, 24, 4)),
    }  # fmt: skip
    site = tmp_path / "site"
    (site / "plans").mkdir(parents=True)
    (site / "site.toml").write_text(
        'schema_version = 1\nname = "Invented"\n'
        '[[floors]]\nname = "ground"\nplan = "plans/g.geojson"\n'
    )
    (site / "plans/g.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": [*walls, drawn]})
    )
    tried = run("edit", "find-rooms", site, "--floor", "ground", "--dry-run")
    lines = tried.out.splitlines()
    assert lines[0] == "found 2 rooms and 1 opening between the walls of floor 'ground'"
    assert lines[1].startswith("repair 1: ")
    assert rooms(site) == {"Shed": 16}
    asked = ("--floor", "ground", "--dry-run", "--refuse", "1")
    refused = run("edit", "find-rooms", site, *asked).out.splitlines()
    assert refused[0].startswith("found 1 room ")  # the other runs out through the leak
    assert refused[1].startswith("look: 15.98 m² between walls lie open to outdoors")
    assert refused[2].startswith("left out: refused")
    assert run("edit", "find-rooms", site, "--floor", "ground", "--refuse", "7").code == 2
    assert run("edit", "find-rooms", site, "--floor", "ground").code == 0
    assert len(rooms(site)) == 3
