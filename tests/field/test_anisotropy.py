"""A range that depends on direction: what the two numbers mean."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pykrige.ok import OrdinaryKriging

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.kriging import krige, krige_grid

MODEL: dict[str, Any] = {"model": "exponential", "nugget": 0.1, "psill": 1.0, "range_": 9.0}


def survey(n: int = 25) -> tuple[Any, Any, Any]:
    random = np.random.default_rng(7)
    return (
        random.uniform((0, 0), (30, 20), (n, 2)),
        random.normal(size=n),
        random.uniform((0, 0), (30, 20), (40, 2)),
    )


def test_air_spreads_farthest_along_the_angle() -> None:
    # one dirty reading among clean ones far off: the estimate along 30° stays above that across
    xy = [(0.0, 0.0), (80.0, 0.0), (-80.0, 0.0), (0.0, 80.0), (0.0, -80.0)]
    angle = np.radians(30)
    along = 4 * np.array([np.cos(angle), np.sin(angle)])
    across = 4 * np.array([-np.sin(angle), np.cos(angle)])
    mean, _ = krige(
        xy, [9.0, 1, 1, 1, 1], [along, -along, across, -across],
        anisotropy=Anisotropy(ratio=0.2, angle_deg=30), **MODEL,
    )  # fmt: skip
    assert mean[0] == pytest.approx(mean[1], abs=0.1)
    assert mean[2] == pytest.approx(mean[3], abs=0.1)
    assert mean[:2].min() > mean[2:].max() + 1


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0, 135.0, -20.0])
def test_pykrige_measures_its_angle_in_the_same_direction(angle_deg: float) -> None:
    xy, values, targets = survey()
    # PyKrige stretches the short axis: its scaling is one over our ratio
    other = OrdinaryKriging(
        *xy.T, values, variogram_model="exponential",
        variogram_parameters={"psill": 1.0, "range": 9.0, "nugget": 0.1},
        anisotropy_scaling=1 / 0.4, anisotropy_angle=angle_deg,
    )  # fmt: skip
    their_mean, their_variance = other.execute("points", *targets.T)
    mean, variance = krige(xy, values, targets, anisotropy=Anisotropy(0.4, angle_deg), **MODEL)
    assert mean == pytest.approx(np.asarray(their_mean), abs=1e-8)
    assert variance == pytest.approx(np.asarray(their_variance), abs=1e-8)


@given(st.floats(0.01, 1), st.floats(-360, 360), st.floats(-1000, 1000))
def test_plan_and_ellipse_can_be_turned_together(
    ratio: float, angle_deg: float, turn_deg: float
) -> None:
    xy, values, targets = survey(8)
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turn = np.array([[cosine, sine], [-sine, cosine]])
    here = krige(xy, values, targets, anisotropy=Anisotropy(ratio, angle_deg), **MODEL)
    turned = krige(
        xy @ turn, values, targets @ turn,
        anisotropy=Anisotropy(ratio, angle_deg + turn_deg), **MODEL,
    )  # fmt: skip
    assert turned[0] == pytest.approx(here[0], abs=1e-8)
    assert turned[1] == pytest.approx(here[1], abs=1e-8)


@given(st.floats(-360, 360))
def test_a_ratio_of_1_has_no_direction(angle_deg: float) -> None:
    xy, values, targets = survey(8)
    plain = krige(xy, values, targets, **MODEL)
    same = krige(xy, values, targets, anisotropy=Anisotropy(1.0, angle_deg), **MODEL)
    assert same[0] == pytest.approx(plain[0], abs=1e-9)
    assert same[1] == pytest.approx(plain[1], abs=1e-9)


def test_a_direction_and_its_opposite_are_the_same() -> None:
    xy, values, targets = survey()
    one = krige(xy, values, targets, anisotropy=Anisotropy(0.3, 20), **MODEL)
    other = krige(xy, values, targets, anisotropy=Anisotropy(0.3, 200), **MODEL)
    assert other[0] == pytest.approx(one[0], abs=1e-9)


def test_grid_and_points_agree_on_the_direction() -> None:
    xy, values, _ = survey()
    gx, gy = np.linspace(0, 30, 7), np.linspace(0, 20, 5)
    places = np.column_stack([np.tile(gx, 5), np.repeat(gy, 7)])
    ellipse = Anisotropy(0.3, 60)
    points = krige(xy, values, places, anisotropy=ellipse, **MODEL)
    grid = krige_grid(xy, values, gx, gy, anisotropy=ellipse, **MODEL)
    assert grid[0] == pytest.approx(points[0], abs=1e-10)


@pytest.mark.parametrize("ratio", [0, -1, 1.01, 1e-4, np.nan, np.inf])
def test_a_ratio_that_is_no_share_is_refused(ratio: float) -> None:
    with pytest.raises(EstimateError, match=r"ratio of the ranges is .*; give the shorter over"):
        Anisotropy(ratio)


def test_an_angle_that_is_no_number_is_refused() -> None:
    with pytest.raises(EstimateError, match="angle_deg is nan"):
        Anisotropy(0.5, np.nan)
