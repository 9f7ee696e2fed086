"""A letter and a number are a place, by the grid that was chalked on the floor."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.building import NamedGrid
from hgmap.site.grids import grid_place

PLAIN = NamedGrid("", 10.0, 20.0, 2.0, 3.0)


@pytest.mark.parametrize(
    ("text", "place"),
    [("A1", (10, 20)), ("C4", (14, 29)), ("c 4", (14, 29)), ("C-4", (14, 29)), ("Z1", (60, 20)),
     ("AA1", (62, 20)), ("AB2", (64, 23))],
)  # fmt: skip
def test_letters_run_along_the_first_axis_and_numbers_along_the_second(
    text: str, place: tuple[float, float]
) -> None:
    assert grid_place(text, [PLAIN]) == pytest.approx(place)


def test_a_grid_may_be_turned_and_may_name_the_middle_of_its_squares() -> None:
    turned = NamedGrid("", 0.0, 0.0, 2.0, 3.0, angle_deg=90.0)
    assert grid_place("B2", [turned]) == pytest.approx((-3.0, 2.0))
    middle = NamedGrid("", 0.0, 0.0, 2.0, 3.0, point="centre")
    assert grid_place("A1", [middle]) == pytest.approx((1.0, 1.5))


def test_of_several_grids_one_has_to_be_named() -> None:
    hall, yard = NamedGrid("hall", 0, 0, 1, 1), NamedGrid("Yard 2", 5, 5, 1, 1)
    assert "which grid?" in grid_place("B2", [hall, yard])
    assert grid_place("hall: B2", [hall, yard]) == (1.0, 1.0)
    assert grid_place("yard 2/B2", [hall, yard]) == (6.0, 6.0)
    assert "which grid?" in grid_place("lobby: B2", [hall, yard])


@pytest.mark.parametrize("text", ["", "4C", "C", "C0", "CCC4", "C4.5", "=C4"])
def test_what_is_no_grid_place_says_how_one_is_written(text: str) -> None:
    assert "as C4" in grid_place(text, [PLAIN])


def test_a_floor_without_a_grid_says_where_to_add_one() -> None:
    assert "[[floors.grids]]" in grid_place("C4", [])


@given(
    st.floats(-100, 100), st.floats(-100, 100), st.floats(0.1, 10), st.floats(-360, 360),
    st.integers(0, 25), st.integers(1, 99),
)  # fmt: skip
def test_neighbours_are_one_pitch_apart_however_the_grid_lies(
    x: float, y: float, pitch: float, angle: float, letter: int, number: int
) -> None:
    grid = NamedGrid("", x, y, pitch, pitch, angle)
    here = grid_place(f"{chr(65 + letter)}{number}", [grid])
    there = grid_place(f"{chr(65 + letter)}{number + 1}", [grid])
    assert math.dist(here, there) == pytest.approx(pitch, abs=1e-9)


@given(st.text(max_size=30))
def test_any_text_is_a_place_or_a_reason(text: str) -> None:
    found = grid_place(text, [PLAIN])
    assert isinstance(found, str) or all(map(math.isfinite, found))
