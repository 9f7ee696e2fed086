"""A frame fitted to points: laws of what it recovers and keeps, and what it refuses."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.errors import SiteError
from hgmap.site.control.fit import fit_points
from hgmap.site.map_frame import MapFrame

FAR = st.floats(-1e7, 1e7)
ANGLES = st.floats(-180, 180)
SCALES = st.floats(0.98, 1.02)
SEEDS = st.integers(0, 2**32 - 1)


def spread(seed: int, n: int, middle: float = 0.0) -> np.ndarray[Any, Any]:
    """Points over a building of 100 m, its corners among them."""
    rng = np.random.default_rng(seed)
    corners = [(-50.0, -30.0), (50.0, -30.0), (50.0, 30.0), (-50.0, 30.0)]
    return np.array([*corners, *rng.uniform(-50, 50, (n, 2))])[: max(n, 2)] + middle


@given(FAR, FAR, ANGLES, SCALES, SEEDS, st.integers(2, 9))
def test_a_conformal_fit_recovers_the_frame_that_made_its_points(
    east: float, north: float, angle: float, scale: float, seed: int, n: int
) -> None:
    frame = MapFrame("", east, north, angle, scale)
    plan = spread(seed, n)
    fit = fit_points("conformal", plan, frame.to_map(plan))
    found = fit.frame("")
    assert math.remainder(found.angle_deg - angle, 360) == pytest.approx(0, abs=1e-7)
    assert found.scale == pytest.approx(scale, abs=1e-9)
    assert (found.origin_x_m, found.origin_y_m) == pytest.approx((east, north), abs=1e-6)
    assert fit.rmse_m < 1e-7


@given(FAR, FAR, ANGLES, SCALES, SCALES, st.floats(-5, 5), SEEDS, st.integers(3, 9))
def test_an_affine_fit_recovers_the_frame_that_made_its_points(
    east: float, north: float, angle: float, scale: float, scale_y: float, skew: float, seed: int,
    n: int,
) -> None:  # fmt: skip
    frame = MapFrame("", east, north, angle, scale, scale_y, skew)
    plan = spread(seed, n)
    found = fit_points("affine", plan, frame.to_map(plan)).frame("")
    assert found.matrix == pytest.approx(frame.matrix, abs=1e-8)
    assert found.skew_deg == pytest.approx(skew, abs=1e-6)
    assert (found.origin_x_m, found.origin_y_m) == pytest.approx((east, north), abs=1e-6)


@given(SEEDS, st.floats(0, 0.5))
def test_a_conformal_frame_keeps_angles_and_ratios(seed: int, noise: float) -> None:
    rng = np.random.default_rng(seed)
    plan = spread(seed, 6)
    on_map = MapFrame("", 6e5, 5.7e6, 71.0).to_map(plan) + rng.normal(0, 1, plan.shape) * noise
    frame = fit_points("conformal", plan, on_map).frame("")
    a, b, c = (complex(*one) for one in rng.uniform(-50, 50, (3, 2)))
    assume(abs(b - a) > 1 and abs(c - a) > 1)
    placed = frame.to_map([(z.real, z.imag) for z in (a, b, c)]) - (6e5, 5.7e6)
    x, y, z = (complex(*one) for one in placed)
    assert (z - x) / (y - x) == pytest.approx((c - a) / (b - a), rel=1e-6)


@given(SEEDS)
def test_no_other_frame_fits_better(seed: int) -> None:
    rng = np.random.default_rng(seed)
    plan = spread(seed, 7)
    on_map = MapFrame("", 10.0, 20.0, 15.0).to_map(plan) + rng.normal(0, 0.05, plan.shape)
    for kind in ("conformal", "affine"):
        fit = fit_points(kind, plan, on_map)  # type: ignore[arg-type]
        nudge = rng.normal(0, 1e-4, (2, 2))
        if kind == "conformal":
            nudge = np.array([[nudge[0, 0], -nudge[1, 0]], [nudge[1, 0], nudge[0, 0]]])
        other = plan @ (fit.matrix + nudge).T + fit.origin + rng.normal(0, 1e-3, 2) - on_map
        assert fit.squares <= (other**2).sum() + 1e-12
        # residuals of a fit with a free origin sum to nothing
        assert fit.residuals.sum(axis=0) == pytest.approx([0, 0], abs=1e-9)


@given(SEEDS)
def test_an_affine_fit_misses_no_more_than_a_conformal_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    plan = spread(seed, 6)
    on_map = MapFrame("", 1e6, 1e6, 40.0).to_map(plan) + rng.normal(0, 0.1, plan.shape)
    assert (
        fit_points("affine", plan, on_map).squares
        <= fit_points("conformal", plan, on_map).squares + 1e-9
    )


@pytest.mark.parametrize("far", [1e6, 1e7, 1e8, 1e9])
def test_coordinates_far_from_nought_cost_no_more_than_their_own_digits(far: float) -> None:
    plan = spread(4, 6, middle=far / 10)
    turn = MapFrame("", 0.0, 0.0, 12.5, 1.0003)
    on_map = turn.to_map(plan - far / 10) + far
    fit = fit_points("conformal", plan, on_map)
    step = float(np.spacing(far))
    assert fit.rmse_m <= 4 * step
    assert fit.frame("").angle_deg == pytest.approx(12.5, abs=math.degrees(8 * step / 50))


@given(SEEDS, st.floats(0, 300))
def test_the_error_of_a_place_is_what_simulated_surveys_scatter_by(
    seed: int, distance: float
) -> None:
    rng = np.random.default_rng(seed)
    plan = spread(1, 5)
    exact = MapFrame("", 0.0, 0.0, 30.0).to_map(plan)
    way = rng.uniform(0, 2 * math.pi)
    place = plan.mean(axis=0) + distance * np.array([math.cos(way), math.sin(way)])
    runs = [
        fit_points("conformal", plan, exact + rng.normal(0, 0.01, plan.shape)) for _ in range(300)
    ]
    scatter = np.std([run.matrix @ place + run.origin for run in runs], axis=0)
    squares = np.mean([run.squares / run.degrees_of_freedom for run in runs])
    said = runs[0].error_at(distance, plan)
    assert said is not None
    assert runs[0].standard_error_m is not None
    # the formula with the true sd in place of one run's estimate of it
    expected = said / runs[0].standard_error_m * math.sqrt(squares)
    assert scatter == pytest.approx([expected, expected], rel=0.25)


@pytest.mark.parametrize(
    ("kind", "n", "said"),
    [
        ("conformal", 0, "0 control points; a fit that is conformal needs 2"),
        ("conformal", 1, "1 control point; a fit that is conformal needs 2"),
        ("affine", 2, "2 control points; a fit that is affine needs 3"),
    ],
)
def test_too_few_points_are_refused(kind: Any, n: int, said: str) -> None:
    points = np.arange(2.0 * n).reshape(n, 2)
    with pytest.raises(SiteError, match=said) as caught:
        fit_points(kind, points, points, where="points.csv")
    assert str(caught.value).startswith("points.csv: ")
    assert caught.value.todo


@pytest.mark.parametrize("which", ["plan", "map"])
def test_two_points_at_one_place_are_named(which: str) -> None:
    apart = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)]
    together = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (10.0, 0.0004)]
    plan, on_map = (together, apart) if which == "plan" else (apart, together)
    with pytest.raises(SiteError, match=f"'B' and 'D' are at one place on the {which}"):
        fit_points("conformal", plan, on_map, names=["A", "B", "C", "D"])


def test_points_on_a_line_carry_a_conformal_fit_and_no_affine_one() -> None:
    plan = np.array([(0.0, 0.0), (10.0, 5.0), (30.0, 15.0)])
    frame = MapFrame("", 100.0, 200.0, 20.0)
    on_map = frame.to_map(plan)
    assert fit_points("conformal", plan, on_map).frame("").angle_deg == pytest.approx(20.0)
    with pytest.raises(SiteError, match="all control points lie on a line"):
        fit_points("affine", plan, on_map)


def test_two_points_fit_exactly_and_leave_nothing_to_check_by() -> None:
    fit = fit_points("conformal", [(0, 0), (10, 0)], [(5.0, 5.0), (5.0, 15.0)])
    assert fit.rmse_m == pytest.approx(0, abs=1e-12)
    assert fit.degrees_of_freedom == 0
    assert fit.standard_error_m is None
    assert fit.error_at(3.0, np.array([(0.0, 0.0), (10.0, 0.0)])) is None
    assert fit.frame("").angle_deg == pytest.approx(90)
