"""Shortest walks on plans drawn in many ways: doors, walls, columns, places on the edge."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, affinity, box

from hgmap.errors import EstimateError
from hgmap.field.paths import Walks
from hgmap.site.building import Floor, Opening, OpeningState, Room


def two_rooms(
    state: OpeningState = "open", *, gap: float = 0.0, walls: tuple[LineString, ...] = ()
) -> Floor:
    x = 5 + 0.5 * gap
    return Floor(
        "g",
        "Ground",
        (Room("a", "A", box(0, 0, 5, 10)), Room("b", "B", box(5 + gap, 0, 10, 10))),
        walls,
        (Opening("D", LineString([(x, 4), (x, 5)]), state, ("a", "b")),),
    )


def one_room(*walls: LineString, openings: tuple[Opening, ...] = ()) -> Floor:
    return Floor("g", "Ground", (Room("a", "A", box(0, 0, 10, 10)),), walls, openings)


def walk(floor: Floor, a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(Walks.over(floor).distances(np.array([a]), None, np.array([b]), None)[0, 0])


def test_a_sealed_door_is_not_passed() -> None:
    assert np.isinf(walk(two_rooms("sealed"), (2, 2), (8, 7)))
    assert Walks.over(two_rooms("sealed")).route((2, 2), None, (8, 7), None) is None


def test_a_closed_door_is_passed_and_named() -> None:
    route = Walks.over(two_rooms("closed")).route((2, 2), 0, (8, 7), 1)
    assert route is not None
    assert route.openings == route.closed == ("D",)
    assert route.rooms == ("a", "b")


def test_rooms_that_share_an_edge_but_no_opening_are_apart() -> None:
    floor = Floor("g", "G", two_rooms().rooms)
    assert np.isinf(walk(floor, (4.9, 5), (5.1, 5)))


def test_a_wall_line_inside_a_room_is_walked_round() -> None:
    floor = one_room(LineString([(5, 0), (5, 8)]))
    assert walk(floor, (4, 8), (6, 8)) == pytest.approx(2.0, abs=1e-6)
    assert walk(floor, (4, 2), (6, 2)) == pytest.approx(2 * np.hypot(1, 6), abs=1e-6)


def test_a_free_standing_corner_of_walls_is_walked_round_the_shorter_side() -> None:
    floor = one_room(LineString([(4, 7), (4, 4), (9, 4)]))
    expected = np.hypot(1, 2) + np.hypot(1, 2)
    assert walk(floor, (3, 5), (5, 5)) == pytest.approx(expected, abs=1e-6)


def test_a_wall_drawn_a_little_short_of_the_edge_leaves_no_gap() -> None:
    floor = one_room(LineString([(5, 0.009), (5, 9.995)]))
    assert np.isinf(walk(floor, (4, 2), (6, 2)))


def test_a_wall_drawn_well_short_of_the_edge_leaves_a_gap() -> None:
    floor = one_room(LineString([(5, 0.5), (5, 10)]))
    assert walk(floor, (4, 0.25), (6, 0.25)) == pytest.approx(2.0)


def test_an_opening_in_a_wall_inside_a_room_is_passed_and_named() -> None:
    door = Opening("gate", LineString([(5, 4), (5, 5)]), "closed", ("a",))
    wall = LineString([(5, 0), (5, 10)])
    route = Walks.over(one_room(wall, openings=(door,))).route((2, 2), None, (8, 7), None)
    assert route is not None
    assert route.length_m == pytest.approx(np.hypot(6, 5), abs=1e-6)
    assert route.openings == route.closed == ("gate",)


def test_a_sealed_opening_in_a_gap_of_a_wall_blocks() -> None:
    door = Opening("gate", LineString([(5, 4), (5, 5)]), "sealed", ("a",))
    walls = (LineString([(5, 0), (5, 4)]), LineString([(5, 5), (5, 10)]))
    assert np.isinf(walk(one_room(*walls, openings=(door,)), (2, 2), (8, 7)))


def test_walls_drawn_along_the_edges_and_faces_do_not_block_a_door() -> None:
    along = (LineString([(5, 0), (5, 10)]), LineString([(5.3, 0), (5.3, 10)]))
    assert walk(two_rooms(walls=along[:1]), (2, 2), (8, 7)) == pytest.approx(np.hypot(6, 5))
    assert walk(two_rooms(gap=0.3, walls=along), (2, 1), (8, 2)) == pytest.approx(
        np.hypot(3, 3) + 0.3 + np.hypot(2.7, 2)
    )


def test_a_column_is_walked_round() -> None:
    room = box(0, 0, 10, 10).difference(box(4, 4, 6, 6))
    floor = Floor("g", "G", (Room("a", "A", room),))
    assert walk(floor, (2, 5), (8, 5)) == pytest.approx(2 * np.hypot(2, 1) + 2)


def test_a_room_inside_another_is_entered_by_its_door() -> None:
    inner, outer = box(4, 4, 6, 6), box(0, 0, 10, 10).difference(box(4, 4, 6, 6))
    floor = Floor(
        "g",
        "G",
        (Room("i", "I", inner), Room("o", "O", outer)),
        openings=(Opening("D", LineString([(6, 4.5), (6, 5.5)]), "open", ("i", "o")),),
    )
    assert walk(floor, (5, 5), (8, 5)) == pytest.approx(3.0)
    assert walk(floor, (5, 5), (2, 5)) == pytest.approx(np.hypot(1, 0.5) + 0.5 + 2 + np.hypot(2, 1))


@pytest.mark.parametrize("angle", [0.3, 45.0, 123.0])
@pytest.mark.parametrize("gap", [0.0, 0.3])
def test_a_turned_and_moved_plan_keeps_its_lengths(angle: float, gap: float) -> None:
    floor = two_rooms(gap=gap)

    def turned(shape: shapely.Geometry) -> shapely.Geometry:
        return affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), 5e5, 4e6)

    moved = Floor(
        "g",
        "G",
        tuple(Room(room.id, room.name, turned(room.polygon)) for room in floor.rooms),
        openings=tuple(
            Opening(one.id, turned(one.line), one.state, one.rooms) for one in floor.openings
        ),
    )
    xy = np.array([(2, 1), (1, 8), (2, 2), (8, 2), (9, 8), (8, 7)], dtype=float)
    there = shapely.get_coordinates([turned(shapely.Point(at)) for at in xy])
    np.testing.assert_allclose(
        Walks.over(moved).distances(there, None, there, None),
        Walks.over(floor).distances(xy, None, xy, None),
        atol=2e-8,
    )


@pytest.mark.parametrize("line", [[(5.15, 4), (5.15, 5)], [(5, 4), (5, 5)], [(5.3, 5), (5.3, 4)]])
def test_a_door_of_a_thick_wall_may_be_drawn_on_either_face(
    line: list[tuple[float, float]],
) -> None:
    rooms = two_rooms(gap=0.3).rooms
    floor = Floor("g", "G", rooms, openings=(Opening("D", LineString(line), "open", ("a", "b")),))
    assert walk(floor, (2, 1), (8, 2)) == pytest.approx(7.902700, abs=1e-6)


def test_rooms_drawn_a_few_millimetres_apart_or_over_each_other_are_joined() -> None:
    for gap in (-0.004, 0.004):
        length = walk(two_rooms(gap=gap), (2, 2), (8, 7))
        assert length == pytest.approx(np.hypot(6, 5), abs=0.01)


def test_a_door_drawn_across_the_wall_still_joins() -> None:
    rooms = two_rooms(gap=0.3).rooms
    line = LineString([(4.9, 4.5), (5.4, 4.5)])
    floor = Floor("g", "G", rooms, openings=(Opening("D", line, "open", ("a", "b")),))
    assert walk(floor, (4, 4.5), (6, 4.5)) == pytest.approx(2.0)


def test_two_doors_that_overlap_on_one_wall_are_both_used() -> None:
    lines = [LineString([(5, 2), (5, 4)]), LineString([(5, 3), (5, 6)])]
    floor = Floor(
        "g", "G", two_rooms().rooms,
        openings=tuple(Opening(f"D{k}", line, "open", ("a", "b")) for k, line in enumerate(lines)),
    )  # fmt: skip
    assert walk(floor, (4, 2.5), (6, 2.5)) == pytest.approx(2.0)
    assert walk(floor, (4, 5.5), (6, 5.5)) == pytest.approx(2.0)


def test_a_place_on_a_wall_in_a_doorway_or_just_outside_belongs_to_its_own_room() -> None:
    walks = Walks.over(two_rooms(gap=0.3))
    places = np.array([(5.0, 8.0), (5.008, 8.0), (5.1, 4.5)])
    room = np.zeros(3, dtype=np.int64)
    in_a = walks.distances(places, room, np.array([(4.0, 8.0), (4.0, 4.5)]), None)
    assert in_a[0, 0] == pytest.approx(1.0)
    assert in_a[1, 0] == pytest.approx(1.0)  # moved onto the edge of its room
    assert in_a[2, 1] == pytest.approx(1.1)  # stays in the doorway
    in_b = walks.distances(places[:1], room[:1] + 1, np.array([(6.0, 8.0)]), None)
    assert in_b[0, 0] == pytest.approx(0.7)


def test_the_two_sides_of_a_thin_wall_are_far_apart() -> None:
    walks = Walks.over(two_rooms())
    at = np.array([(5.0, 9.0), (5.0, 9.0)])
    length = walks.distances(at[:1], np.array([0]), at[1:], np.array([1]))
    assert length[0, 0] == pytest.approx(8.0)


def test_a_place_that_is_not_a_number_is_named() -> None:
    with pytest.raises(EstimateError, match="row 1"):
        Walks.over(two_rooms()).distances(
            np.array([(1, 1), (np.nan, 1)]), None, np.zeros((1, 2)), None
        )


def test_a_room_with_a_spike_and_repeated_corners_is_walked() -> None:
    ring = [(0, 0), (5, 0), (5, 0), (10, 0), (10, 10), (5, 10), (5, 3), (5, 10), (0, 10)]
    polygon = Polygon(ring).buffer(0)
    floor = Floor("g", "G", (Room("a", "A", polygon),))
    assert walk(floor, (1, 1), (9, 9)) == pytest.approx(np.hypot(8, 8))
