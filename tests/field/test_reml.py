"""The restricted likelihood against its textbook form, and the fit against a plain search."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import cdist
from scipy.stats import multivariate_normal

from hgmap.errors import EstimateError
from hgmap.field.models import MODELS, Model, correlation
from hgmap.field.reml import fit_reml, restricted_log_likelihood


@pytest.mark.parametrize("model", MODELS)
@given(st.integers(0, 1000), st.floats(0.5, 30), st.floats(0.05, 0.9))
def test_the_restricted_likelihood_is_that_of_contrasts(
    model: Model, seed: int, range_m: float, share: float
) -> None:
    # Patterson and Thompson (1971): the likelihood of n - 1 orthonormal contrasts A z, which are
    # free of the mean; integrating over it instead adds log n / 2
    random = np.random.default_rng(seed)
    xy, values = random.uniform(0, 20, (7, 2)), random.normal(size=7)
    distance = cdist(xy, xy)
    log_likelihood, sill = restricted_log_likelihood(
        distance, values, model=model, range_m=range_m, nugget_share=share
    )
    shape = (1 - share) * correlation(distance, model=model, range_=range_m) + share * np.eye(7)
    contrasts = np.linalg.svd(np.ones((1, 7)))[2][1:]
    covariance = sill * contrasts @ shape @ contrasts.T
    expected = multivariate_normal(np.zeros(6), covariance).logpdf(contrasts @ values)
    assert log_likelihood == pytest.approx(expected - 0.5 * np.log(7), abs=1e-7)


def test_the_profiled_sill_is_the_best_one() -> None:
    random = np.random.default_rng(2)
    xy, values = random.uniform(0, 20, (12, 2)), random.normal(size=12)
    distance = cdist(xy, xy)
    _, sill = restricted_log_likelihood(
        distance, values, model="exponential", range_m=6.0, nugget_share=0.2
    )
    shape = 0.8 * correlation(distance, model="exponential", range_=6.0) + 0.2 * np.eye(12)
    contrasts = np.linalg.svd(np.ones((1, 12)))[2][1:]

    def likelihood(of: float) -> float:
        covariance = of * contrasts @ shape @ contrasts.T
        return float(multivariate_normal(np.zeros(11), covariance).logpdf(contrasts @ values))

    assert likelihood(sill) > max(likelihood(0.98 * sill), likelihood(1.02 * sill))


@pytest.mark.parametrize("seed", range(5))
def test_the_fit_is_no_worse_than_a_fine_search(seed: int) -> None:
    random = np.random.default_rng(seed)
    xy = random.uniform(0, 20, (25, 2))
    distance = cdist(xy, xy)
    covariance = correlation(distance, model="exponential", range_=10.0) + 0.1 * np.eye(25)
    values = np.linalg.cholesky(covariance) @ random.normal(size=25)
    found = fit_reml(xy, values, model="exponential", range_bounds_m=(0.3, 30.0))
    best = max(
        restricted_log_likelihood(
            distance, values, model="exponential", range_m=range_m, nugget_share=share
        )[0]
        for range_m in np.geomspace(0.3, 30, 40)
        for share in np.linspace(0, 0.95, 30)
    )
    assert found.log_likelihood >= best - 0.01


def test_the_fit_does_not_depend_on_the_units() -> None:
    random = np.random.default_rng(4)
    xy, values = random.uniform(0, 20, (30, 2)), random.normal(size=30).cumsum()
    values = values[np.argsort(np.argsort(xy[:, 0]))]
    one = fit_reml(xy, values, model="exponential", range_bounds_m=(0.3, 30.0))
    other = fit_reml(1000 * xy, 50 * values, model="exponential", range_bounds_m=(300, 30_000))
    assert other.range_m == pytest.approx(1000 * one.range_m, rel=0.01)
    assert other.psill == pytest.approx(2500 * one.psill, rel=0.01)
    assert other.at_bound == one.at_bound


def test_readings_that_do_not_differ_are_refused() -> None:
    xy = np.random.default_rng(1).uniform(0, 9, (9, 2))
    with pytest.raises(EstimateError, match="do not differ"):
        fit_reml(xy, np.full(9, 0.1) + np.linspace(0, 1e-14, 9), model="spherical",
                 range_bounds_m=(0.1, 9))  # fmt: skip


@pytest.mark.parametrize(("slope", "bound"), [(1.0, "range at its upper bound")])
def test_a_trend_ends_at_the_longest_range(slope: float, bound: str) -> None:
    xy = np.random.default_rng(1).uniform(0, 9, (30, 2))
    found = fit_reml(xy, slope * xy[:, 0], model="exponential", range_bounds_m=(0.1, 12))
    assert bound in found.at_bound


def test_pure_noise_ends_at_a_bound() -> None:
    random = np.random.default_rng(11)
    xy, values = random.uniform(0, 9, (80, 2)), random.normal(size=80)
    found = fit_reml(xy, values, model="exponential", range_bounds_m=(0.1, 12))
    assert found.at_bound or found.nugget > 0.5 * (found.nugget + found.psill)
