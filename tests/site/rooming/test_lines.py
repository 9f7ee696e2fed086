"""Walls drawn as lines: one a wall, or one a face."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan
from hgmap.site.rooming import Rooming, rooms_from_walls
from tests.site.rooming.house import assert_rooms, joined, likeness, moved, placed
from tests.site.rooming.lines import GAPS, ROOMS, as_parts, double_lines, inside, single_lines


def assert_doors(plan: FoundPlan, least: float = 0.8) -> None:
    """Each gap of the house is one opening between the rooms that it joins."""
    assert len(plan.openings) == len(GAPS)
    for names, gap in GAPS.items():
        (opening,) = [one for one in plan.openings if one.line.distance(gap.centroid) < 0.2]
        assert opening.line.length == pytest.approx(gap.length, abs=0.02)
        found = {
            name
            for number in joined(plan, opening.line)
            for name, room in ROOMS.items()
            if likeness(room, plan.rooms[number].polygon) > least
        }
        assert found == set(names)


def rules(plan: FoundPlan) -> list[str]:
    return [one.rule for one in plan.repairs]


def test_single_lines_part_rooms_and_their_gaps_are_openings() -> None:
    plan = rooms_from_walls(single_lines(), Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)
    assert_doors(plan)
    assert not plan.repairs


@settings(max_examples=20)
@given(short=st.floats(0.0002, 0.0499))
def test_lines_that_end_short_of_a_wall_are_joined_to_it(short: float) -> None:
    plan = rooms_from_walls(single_lines(short_m=short), Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)
    assert_doors(plan)
    # GEOS buffers are true to a hundredth of their distance, here 0.25 mm: a slip as small may be
    # listed as a slit besides
    slits = ["slit"] if short <= 0.00026 else []
    assert [one for one in rules(plan) if one not in slits] == ["gap"] * 6


def test_lines_that_overshoot_a_wall_make_no_room() -> None:
    parts = [*single_lines(), Part("wall", LineString([(4, 3), (4, 4.03)]), "LINE over")]
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)


def test_a_wall_that_ends_inside_a_room_stays_a_wall() -> None:
    stub = LineString([(7, 2), (7, 0)])
    plan = rooms_from_walls([*single_lines(), Part("wall", stub, "LINE stub")], Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)
    assert any(wall.distance(Point(7, 1)) < 1e-6 for wall in plan.walls)


@pytest.mark.parametrize("jambs", [True, False])
@pytest.mark.parametrize("thickness", [0.06, 0.1, 0.24, 0.36, 0.5, 0.6])
def test_two_faces_are_one_thick_wall(thickness: float, jambs: bool) -> None:
    plan = rooms_from_walls(double_lines(thickness, jambs=jambs), Rooming())
    assert_rooms(plan, inside(thickness), 0.999)
    assert_doors(plan, 0.6)
    assert set(rules(plan)) == {"thick wall"}


@pytest.mark.parametrize("side", [-0.5, 0.5])
@pytest.mark.parametrize("thickness", [0.1, 0.24, 0.36])
def test_a_wall_without_jambs_is_closed_where_its_door_lies_in_one_face(
    thickness: float, side: float
) -> None:
    leaves = [
        Part("door", gap.parallel_offset(side * thickness), f"ARC {n}")
        for n, gap in enumerate(GAPS.values())
    ]
    plan = rooms_from_walls([*double_lines(thickness, jambs=False), *leaves], Rooming())
    assert_rooms(plan, inside(thickness), 0.9)
    assert len(plan.rooms) == len(ROOMS)
    assert_doors(plan, 0.6)
    assert set(rules(plan)) == {"thick wall"}


def test_a_narrow_corridor_stays_a_room() -> None:
    rooms = [box(0, 0, 8, 3), box(0, 3.1, 8, 4.0), box(0, 4.1, 8, 7)]
    walls = box(-0.1, -0.1, 8.1, 7.1).difference(shapely.union_all(rooms))
    plan = rooms_from_walls(as_parts(walls.boundary), Rooming())
    assert_rooms(plan, rooms, 0.999)


def test_two_faces_nearer_than_a_centimetre_are_told_in_millimetres() -> None:
    plan = rooms_from_walls(double_lines(0.004, jambs=True), Rooming(gap_m=0.001))
    told = [one.text for one in plan.repairs if one.rule == "thick wall"]
    assert told
    assert all("two faces 4 mm apart" in one or "two faces 3.9" in one for one in told)


def test_a_shaft_between_single_lines_stays_a_room_and_is_named() -> None:
    rooms = [box(0, 0, 4, 3), box(4, 0, 4.5, 3), box(4.5, 0, 8, 3)]
    lines = shapely.union_all([room.boundary for room in rooms])
    plan = rooms_from_walls(as_parts(lines), Rooming())
    assert_rooms(plan, rooms, 0.999)
    assert any("may be the inside of a wall" in one.text for one in plan.doubts)


@settings(max_examples=10)
@given(
    turn=st.floats(0, 360),
    mirror=st.booleans(),
    x=st.floats(-1e6, 1e6),
    y=st.floats(-1e6, 1e6),
    jambs=st.booleans(),
)
def test_turning_mirroring_and_shifting_double_lines_give_the_same_rooms(
    turn: float, mirror: bool, x: float, y: float, jambs: bool
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    m = -1.0 if mirror else 1.0
    matrix = (m * c, -s, m * s, c, x, y)
    plan = rooms_from_walls(moved(double_lines(0.24, jambs=jambs), matrix), Rooming())
    assert_rooms(plan, [placed(one, matrix) for one in inside(0.24)])
    assert len(plan.openings) == len(GAPS)


@settings(max_examples=10)
@given(turn=st.floats(0, 360), x=st.floats(-1e6, 1e6), short=st.floats(0.0003, 0.0495))
def test_turning_and_shifting_single_lines_give_the_same_rooms(
    turn: float, x: float, short: float
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    matrix = (c, -s, s, c, x, -x)
    plan = rooms_from_walls(moved(single_lines(short_m=short), matrix), Rooming())
    assert_rooms(plan, [placed(one, matrix) for one in ROOMS.values()])
    assert len(plan.openings) == len(GAPS)


def test_a_leaf_an_arc_and_a_point_at_a_gap_are_its_door() -> None:
    arc = LineString(
        [(1 + 0.9 * math.cos(a), 4 + 0.9 * math.sin(a)) for a in [0.1 * n for n in range(16)]]
    )
    doors = [
        Part("door", LineString([(1, 4), (1, 4.9)]), "leaf", id="D7", state="closed"),
        Part("door", arc, "arc"),
        Part("door", Point(7.4, 4.1), "point", id="D8"),
        Part("door", LineString([(2, 6), (2.9, 6)]), "line", id="D9"),
    ]
    plan = rooms_from_walls([*single_lines(), *doors], Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)
    assert_doors(plan)
    assert {"D7", "D8", "D9"} == {one.id for one in plan.openings} - {""}
    (closed,) = [one for one in plan.openings if one.state == "closed"]
    assert closed.id == "D7"


@pytest.mark.parametrize("away", [0.0, 0.3, 0.8])
def test_a_door_beside_its_wall_is_laid_on_it_and_listed(away: float) -> None:
    lines = shapely.union_all([room.boundary for room in ROOMS.values()])
    door = Part("door", Point(8, 4 + away), "a door", id="D1")
    plan = rooms_from_walls([*as_parts(lines), door], Rooming())
    assert_rooms(plan, ROOMS.values(), 0.999)
    (opening,) = plan.openings
    assert opening.line.length == pytest.approx(0.9)
    assert opening.line.centroid.distance(Point(8, 4)) < 0.01
    moves = [one for one in plan.repairs if one.rule == "door moved"]
    assert [one.size_m for one in moves] == ([pytest.approx(away, abs=0.01)] if away else [])
    refused = Rooming(refused=frozenset(one.key for one in moves))
    assert len(rooms_from_walls([*as_parts(lines), door], refused).openings) == 1 - len(moves)


def test_a_door_far_from_every_wall_is_listed_and_not_used() -> None:
    lines = shapely.union_all([room.boundary for room in ROOMS.values()])
    door = Part("door", Point(7, 2), "a lonely door")
    plan = rooms_from_walls([*as_parts(lines), door], Rooming())
    assert not plan.openings
    assert any("a lonely door" in line for line in plan.left_out)


def test_furniture_and_columns_are_left_out_and_may_be_kept() -> None:
    desk, column, core = box(1, 1, 2.6, 1.8), box(6, 1, 6.4, 1.4), box(7, 1, 9, 3)
    parts = [*single_lines(), *as_parts(desk.exterior), *as_parts(column.exterior)]
    parts += as_parts(core.exterior)
    plan = rooms_from_walls(parts, Rooming())
    plant = ROOMS["plant"].difference(core)
    true = [one for name, one in ROOMS.items() if name != "plant"]
    assert_rooms(plan, [*true, plant, core], 0.999)
    furniture = [one for one in plan.repairs if one.rule == "furniture"]
    assert len(furniture) == 2
    assert any("look at it" in one.text for one in furniture)
    kept = rooms_from_walls(parts, Rooming(refused=frozenset(one.key for one in furniture)))
    assert len(kept.rooms) >= 7


def test_a_corner_of_wall_between_three_doors_is_no_furniture() -> None:
    alone = [box(3.9, 1.2, 4.1, 3.1), box(3.9, 2.9, 5.0, 3.1)]
    others = [box(3.9, 0, 4.1, 0.3), box(3.9, 4, 4.1, 6), box(5.9, 2.9, 8, 3.1)]
    ground = box(0, 0, 8, 6)
    faces = shapely.union_all(alone + others).boundary.union(ground.exterior)
    plan = rooms_from_walls(as_parts(faces), Rooming())
    assert "furniture" not in rules(plan)
    assert_rooms(plan, [box(0, 0, 3.9, 6), box(4.1, 0, 8, 2.9), box(4.1, 3.1, 8, 6)], 0.95)
    assert len(plan.openings) == 3


def test_round_walls_lose_nothing_and_a_ring_keeps_its_hole() -> None:
    tower, core = Point(0, 0).buffer(5, quad_segs=64), Point(0, 0).buffer(2, quad_segs=32)
    plan = rooms_from_walls(as_parts(shapely.union_all([tower.exterior, core.exterior])), Rooming())
    assert_rooms(plan, [tower.difference(core), core], 0.9999)
    ring = max(plan.rooms, key=lambda one: float(one.polygon.area)).polygon
    assert len(ring.interiors) == 1
    assert len(ring.exterior.coords) == len(tower.exterior.coords)


@pytest.mark.parametrize("gap", [0.9, 1.8, 2.9])
def test_a_room_that_a_missing_wall_leaves_outdoors_is_named(gap: float) -> None:
    outer = box(0, 0, 10, 9).exterior.difference(box(5, -0.1, 5 + gap, 0.1))
    hall = LineString([(0, 4), (10, 4)])
    # the end of the gap turns: no wall looks across, so nothing is read as a door there
    nibs = [LineString([(x, 0), (x, -0.7)]) for x in (5, 5 + gap)]
    lines = shapely.union_all([outer, hall, *nibs])
    plan = rooms_from_walls(as_parts(shapely.line_merge(lines)), Rooming())
    assert len(plan.rooms) == 1
    (line,) = [one.text for one in plan.doubts if "outdoors" in one.text]
    assert line.startswith("40.")  # m², the room, and a little of the porch


def test_an_inner_corner_of_the_building_is_no_room_left_outdoors() -> None:
    corner = Polygon([(0, 0), (10, 0), (10, 4), (4, 4), (4, 9), (0, 9)])
    plan = rooms_from_walls(as_parts(corner.exterior), Rooming())
    assert len(plan.rooms) == 1
    assert not plan.left_out
    assert not plan.doubts


def test_a_narrow_hole_in_a_wall_is_an_opening_to_look_at() -> None:
    wall = [(4, 0), (4, 2)], [(4, 2.3), (4, 4)]
    lines = [box(0, 0, 9, 4).exterior, *(LineString(one) for one in wall)]
    parts = [part for line in lines for part in as_parts(line)]
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, [box(0, 0, 4, 4), box(4, 0, 9, 4)], 0.999)
    (opening,) = plan.openings
    assert opening.line.length == pytest.approx(0.3)
    assert any("narrower than a door" in one.text for one in plan.doubts)
