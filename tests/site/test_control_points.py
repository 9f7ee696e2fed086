"""A turn, a scale and a shift are found again from their points, and what speaks against them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.control_points import fit_conformal, looks_mirrored, point_that_stands_out

places = st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))
SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (0.0, 6.0), (4.0, 3.0)]


def moved(
    points: list[tuple[float, float]], scale: float, turn_deg: float, x: float, y: float
) -> list[tuple[float, float]]:
    turn = math.radians(turn_deg)
    return [
        (x + scale * (a * math.cos(turn) - b * math.sin(turn)),
         y + scale * (a * math.sin(turn) + b * math.cos(turn)))
        for a, b in points
    ]  # fmt: skip


@given(
    st.lists(places, min_size=2, max_size=8), st.floats(1e-3, 1e3), st.floats(-180, 180),
    st.floats(-1e7, 1e7), st.floats(-1e7, 1e7),
)  # fmt: skip
def test_what_made_the_points_is_found_again(
    points: list[tuple[float, float]], scale: float, turn: float, x: float, y: float
) -> None:
    assume(np.ptp(np.array(points), axis=0).max() > 1)
    target = moved(points, scale, turn, x, y)
    fit = fit_conformal(points, target)
    assert fit.scale == pytest.approx(scale, rel=1e-5)
    assert math.remainder(fit.turn_deg - turn, 360) == pytest.approx(0, abs=1e-3)
    span = scale * 2e3 + 1
    assert fit.rmse < 1e-8 * (1e7 + span)
    np.testing.assert_allclose(fit.forward(points), target, atol=1e-6 * span)
    np.testing.assert_allclose(
        fit.inverse(fit.forward(points)), points, atol=1e-5 * (1 + 1 / scale)
    )


@given(st.lists(st.tuples(places, places), min_size=3, max_size=8), st.floats(-1, 1))
def test_no_other_turn_or_scale_fits_better(
    pairs: list[tuple[tuple[float, float], tuple[float, float]]], step: float
) -> None:
    source, target = (np.array(one) for one in zip(*pairs, strict=True))
    assume(min(np.ptp(source, axis=0).max(), np.ptp(target, axis=0).max()) > 1)
    fit = fit_conformal(source, target)
    other = math.radians(fit.turn_deg + step)
    turn = np.array([[math.cos(other), -math.sin(other)], [math.sin(other), math.cos(other)]])
    tried = (source - fit.source_centre) @ (fit.scale * (1 + step / 10) * turn.T)
    worse = np.sqrt(np.mean(np.sum((target - fit.target_centre - tried) ** 2, axis=1)))
    assert fit.rmse <= worse + 1e-9


def test_two_points_always_fit_and_three_need_not() -> None:
    assert fit_conformal(SQUARE[:2], [(1, 1), (5, 9)]).rmse < 1e-12
    fit = fit_conformal(SQUARE[:3], [(0, 0), (10, 0), (10, 7)])
    assert fit.freedom == 2
    # by hand: z = (-20/3-2i, 10/3-2i, 10/3+4i), t = (-20/3-7/3i, 10/3-7/3i, 10/3+14/3i);
    # sum|z|^2 = 272/3, sum(conj z t) = 284/3 + 10/3 i
    w = (284 / 3 + 10j / 3) / (272 / 3)
    assert fit.scale == pytest.approx(abs(w))
    assert fit.turn_deg == pytest.approx(math.degrees(math.atan2(w.imag, w.real)))


def test_mirrored_points_are_told() -> None:
    mirrored = moved([(x, -y) for x, y in SQUARE], 2, 30, 5, 5)
    assert looks_mirrored(fit_conformal(SQUARE, mirrored))
    assert not looks_mirrored(fit_conformal(SQUARE, moved(SQUARE, 2, 30, 5, 5)))
    assert not looks_mirrored(fit_conformal(SQUARE[:2], mirrored[:2]))


@pytest.mark.parametrize("wrong", range(5))
def test_a_point_that_the_others_contradict_is_named(wrong: int) -> None:
    target = moved(SQUARE, 0.5, -70, 100, 200)
    x, y = target[wrong]
    target[wrong] = (x + 0.8, y - 0.4)
    assert point_that_stands_out(SQUARE, target, least=0.01) == wrong


def test_no_point_is_named_where_all_agree_or_too_few_are_there() -> None:
    target = moved(SQUARE, 0.5, -70, 100, 200)
    assert point_that_stands_out(SQUARE, target, least=0.01) is None
    assert point_that_stands_out(SQUARE[:3], [(0, 0), (10, 0), (10, 9)], least=0.01) is None


@pytest.mark.parametrize(
    ("source", "target"),
    [
        ([(0, 0)], [(1, 1)]),
        ([(2, 3), (2, 3)], [(0, 0), (1, 1)]),
        ([(0, 0), (1, 1)], [(5, 5), (5, 5)]),
        ([(0, 0), (math.nan, 1)], [(5, 5), (6, 5)]),
        ([(0, 0), (1, 1)], [(5, 5), (math.inf, 5)]),
        ([(0, 0), (1, 1)], [(5, 5)]),
    ],
)
def test_points_that_fix_nothing_are_refused(source: list[object], target: list[object]) -> None:
    with pytest.raises(PlanError):
        fit_conformal(source, target)
