"""Two floors drawn side by side in one file are asked about, and only these."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import box, mapping

from hgmap.from_python import import_plan
from hgmap.site.importers.found_plan import FoundPlan, FoundRoom, PlanDoubt
from hgmap.site.importers.side_by_side import with_floors_side_by_side

Run = Callable[..., Any]
FLOOR = [box(0, 0, 4, 6), box(4.2, 0, 10, 6)]
"""Two rooms with a wall between (m), invented."""


def beside(*offsets: tuple[float, float], rooms: list[Any] = FLOOR) -> list[shapely.Geometry]:
    return [translate(room, x, y) for x, y in offsets for room in rooms]


def doubts(rooms: list[shapely.Geometry]) -> tuple[PlanDoubt, ...]:
    plan = FoundPlan(tuple(FoundRoom(one) for one in rooms), (), (), (), ())
    return with_floors_side_by_side(plan).doubts


def test_two_floors_side_by_side_are_one_doubt_at_the_place_between_them() -> None:
    (doubt,) = doubts(beside((0, 0), (15, 0)))
    assert "lie 5.0 m apart at x 12.50, y " in doubt.text
    assert "two floors side by side?" in doubt.text
    assert doubt.place is not None
    assert doubt.place.length == pytest.approx(5)
    assert box(10, 0, 15, 6).covers(doubt.place)


def test_each_further_floor_is_a_doubt_beside_its_neighbour() -> None:
    found = doubts(beside((0, 0), (15, 0), (30, 0), (30, 9)))
    assert len({one.key for one in found}) == 3
    lengths = [one.place.length for one in found if one.place is not None]
    assert lengths == pytest.approx([5, 5, 3])


@pytest.mark.parametrize("other", [
    beside((11.4, 0)),
    beside((15, 0), rooms=FLOOR[1:]),
    beside((15, 0), rooms=[box(0, 0, 4, 6), box(4.2, 0, 12, 6)]),
    beside((15, 0), rooms=[box(0, 0, 4, 8), box(4.2, 0, 10, 8)]),
], ids=["as near as a wall", "one room", "wider", "deeper"])  # fmt: skip
def test_other_things_beside_a_floor_are_no_doubt(other: list[shapely.Geometry]) -> None:
    assert doubts([*FLOOR, *other]) == ()


def test_a_plan_without_rooms_is_no_doubt() -> None:
    assert doubts([]) == ()


@given(st.floats(-500, 500), st.floats(-500, 500), st.permutations(range(6)), st.floats(0.9, 1.1))
def test_neither_the_place_nor_the_order_of_rooms_changes_how_many_floors_are_asked_about(
    x: float, y: float, order: list[int], size: float
) -> None:
    larger = [shapely.affinity.scale(one, size, size, origin=(0, 0)) for one in FLOOR]
    rooms = [*beside((x, y), (x, y + 20)), *beside((x + 40, y), rooms=larger)]
    assert len(doubts([rooms[one] for one in order])) == 2


def write(path: Path, crs: dict[str, Any], offset_m: float) -> Path:
    features = [
        {"type": "Feature", "properties": {"type": "room"}, "geometry": mapping(one)}
        for one in beside((offset_m, offset_m), (offset_m + 15, offset_m))
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", **crs, "features": features}))
    return path


def test_the_import_says_it_with_a_number_and_exit_status_1(tmp_path: Path, run: Run) -> None:
    file = write(tmp_path / "a.geojson", {}, 0)
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground")
    assert got.code == 1
    assert "look 1: two drawings of alike size lie 5.0 m apart" in got.out


def test_alike_houses_on_a_map_are_not_asked_about(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", {}, 500_000)
    report = import_plan(file, tmp_path / "s", "ground", crs="EPSG:25832", dry_run=True)
    assert report.doubts == ()
    assert import_plan(file, tmp_path / "t", "ground", units="metres", dry_run=True).doubts
