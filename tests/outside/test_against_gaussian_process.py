"""Kriging with errors of its own for each reading, and block averages, by other libraries.

scikit-learn's regressor knows a mean of zero. With its answers to the readings and to a column of
ones, ordinary kriging follows by hand (Cressie 1993, Statistics for Spatial Data, section 3.4).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import gstools  # type: ignore[import-untyped]
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from sklearn.gaussian_process import GaussianProcessRegressor  # type: ignore[import-untyped]
from sklearn.gaussian_process.kernels import RBF, Matern  # type: ignore[import-untyped]

from hgmap.field.average import block_of_polygon, krige_average
from hgmap.field.kriging import krige
from hgmap.field.lognormal import lognormal_kriging
from hgmap.field.models import matern_scale

Floats = NDArray[np.float64]

NUGGET, PSILL, RANGE = 0.2, 0.9, 11.0


class Survey(NamedTuple):
    xy: Floats
    values: Floats
    errors: Floats
    targets: Floats


@pytest.fixture(scope="module")
def survey() -> Survey:
    """40 invented readings with errors of their own on a floor of 30 x 20 m, and 60 places."""
    random = np.random.default_rng(20260314)
    xy = random.uniform((0, 0), (30, 20), (40, 2))
    errors = random.uniform(0, 0.5, 40)
    values = 5 + np.sin(xy[:, 0] / 5) + 0.1 * xy[:, 1] + random.normal(0, 0.3, 40)
    return Survey(xy, values, errors, random.uniform((-2, -2), (32, 22), (60, 2)))


# smoothness and model as krige has them; None is the Gaussian model
SMOOTHNESS = [0.5, 0.8, 1.0, 1.5, 2.5, None]


def ours(smoothness: float | None) -> dict[str, Any]:
    model: dict[str, Any] = {"nugget": NUGGET, "psill": PSILL, "range_": RANGE, "exact": False}
    if smoothness is None:
        return model | {"model": "gaussian"}
    return model | {"model": "matern", "smoothness": smoothness}


def theirs(smoothness: float | None) -> Any:
    """As the docstring of ``krige`` translates the Matern model; RBF is exp(-h² / (2 l²))."""
    if smoothness is None:
        return PSILL * RBF(RANGE / 6**0.5)
    length = RANGE * (2 * smoothness) ** 0.5 / matern_scale(smoothness)
    return PSILL * Matern(length, nu=smoothness)


def ordinary(kernel: Any, survey: Survey, targets: Floats) -> tuple[Floats, Floats]:
    """Mean and error covariance of the noise-free field, from regressions of known mean 0."""

    def regression(values: Floats) -> Any:
        other = GaussianProcessRegressor(kernel, alpha=NUGGET + survey.errors, optimizer=None)
        return other.fit(survey.xy, values)

    of_ones = regression(np.ones(len(survey.xy)))
    total = of_ones.alpha_.sum()
    trend = regression(survey.values).alpha_.sum() / total
    mean, covariance = regression(survey.values - trend).predict(targets, return_cov=True)
    left = 1 - of_ones.predict(targets)
    return trend + mean, covariance + np.outer(left, left) / total


@pytest.mark.parametrize("smoothness", SMOOTHNESS)
def test_scikit_learn_agrees_on_readings_with_their_own_errors(
    survey: Survey, smoothness: float | None
) -> None:
    targets = np.vstack([survey.targets, survey.xy[:5]])
    their_mean, their_covariance = ordinary(theirs(smoothness), survey, targets)
    mean, variance = krige(
        survey.xy, survey.values, targets, error_variance=survey.errors, **ours(smoothness)
    )
    assert mean == pytest.approx(their_mean, abs=1e-8)
    assert variance - NUGGET == pytest.approx(np.diag(their_covariance), abs=1e-8)


@pytest.mark.parametrize("smoothness", SMOOTHNESS)
def test_scikit_learn_agrees_on_room_averages_and_how_their_errors_go_together(
    survey: Survey, smoothness: float | None
) -> None:
    rooms = [
        shapely.box(0, 0, 12, 8),
        shapely.box(12, 0, 30, 8),
        shapely.Polygon([(0, 8), (30, 8), (30, 20), (20, 20), (20, 12), (0, 12)]),
    ]
    blocks = [block_of_polygon(room, step=2) for room in rooms]
    points = np.vstack([block.xy for block in blocks])
    weights = np.zeros((len(blocks), len(points)))
    first = 0
    for row, block in enumerate(blocks):
        weights[row, first : first + len(block.xy)] = block.weights
        first += len(block.xy)
    their_mean, their_covariance = ordinary(theirs(smoothness), survey, points)
    made = krige_average(
        survey.xy, survey.values, blocks, error_variance=survey.errors, **ours(smoothness)
    )
    assert made.mean == pytest.approx(weights @ their_mean, abs=1e-8)
    assert made.covariance == pytest.approx(weights @ their_covariance @ weights.T, abs=1e-8)


def gstools_exponential() -> Any:
    return gstools.Exponential(2, var=PSILL, len_scale=RANGE / 3, nugget=NUGGET)


def test_gstools_agrees_on_readings_with_their_own_errors(survey: Survey) -> None:
    other = gstools.krige.Ordinary(
        gstools_exponential(), survey.xy.T, survey.values, cond_err=NUGGET + survey.errors
    )
    their_mean, their_variance = other(survey.targets.T)
    mean, variance = krige(
        survey.xy, survey.values, survey.targets, error_variance=survey.errors,
        model="exponential", nugget=NUGGET, psill=PSILL, range_=RANGE, exact=False,
    )  # fmt: skip
    assert mean == pytest.approx(their_mean, abs=1e-8)
    assert variance == pytest.approx(their_variance, abs=1e-8)


def test_what_gstools_gives_for_logs_is_the_median(survey: Survey) -> None:
    other = gstools.krige.Ordinary(
        gstools_exponential(), survey.xy.T, survey.values,
        normalizer=gstools.normalizer.LogNormal, exact=False,
    )  # fmt: skip
    their_field, _ = other(survey.targets.T)
    made = lognormal_kriging(
        survey.xy, survey.values, survey.targets,
        model="exponential", nugget=NUGGET, psill=PSILL, range_=RANGE, exact=False,
    )  # fmt: skip
    assert made.median == pytest.approx(their_field, abs=1e-8)
    assert (np.abs(made.mean - their_field) > 0.1).all()
