"""Walls drawn as polygons with doors in them: rooms are what the walls leave."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, box

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan
from hgmap.site.importers.refused import without_refused
from hgmap.site.rooming import Rooming, rooms_from_walls
from tests.site.rooming.house import (
    DOORS,
    ROOMS,
    assert_rooms,
    joined,
    likeness,
    moved,
    placed,
    thick_walls,
)


@pytest.mark.parametrize("outline", [True, False])
def test_rooms_are_what_walls_doors_and_windows_leave_of_the_outline(outline: bool) -> None:
    plan = rooms_from_walls(thick_walls(outline=outline), Rooming())
    assert_rooms(plan, ROOMS.values(), 0.9999)
    assert not plan.repairs
    assert not plan.left_out
    assert not plan.doubts


def test_a_door_joins_the_two_rooms_at_its_sides_and_the_front_door_has_one() -> None:
    plan = rooms_from_walls(thick_walls(), Rooming())
    assert [one.id for one in plan.openings] == list(DOORS)
    for opening in plan.openings:
        assert opening.line.length == pytest.approx(0.9)
        rooms = {
            name
            for number in joined(plan, opening.line)
            for name, shape in ROOMS.items()
            if likeness(shape, plan.rooms[number].polygon) > 0.99
        }
        assert rooms == set(DOORS[opening.id][1])


@settings(max_examples=25)
@given(gap=st.floats(0.0002, 0.0499))
def test_hairline_gaps_of_any_width_change_no_number_of_rooms(gap: float) -> None:
    plan = rooms_from_walls(thick_walls(gap_m=gap), Rooming())
    assert_rooms(plan, ROOMS.values())
    gaps = [one for one in plan.repairs if one.rule == "gap"]
    # two gaps on each of the hall's long walls and one a wall between: whichever parts two rooms
    assert len(gaps) == 5
    assert all(one.size_m == pytest.approx(gap, abs=2e-4) for one in gaps)
    assert len({one.key for one in gaps}) == len(gaps)


def test_a_wider_gap_than_the_tolerance_is_not_closed() -> None:
    plan = rooms_from_walls(thick_walls(gap_m=0.04), Rooming(gap_m=0.02))
    assert not [one for one in plan.repairs if one.rule == "gap"]


def test_a_refused_gap_lets_the_two_rooms_run_together() -> None:
    parts = thick_walls(gap_m=0.01)
    first = rooms_from_walls(parts, Rooming())
    for repair in first.repairs:
        if repair.rule != "gap":
            continue
        plan = rooms_from_walls(parts, Rooming(refused=frozenset({repair.key})))
        assert len(plan.rooms) == len(first.rooms) - 1
        assert repair.key not in {one.key for one in plan.repairs}
        assert any("refused" in line for line in plan.left_out)
        kept = {one.key for one in first.repairs if one.rule == "gap"} - {repair.key}
        assert kept == {one.key for one in plan.repairs if one.rule == "gap"}


def test_every_repair_that_is_listed_may_be_refused() -> None:
    parts = thick_walls(gap_m=0.03)  # leaves slits between the walls
    first = rooms_from_walls(parts, Rooming())
    assert "slit" in {one.rule for one in first.repairs}
    for repair in first.repairs:
        plan = rooms_from_walls(parts, Rooming(refused=frozenset({repair.key})))
        assert repair.key not in {one.key for one in plan.repairs}
        assert any(line.startswith("refused") for line in plan.left_out)


def test_repairs_keep_their_numbers_when_others_are_refused() -> None:
    parts = thick_walls(gap_m=0.03)

    def numbers(*refused: int) -> dict[str, int]:
        def find(keys: frozenset[str]) -> FoundPlan:
            return rooms_from_walls(parts, Rooming(refused=keys))

        return {one.key: one.number for one in without_refused(find, refused).repairs}

    first = numbers()
    assert list(first.values()) == list(range(1, len(first) + 1))
    again = numbers(2)
    assert 2 not in again.values()
    assert all(first.get(key, number) == number for key, number in again.items())


@settings(max_examples=15)
@given(
    turn=st.floats(0, 360),
    mirror=st.booleans(),
    x=st.floats(-1e6, 1e6),
    y=st.floats(-1e6, 1e6),
)
def test_turning_mirroring_and_shifting_give_the_same_rooms(
    turn: float, mirror: bool, x: float, y: float
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    m = -1.0 if mirror else 1.0
    matrix = (m * c, -s, m * s, c, x, y)
    plan = rooms_from_walls(moved(thick_walls(gap_m=0.02), matrix), Rooming())
    assert_rooms(plan, [placed(one, matrix) for one in ROOMS.values()])
    assert sum(one.rule == "gap" for one in plan.repairs) == 5
    assert len(plan.openings) == len(DOORS)


def test_two_leaves_side_by_side_are_one_opening() -> None:
    parts = [one for one in thick_walls() if one.label != "lab door"]
    parts += [
        Part("door", box(1.0, 4.2, 1.45, 4.4), "left leaf"),
        Part("door", box(1.45, 4.2, 1.9, 4.4), "right leaf"),
    ]
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, ROOMS.values())
    assert len(plan.openings) == len(DOORS)
    (double,) = [one for one in plan.openings if "left leaf" in one.label]
    assert double.line.length == pytest.approx(0.9)


def test_a_drawn_room_names_the_space_that_it_nearly_fills() -> None:
    parts = [*thick_walls(), Part("room", box(0.25, 0.25, 4.15, 4.15), "room 1", "Lab", "L1")]
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, ROOMS.values(), 0.9999)
    (lab,) = [one for one in plan.rooms if one.name]
    assert (lab.name, lab.id) == ("Lab", "L1")
    assert likeness(lab.polygon, ROOMS["lab"]) > 0.9999


def test_a_drawn_room_in_a_larger_space_is_cut_out_and_its_open_side_is_an_opening() -> None:
    stairs = box(8.2, 0.2, 10.2, 2.2)
    plan = rooms_from_walls([*thick_walls(), Part("room", stairs, "room 1", "stairs")], Rooming())
    true = [one for name, one in ROOMS.items() if name != "plant"]
    assert_rooms(plan, [*true, stairs, ROOMS["plant"].difference(stairs)], 0.999)
    (side,) = [one for one in plan.openings if "without a wall" in one.label]
    assert side.line.length == pytest.approx(4.0, abs=0.1)
    assert any("no wall along a side of 3.98" in one.text for one in plan.doubts)


def test_texts_name_the_rooms_they_stand_in_number_before_name() -> None:
    parts = [
        *thick_walls(),
        Part("text", Point(2.4, 2.0), "TEXT 1", "Laboratory"),
        Part("text", Point(2.0, 2.4), "TEXT 2", "0.01"),
        Part("text", Point(-3.0, 2.4), "TEXT 3", "Scale 1:50"),
    ]
    plan = rooms_from_walls(parts, Rooming())
    assert [one.name for one in plan.rooms if one.name] == ["0.01 Laboratory"]
    assert any("'Scale 1:50' stands in no room" in line for line in plan.left_out)


def test_walls_are_handed_on_and_leave_the_doors_open() -> None:
    plan = rooms_from_walls(thick_walls(), Rooming())
    walls = shapely.union_all(list(plan.walls))
    for opening in plan.openings:
        middle = opening.line.interpolate(0.5, normalized=True)
        assert walls.distance(middle) > 0.09


def two_rooms_and_a_broken_wall(gap_m: float) -> list[Part]:
    """Draw two rooms whose outer wall is broken, and whose inner wall ends corner to corner."""
    outer = box(0, 0, 8, 4).difference(
        shapely.union_all([box(0.2, 0.2, 3.9, 3.8), box(4.1, 0.2, 7.8, 3.8)])
    )
    aside = gap_m / math.sqrt(2)
    outer = outer.difference(box(1, 0, 1 + gap_m, 0.2))
    post = box(3.9 - 0.2 - aside, 3.8 - 0.2 - aside, 3.9 - aside, 3.8 - aside)
    outer = outer.difference(box(3.9, 3.3, 4.1, 3.8)).union(post)
    inner = shapely.Polygon([(3.9, 3.3), (4.1, 3.3), (3.9 - aside, 3.6 - aside), (3.7, 3.4)])
    walls = shapely.union_all([outer, inner])
    return [Part("wall", one, f"wall {n}") for n, one in enumerate(shapely.get_parts(walls))]


@pytest.mark.parametrize("gap", [0.003, 0.02, 0.049])
def test_gaps_to_outdoors_and_from_corner_to_corner_are_closed_and_refused_let_air_out(
    gap: float,
) -> None:
    parts = two_rooms_and_a_broken_wall(gap)
    plan = rooms_from_walls(parts, Rooming())
    gaps = [one for one in plan.repairs if one.rule == "gap"]
    assert len(plan.rooms) == 2
    outer = [one for one in gaps if one.place.centroid.y < 0.3]
    between = [one for one in gaps if one.place.centroid.y > 3]
    assert len(outer) == 1
    assert between
    let_out = rooms_from_walls(parts, Rooming(refused=frozenset({outer[0].key})))
    assert len(let_out.rooms) == 1
    run_together = rooms_from_walls(parts, Rooming(refused=frozenset({between[0].key})))
    assert len(run_together.rooms) == 1


def test_a_door_drawn_beside_its_wall_is_laid_on_it() -> None:
    parts = [one for one in thick_walls() if one.label != "lab door"]
    parts += [
        Part("wall", box(1.0, 4.2, 1.9, 4.4), "the wall where it should be"),
        Part("door", box(1.0, 3.6, 1.9, 3.8), "lab door", id="lab door"),
    ]
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, ROOMS.values(), 0.9999)
    (moved_door,) = [one for one in plan.repairs if one.rule == "door moved"]
    assert moved_door.size_m == pytest.approx(0.5, abs=0.02)
    (opening,) = [one for one in plan.openings if one.id == "lab door"]
    assert len(joined(plan, opening.line)) == 2
    assert opening.line.centroid.y == pytest.approx(4.3, abs=0.01)


@pytest.mark.parametrize("beside_m", [0.6, 1.0, 2.0])
def test_a_piece_of_wall_between_two_doors_parts_rooms_and_a_column_does_not(
    beside_m: float,
) -> None:
    def rooms(pier: shapely.Geometry) -> int:
        shell = box(-0.2, -0.2, 10.2, 6.2).difference(box(0, 0, 10, 6))
        ends = [box(-0.1, 2.9, beside_m, 3.1), box(beside_m + 2.7, 2.9, 10.1, 3.1)]
        walls = [shapely.union_all([shell, *ends]), pier]
        parts = [Part("wall", one, f"wall {n}") for n, one in enumerate(walls)]
        return len(rooms_from_walls(parts, Rooming()).rooms)

    assert rooms(box(beside_m + 0.9, 2.9, beside_m + 1.8, 3.1)) == 2
    # a column off the line of the wall is no door's other side
    assert rooms(box(beside_m + 1.2, 3.6, beside_m + 1.6, 4.0)) == 1
