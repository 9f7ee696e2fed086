"""Median and mean of a concentration from the mean and variance of its log."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import EstimateError
from hgmap.field.backtransform import mean_from_log, mean_from_log_ordinary, median_from_log

LOGS, VARIANCES = st.floats(-20, 20), st.floats(0, 10)


@given(LOGS, VARIANCES)
def test_the_median_is_never_above_the_mean(log: float, variance: float) -> None:
    assert median_from_log(log) <= mean_from_log(log, variance)


@given(LOGS, VARIANCES)
def test_the_mean_over_the_median_squared_is_one_and_the_squared_variation(
    log: float, variance: float
) -> None:
    # Aitchison and Brown (1957): the squared coefficient of variation is exp(variance) - 1, so
    # the second moment is both exp(2 log + 2 variance) and mean² (1 + variation²)
    mean = mean_from_log(log, variance)
    second_moment = mean_from_log(2 * log, 4 * variance)
    assert second_moment / mean**2 == pytest.approx(np.exp(variance))


@given(LOGS, VARIANCES, st.floats(-3, 3))
def test_a_change_of_unit_passes_through(log: float, variance: float, shift: float) -> None:
    factor = np.exp(shift)
    assert median_from_log(log + shift) == pytest.approx(factor * median_from_log(log))
    assert mean_from_log(log + shift, variance) == pytest.approx(
        factor * mean_from_log(log, variance)
    )


@given(LOGS, VARIANCES)
def test_without_a_multiplier_both_means_agree(log: float, variance: float) -> None:
    assert mean_from_log_ordinary(log, variance, 0.0) == mean_from_log(log, variance)


@given(LOGS, VARIANCES)
def test_half_the_variance_as_multiplier_leaves_the_median(log: float, variance: float) -> None:
    # one reading: m = gamma and the variance is 2 gamma, and the mean is that reading
    mean = mean_from_log_ordinary(log, variance, variance / 2)
    assert mean == pytest.approx(median_from_log(log))


def test_draws_have_the_median_and_the_mean_they_are_told() -> None:
    logs = np.random.default_rng(5).normal(0.7, 0.8, 200_000)
    draws = np.exp(logs)
    assert np.median(draws) == pytest.approx(median_from_log(0.7), rel=0.01)
    assert draws.mean() == pytest.approx(mean_from_log(0.7, 0.64), rel=0.01)


def test_one_variance_serves_every_place() -> None:
    assert mean_from_log(np.zeros((2, 3)), 1.0).shape == (2, 3)
    assert median_from_log([]).shape == (0,)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([0.0], [-0.1], 0.0), "a variance is negative; give variances of 0 or more"),
        (([np.nan], [1.0], 0.0), "mean holds a number that is not finite"),
        (([0.0], [np.inf], 0.0), "variance holds a number that is not finite"),
        (([0.0], [1.0], np.nan), "lagrange_multiplier holds a number that is not finite"),
        ((["high"], [1.0], 0.0), "mean is not an array of numbers"),
        (([0.0, 1.0], [1.0, 1.0, 1.0], 0.0), r"shapes \(2,\), \(3,\), \(\) do not go together"),
        (([700.0], [30.0], 0.0), r"exp\(715\) is too large a concentration; check the variogram"),
    ],
)
def test_numbers_that_have_no_mean_are_refused(arguments: Any, message: str) -> None:
    with pytest.raises(EstimateError, match=message):
        mean_from_log_ordinary(*arguments)


def test_a_median_too_large_to_hold_is_refused() -> None:
    with pytest.raises(EstimateError, match=r"exp\(1000\) is too large"):
        median_from_log([1.0, 1000.0])
