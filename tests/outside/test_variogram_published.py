"""The empirical variogram and its fit against published output."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from hgmap.field.models import correlation
from hgmap.field.variogram import empirical_variogram, fit_variogram

# Vignette of R package gstat, "The meuse data set" (PDF, p. 6): pairs, mean distance (m) and
# semivariance of log zinc, 15 bins up to a third of the diagonal of the bounding box.
VIGNETTE = np.array(
    [
        (57, 79.29244, 0.1234479),
        (299, 163.97367, 0.2162185),
        (419, 267.36483, 0.3027859),
        (457, 372.73542, 0.4121448),
        (547, 478.47670, 0.4634128),
        (533, 585.34058, 0.5646933),
        (574, 693.14526, 0.5689683),
        (564, 796.18365, 0.6186769),
        (589, 903.14650, 0.6471479),
        (543, 1011.29177, 0.6915705),
        (500, 1117.86235, 0.7033984),
        (477, 1221.32810, 0.6038770),
        (452, 1329.16407, 0.6517158),
        (457, 1437.25620, 0.5665318),
        (415, 1543.20248, 0.5748227),
    ]
)


def test_the_empirical_variogram_of_meuse_log_zinc(meuse: Any) -> None:
    empirical = empirical_variogram(meuse.xy, meuse.log_zinc)
    assert empirical.pairs.tolist() == VIGNETTE[:, 0].tolist()
    assert empirical.distance_m == pytest.approx(VIGNETTE[:, 1], abs=1e-5)
    assert empirical.gamma == pytest.approx(VIGNETTE[:, 2], abs=1e-7)


def test_the_spherical_fit_of_meuse_log_zinc(meuse: Any) -> None:
    # the same vignette, weights pairs / distance²
    empirical = empirical_variogram(meuse.xy, meuse.log_zinc)
    fitted = fit_variogram(empirical, model="spherical", range_bounds_m=(50.0, 4800.0))
    assert fitted.note == ""
    assert fitted.nugget == pytest.approx(0.05066243, rel=1e-3)
    assert fitted.psill == pytest.approx(0.59060780, rel=1e-3)
    assert fitted.range_m == pytest.approx(897.0209, rel=1e-3)
    # weighted sum of squared errors by R package gstat 2.1.0
    error = fitted.gamma(empirical.distance_m) - empirical.gamma
    weighted = float(np.sum(empirical.pairs / empirical.distance_m**2 * error**2))
    assert weighted == pytest.approx(9.011194e-6, rel=1e-4)


def test_the_practical_range_is_where_five_percent_is_left() -> None:
    # analytic: Isaaks and Srivastava (1989), ch. 12, write the exponential model as exp(-3 h / a)
    at_range = np.array([12.0])
    assert correlation(at_range, model="exponential", range_=12.0)[0] == pytest.approx(np.exp(-3))
    assert correlation(at_range, model="gaussian", range_=12.0)[0] == pytest.approx(np.exp(-3))
    assert correlation(at_range, model="spherical", range_=12.0)[0] == 0.0
