"""What Python offers beside the command line: to look without writing, to bring files, to check."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import hgmap


def files(folder: Path) -> dict[str, bytes]:
    return {str(one.relative_to(folder)): one.read_bytes()
            for one in folder.rglob("*") if one.is_file()}  # fmt: skip


def test_a_site_that_is_looked_at_is_ruled_as_one_that_is_mapped_and_nothing_is_written(
    make_site: Callable[..., Path], no_sheets: None
) -> None:
    site = make_site()
    before = files(site)
    options = hgmap.MapOptions(cell_m=0.5)
    seen = hgmap.look_at_site(site, options)
    assert files(site) == before
    made = hgmap.map_site(site, options)
    assert seen.out == made.out
    assert (seen.warnings, seen.notes, seen.failed) == (made.warnings, made.notes, made.failed)
    (one,), (two,) = seen.floors, made.floors
    assert one.zones == two.zones
    assert one.resample == two.resample
    assert one.rooms == two.rooms


def test_a_floor_without_a_plan_is_named_and_stops_no_other(
    make_site: Callable[..., Path], make_plan: Callable[..., Any]
) -> None:
    site = make_site(plans={"cellar": None, "ground": make_plan()})
    run = hgmap.look_at_site(site, hgmap.MapOptions(cell_m=1.0))
    assert [one.floor.name for one in run.floors] == ["ground"]
    assert [one.floor for one in run.failed] == ["cellar"]
    assert run.exit_code == 1


def test_a_map_is_found_by_name_and_by_title(make_site: Callable[..., Path]) -> None:
    run = hgmap.look_at_site(make_site(), hgmap.MapOptions(cell_m=1.0))
    (one,) = run.floors
    assert run.floor("ground") is one
    assert run.floor(one.floor.title) is one
    assert run.floor("cellar") is None


def test_plan_and_readings_come_in_as_by_the_command_line(
    tmp_path: Path, make_site: Callable[..., Path]
) -> None:
    plan = make_site("other") / "plans/0.geojson"
    brought = hgmap.import_plan(plan, tmp_path / "new", "ground", units="metres", use="commercial")
    assert (brought.rooms, brought.openings) == (2, 1)
    table = tmp_path / "read.csv"
    table.write_text("where;height;Hg;day\nRoom A;1,5 m;0,25;02/03/2026\n", "utf-8")
    with pytest.raises(hgmap.HgmapError):  # neither the unit nor the day is plain
        hgmap.import_readings(table, tmp_path / "new", round="first", floor="ground")
    done = hgmap.import_readings(
        table, tmp_path / "new", round="first", floor="ground", unit="ug/m3", dates="day-first",
        decimal="comma", columns={"room": "where", "value": "Hg", "date": "day"},
    )  # fmt: skip
    assert (done.rows, done.made_round, done.left_out) == (1, "first", ())
    (reading,) = hgmap.read_site(tmp_path / "new").readings
    assert (reading.room, reading.concentration, reading.height_m) == ("A", 0.25, 1.5)
    assert reading.time is not None
    assert (reading.time.month, reading.time.day) == (3, 2)
    check = hgmap.check_site(tmp_path / "new", "3 ug/m3")
    assert [one.fitness.verdict for one in check.quality] == ["not fit"]
