"""Free floor that runs from room to room through its narrow places."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from shapely import box

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming import Rooming, rooms_from_walls
from tests.site.rooming.house import assert_rooms, joined

PLANS = Path(__file__).parents[4] / "shared" / "data" / "plans"
LEFT, RIGHT = box(0, 0, 4, 4), box(4.2, 0, 9, 4)


def on_floor(shape: shapely.Geometry, **settings: float) -> tuple[int, int]:
    plan = rooms_from_walls([Part("walkable", shape, "floor")], Rooming(**settings))
    return len(plan.rooms), len(plan.openings)


@pytest.mark.parametrize("width", [0.7, 0.9, 1.5, 2.4])
def test_floor_is_parted_at_a_door_in_a_thick_wall(width: float) -> None:
    floor = shapely.union_all([LEFT, RIGHT, box(4, 1, 4.2, 1 + width)])
    plan = rooms_from_walls([Part("walkable", floor, "floor")], Rooming())
    assert_rooms(plan, [LEFT, RIGHT], 0.98)
    (opening,) = plan.openings
    assert opening.line.length == pytest.approx(width, abs=0.01)
    assert len(joined(plan, opening.line)) == 2


def test_a_gap_wider_than_a_door_leaves_one_room() -> None:
    assert on_floor(shapely.union_all([LEFT, RIGHT, box(4, 0.5, 4.2, 3.2)])) == (1, 0)


def test_a_neck_between_slanting_walls_is_cut_across() -> None:
    waist = shapely.Polygon(
        [(3, 0), (4.5, 1.5), (6, 0), (9, 0), (9, 4), (6, 4), (4.5, 2.5), (3, 4)]
    )
    floor = shapely.union_all([box(0, 0, 3, 4), waist])
    plan = rooms_from_walls([Part("walkable", floor, "floor")], Rooming())
    assert len(plan.rooms) == 2
    (opening,) = plan.openings
    assert opening.line.length == pytest.approx(1.0, abs=0.01)
    assert sum(one.polygon.area for one in plan.rooms) == pytest.approx(floor.area, rel=1e-4)


def test_columns_in_a_row_part_no_hall() -> None:
    hall = box(0, 0, 12, 8)
    columns = shapely.union_all([box(x, 3.8, x + 0.4, 4.2) for x in (2, 4, 6, 8, 10)])
    assert on_floor(hall.difference(columns)) == (1, 0)


def test_rows_of_seats_are_no_rooms() -> None:
    rows = shapely.union_all(
        [box(x, y, x + 5, y + 0.4) for x in (0.6, 6.8) for y in (1 + 0.9 * n for n in range(8))]
    )
    assert on_floor(box(0, 0, 12.4, 10).difference(rows))[0] == 1


@pytest.mark.parametrize(
    ("file", "rooms"),
    [
        # looked at on pictures of what is found; in the offices six rooms and a corridor are plain
        ("jps-office_rooms.wkt", 7),
        ("jps-BUW.wkt", 15),
        ("jps-arena.wkt", 1),
        ("horseshoe.wkt", 1),
    ],
)
def test_floors_of_others_have_the_rooms_that_were_looked_at(file: str, rooms: int) -> None:
    if not (PLANS / file).exists():
        pytest.skip("the plans of others lie beside the repository, not in it")
    shapes = shapely.get_parts(shapely.from_wkt((PLANS / file).read_text("utf-8")))
    plan = rooms_from_walls(
        [Part("walkable", one, f"polygon {n}") for n, one in enumerate(shapes)], Rooming()
    )
    assert len(plan.rooms) == rooms
    found = shapely.union_all([one.polygon for one in plan.rooms]).area
    # what is lost are the doorways, which lie within walls
    assert found == pytest.approx(shapely.union_all(shapes).area, rel=0.02)
