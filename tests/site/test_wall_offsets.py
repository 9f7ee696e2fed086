"""A tape from two walls is a place, where the walls are plain to see."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate

from hgmap.site.building import Room
from hgmap.site.wall_offsets import offset_place

HALL = Room("H", "Hall", box(0, 0, 6, 4))
ELL = Room("L", "L-shaped", Polygon([(0, 0), (6, 0), (6, 2), (3, 2), (3, 4), (0, 4)]))


@pytest.mark.parametrize(
    ("text", "north_deg", "place"),
    [
        ("left 1.2; bottom 0.8", None, (1.2, 0.8)),
        ("left 1,2; bottom 0,8", None, (1.2, 0.8)),
        ("left 1.2, bottom 0.8", None, (1.2, 0.8)),
        ("right 1; top 1", None, (5, 3)),
        ("N 1.2; E 0.8", 0.0, (5.2, 2.8)),
        ("north 1.2 m; east 0.8 m", 0.0, (5.2, 2.8)),
        ("1.2 m from the north wall and 0.8 m from east wall", 0.0, (5.2, 2.8)),
        ("N 1; E 1", 90.0, (5, 1)),  # north is to the right: the north wall is the right one
        ("S 1; W 1", 12.0, (1, 1)),
    ],
)
def test_offsets_are_from_the_inside_of_the_walls(
    text: str, north_deg: float | None, place: tuple[float, float]
) -> None:
    assert offset_place(text, HALL, north_deg) == pytest.approx(place)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("N 1; E 1", "where north is"),
        ("left 1", "not from two walls"),
        ("left 1; right 1", "opposite ways"),
        ("left 1; left 2", "the same way"),
        ("left 7; top 1", "outside room"),
        ("chimney 1; top 1", "no wall is called"),
        ("left one; top 1", "is not a wall and metres"),
        ("", "not from two walls"),
    ],
)
def test_offsets_that_are_no_place_say_why(text: str, reason: str) -> None:
    assert reason in offset_place(text, HALL, None)


def test_a_room_with_two_walls_that_face_one_way_is_asked_for_coordinates() -> None:
    assert "several walls" in offset_place("left 1; top 1", ELL, None)
    assert offset_place("left 1; bottom 1", ELL, None) == pytest.approx((1, 1))


def test_a_pillar_at_a_wall_is_not_taken_for_the_wall() -> None:
    pillar = Room("P", "P", HALL.polygon.difference(box(2, 3.6, 2.4, 4)))
    assert offset_place("left 1; top 1", pillar, None) == pytest.approx((1, 3))


@given(st.floats(-40, 40), st.floats(0.1, 5.9), st.floats(0.1, 3.9))
def test_the_tape_turns_with_the_room(angle: float, left: float, bottom: float) -> None:
    room = Room("R", "R", rotate(HALL.polygon, angle, origin=(0, 0)))
    found = offset_place(f"left {left:.3f}; bottom {bottom:.3f}", room, None)
    expected = rotate(Point(round(left, 3), round(bottom, 3)), angle, origin=(0, 0))
    assert found == pytest.approx((expected.x, expected.y), abs=1e-6)


@given(st.text(max_size=40))
def test_any_text_is_a_place_or_a_reason(text: str) -> None:
    found = offset_place(text, HALL, 10.0)
    assert isinstance(found, str) or all(map(math.isfinite, found))
