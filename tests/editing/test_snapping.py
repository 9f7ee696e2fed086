"""A pointer is drawn to what is near, in a fixed order, and never farther than it reaches."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.snapping import snap
from hgmap.errors import PlanError
from tests.editing.drawn_plans import plans, two_rooms

numbers = st.floats(-3, 15)
places = st.tuples(numbers, numbers)


@given(plans(), places, st.floats(0.01, 1.0), st.lists(places, max_size=4), st.sampled_from(
    [15.0, 45.0, 90.0]))  # fmt: skip
def test_the_place_is_within_reach_and_what_it_says_holds(
    draft: PlanDraft,
    at: tuple[float, float],
    reach: float,
    previous: list[tuple[float, float]],
    step: float,
) -> None:
    found = snap(at, draft, reach, previous, angle_step=step)
    assert math.dist(at, (found.x, found.y)) <= reach + 1e-9
    corners = [tuple(one) for one in draft.edges[:, :2]]
    if len(previous) > 2:
        corners.append(previous[0])
    nearest = min(math.dist(at, one) for one in corners)
    assert (found.what == "corner") == (nearest <= reach)
    if found.what == "corner":
        assert math.dist(at, (found.x, found.y)) == pytest.approx(nearest)
    if found.what == "":
        assert (found.x, found.y) == at
    for guide in found.guides:
        assert guide.coords[-1] == (found.x, found.y)


@given(plans(), places, st.floats(0.01, 30), st.lists(places, min_size=1, max_size=3))
def test_a_typed_length_is_kept_whatever_is_near(
    draft: PlanDraft, at: tuple[float, float], length: float, previous: list[tuple[float, float]]
) -> None:
    found = snap(at, draft, 0.3, previous, length)
    assert found.what == "length"
    assert math.dist(previous[-1], (found.x, found.y)) == pytest.approx(length)


@pytest.mark.parametrize(
    ("at", "previous", "what", "to"),
    [
        ((5.9, 4.95), (), "corner", (6, 5)),
        ((5.9, 2.5), (), "wall", (6, 2.5)),
        ((3.0, 2.0), (), "", (3, 2)),
        ((18.0, 7.1), ((14, 7), (16, 7)), "in line", (18, 7)),
        ((16.1, 9.0), ((14, 7), (16, 7)), "right angle", (16, 9)),
        ((14.1, 9.1), ((14, 7), (16, 7), (16, 9)), "right angle", (14, 9)),
        ((14.1, 7.1), ((14, 7), (16, 7), (16, 9)), "corner", (14, 7)),
        ((3.1, 5.1), ((3, 8),), "wall", (3, 5)),
        ((15.1, 8.0), ((15, 7),), "right angle", (15, 8)),
    ],
)
def test_corners_come_before_walls_and_walls_before_right_angles(
    at: tuple[float, float],
    previous: tuple[tuple[float, float], ...],
    what: str,
    to: tuple[float, float],
) -> None:
    found = snap(at, two_rooms(), 0.2, previous)
    assert (found.what, (found.x, found.y)) == (what, pytest.approx(to))


def test_the_direction_of_a_typed_length_is_drawn_to_a_right_angle() -> None:
    found = snap((16.1, 9), two_rooms(), 0.2, [(14, 7), (16, 7)], 3.5)
    assert (found.x, found.y) == (16, 10.5)
    with pytest.raises(PlanError, match="type a number above 0"):
        snap((16.1, 9), two_rooms(), 0.2, [(14, 7)], -1)


def test_an_empty_plan_has_nothing_to_be_drawn_to() -> None:
    assert snap((1, 2), PlanDraft(), 0.5).what == ""
    with pytest.raises(PlanError):
        snap((math.nan, 2), PlanDraft(), 0.5)
