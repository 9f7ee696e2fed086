"""Drawings with little in them, or with things that are not sound."""

from __future__ import annotations

import pytest
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming import Rooming, rooms_from_walls
from tests.site.rooming.house import DOORS, ROOMS, assert_rooms, thick_walls


def test_nothing_drawn_is_no_room() -> None:
    plan = rooms_from_walls([], Rooming())
    assert not plan.rooms
    assert not plan.openings


@pytest.mark.parametrize(
    "part",
    [
        Part("text", Point(1, 2), "TEXT 1", "Lab"),
        Part("door", Point(1, 2), "a door"),
        Part("wall", LineString([(0, 0), (5, 0)]), "LINE 1"),
        Part("wall", Point(0, 0), "POINT 1"),
        Part("wall", Polygon(), "an empty wall"),
        Part("outline", LineString([(0, 0), (5, 0)]), "LINE 2"),
    ],
    ids=lambda part: part.label,
)
def test_one_part_that_surrounds_nothing_is_no_room(part: Part) -> None:
    assert not rooms_from_walls([part], Rooming()).rooms


def test_an_outline_alone_is_one_room() -> None:
    assert_rooms(
        rooms_from_walls([Part("outline", box(0, 0, 5, 4), "o")], Rooming()), [box(0, 0, 5, 4)]
    )


def test_rooms_without_walls_stay_as_drawn_and_take_doors() -> None:
    rooms = [box(0, 0, 4, 3), box(4.2, 0, 8, 3)]
    parts = [Part("room", one, f"room {n}", f"R{n}") for n, one in enumerate(rooms)]
    parts.append(Part("door", Point(4.1, 1.5), "a door", id="D1"))
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, rooms, 0.9999)
    (opening,) = plan.openings
    assert opening.line.centroid.distance(Point(4.1, 1.5)) < 0.01


def test_a_wall_that_crosses_itself_is_named_and_still_read() -> None:
    bow = Polygon([(1, 1), (3, 3), (3, 1), (1, 3)])
    plan = rooms_from_walls([*thick_walls(), Part("wall", bow, "wall X")], Rooming())
    assert any("wall X" in line and "crosses itself" in line for line in plan.left_out)
    assert len(plan.rooms) == len(ROOMS)


def test_parts_of_several_pieces_are_read_piece_by_piece() -> None:
    parts = thick_walls()
    walls = MultiPolygon([one.geometry for one in parts if one.role == "wall"])
    others = [one for one in parts if one.role != "wall"]
    plan = rooms_from_walls([*others, Part("wall", walls, "all walls")], Rooming())
    assert_rooms(plan, ROOMS.values(), 0.9999)
    assert len(plan.openings) == len(DOORS)


def test_ground_before_the_walls_is_outdoors_unless_somebody_says_otherwise() -> None:
    parts = [one for one in thick_walls() if one.role != "outline"]
    terrace = box(0, -2, 10.4, 9.4)
    parts.append(Part("outline", terrace, "outline"))
    plan = rooms_from_walls(parts, Rooming())
    assert_rooms(plan, ROOMS.values(), 0.9999)
    (repair,) = plan.repairs
    assert repair.rule == "outdoors"
    assert "look at it" in repair.text
    kept = rooms_from_walls(parts, Rooming(refused=frozenset({repair.key})))
    assert_rooms(kept, [*ROOMS.values(), box(0, -2, 10.4, 0)], 0.999)


def test_a_courtyard_is_a_room_since_nothing_tells_it_from_one() -> None:
    ring = box(0, 0, 20, 20).difference(box(6, 6, 14, 14))
    walls = shapely.boundary(ring).buffer(0.1, join_style="mitre")
    plan = rooms_from_walls([Part("wall", walls, "walls")], Rooming())
    assert len(plan.rooms) == 2


def test_the_order_of_the_parts_changes_no_room_and_no_key() -> None:
    parts = thick_walls(gap_m=0.02)
    one, other = (rooms_from_walls(these, Rooming()) for these in (parts, parts[::-1]))
    assert_rooms(other, [room.polygon for room in one.rooms], 0.9999)
    assert {r.key for r in one.repairs} == {r.key for r in other.repairs}
