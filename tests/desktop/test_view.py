from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.desktop.scale_bar import bar_length, bar_text
from hgmap.desktop.view import NARROWEST_M, WIDEST_M, View

PLACE = st.floats(-5000.0, 5000.0)
PIXEL = st.floats(-3000.0, 3000.0)
FACTOR = st.floats(1e-3, 1e3)
ANY = st.floats(allow_nan=True, allow_infinity=True)


@st.composite
def views(draw: st.DrawFn) -> View:
    start = View().resized(draw(st.floats(100.0, 4000.0)), draw(st.floats(100.0, 4000.0)))
    return start.centred(draw(PLACE), draw(PLACE)).zoomed(draw(FACTOR))


@given(views(), PIXEL, PIXEL)
def test_there_and_back_is_the_same_pixel(view: View, x: float, y: float) -> None:
    # a place of some kilometres holds about a millionth of a millionth of them
    loose = 1e-11 * view.px_per_m * (abs(view.x) + abs(view.y) + 1.0) + 1e-9
    assert view.to_widget(*view.to_plan(x, y)) == pytest.approx((x, y), abs=loose)


@given(views(), PLACE, PLACE)
def test_back_and_there_is_the_same_place(view: View, x: float, y: float) -> None:
    assert view.to_plan(*view.to_widget(x, y)) == pytest.approx((x, y), abs=1e-8)


@given(views(), FACTOR, PIXEL, PIXEL)
def test_what_is_zoomed_about_stays_where_it_is(
    view: View, factor: float, x: float, y: float
) -> None:
    place = view.to_plan(x, y)
    assert view.zoomed(factor, (x, y)).to_plan(x, y) == pytest.approx(place, abs=1e-7)


@given(views(), PLACE, PLACE, st.floats(0.001, 900.0), st.floats(0.001, 900.0))
def test_a_fit_shows_all_of_it(
    view: View, west: float, south: float, across: float, up: float
) -> None:
    fitted = view.fitted((west, south, west + across, south + up))
    seen = fitted.bounds
    if fitted.px_per_m > max(view.width_px, view.height_px) / WIDEST_M * 1.0001:
        assert seen[0] <= west
        assert seen[1] <= south
        assert seen[2] >= west + across
        assert seen[3] >= south + up
    assert fitted.to_plan(view.width_px / 2.0, view.height_px / 2.0) == pytest.approx(
        (west + across / 2.0, south + up / 2.0), abs=1e-6
    )


@given(views(), PIXEL, PIXEL)
def test_a_pan_moves_the_picture_by_so_many_pixels(view: View, dx: float, dy: float) -> None:
    place = view.to_plan(100.0, 100.0)
    loose = 1e-11 * view.px_per_m * (abs(view.x) + abs(view.y) + 1.0) + 1e-6
    moved = view.panned(dx, dy).to_widget(*place)
    assert moved == pytest.approx((100.0 + dx, 100.0 + dy), abs=loose)


@given(views(), st.lists(st.tuples(ANY, ANY, ANY), max_size=8))
def test_no_number_takes_the_view_beyond_its_limits(
    view: View, steps: list[tuple[float, float, float]]
) -> None:
    for factor, x, y in steps:
        for changed in (
            view.zoomed(factor), view.zoomed(factor, (x, y)), view.panned(x, y),
            view.centred(x, y), view.fitted((x, y, factor, x)),
        ):  # fmt: skip
            view = changed
            assert all(map(math.isfinite, (view.x, view.y, view.px_per_m)))
            shown = max(view.width_px, view.height_px) / view.px_per_m
            assert NARROWEST_M * 0.999 <= shown <= WIDEST_M * 1.001


@given(views(), st.floats(1.0, 4000.0), st.floats(1.0, 4000.0))
def test_another_size_keeps_the_middle(view: View, width: float, height: float) -> None:
    other = view.resized(width, height)
    assert (other.x, other.y) == (view.x, view.y)


@given(st.floats(0.3, 5e6))
def test_the_bar_is_round_and_has_room(px_per_m: float) -> None:
    length, parts = bar_length(px_per_m)
    digits = f"{length:e}".split("e")[0].rstrip("0").rstrip(".")
    assert digits in ("1", "2", "5")
    assert parts in (4, 5)
    wide = length * px_per_m
    # the next round length would not have had room
    assert 180.0 / 2.51 <= wide <= 180.0001


@given(st.floats(0.3, 5e6))
def test_the_bar_says_its_length(px_per_m: float) -> None:
    length = bar_length(px_per_m).length_m
    number, unit = bar_text(length).split(" ")
    assert float(number) * {"m": 1.0, "mm": 0.001}[unit] == pytest.approx(length)
