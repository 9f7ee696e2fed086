"""Numbers of samples, against their definitions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from hgmap.decide.design.sample_size import (
    finite_population_samples,
    mean_test_samples,
    rank_sum_samples,
    sign_test_samples,
    tolerance_samples,
)
from hgmap.errors import EstimateError


@given(st.floats(0.5, 0.995), st.floats(0.5, 0.99), st.integers(0, 4))
def test_a_tolerance_statement_takes_the_least_number_that_holds(
    coverage: float, confidence: float, failures: int
) -> None:
    n = tolerance_samples(coverage, confidence, failures=failures)
    assert binom.cdf(failures, n, 1 - coverage) <= (1 - confidence) * (1 + 1e-9)
    assert n == failures + 1 or binom.cdf(failures, n - 1, 1 - coverage) > 1 - confidence


@given(st.integers(1, 150), st.data())
def test_a_finite_number_is_searched_until_a_bad_one_cannot_hide(
    population: int, data: st.DataObject
) -> None:
    defects = data.draw(st.integers(1, population))
    confidence = data.draw(st.floats(0.5, 0.99))
    n = finite_population_samples(population, defects, confidence)

    def missed(looked_at: int) -> float:
        return math.comb(population - defects, looked_at) / math.comb(population, looked_at)

    assert missed(n) <= (1 - confidence) * (1 + 1e-9)
    assert missed(n - 1) > (1 - confidence) * (1 - 1e-9)


@given(st.floats(0.05, 3.0), st.floats(1.0, 2.0), st.floats(0.01, 0.4), st.floats(0.01, 0.4))
@settings(max_examples=60)
def test_a_greater_shift_never_needs_more(
    shift: float, greater: float, alpha: float, beta: float
) -> None:
    for samples in (sign_test_samples, rank_sum_samples):
        few = samples(shift * greater, alpha=alpha, beta=beta)
        assert 1 <= few <= samples(shift, alpha=alpha, beta=beta)


@given(st.floats(0.1, 10), st.floats(0.1, 10), st.floats(0.01, 0.4), st.floats(0.01, 0.4))
def test_the_mean_test_does_not_care_for_the_unit(
    sd: float, difference: float, alpha: float, beta: float
) -> None:
    one = mean_test_samples(sd, difference, alpha=alpha, beta=beta)
    other = mean_test_samples(1000 * sd, 1000 * difference, alpha=alpha, beta=beta)
    assert one.unrounded == pytest.approx(other.unrounded)
    assert one.n >= 2


def test_what_cannot_be_asked_is_refused_in_one_line() -> None:
    with pytest.raises(EstimateError, match="coverage of 1 cannot"):
        tolerance_samples(1.0, 0.95)
    with pytest.raises(EstimateError, match="needs more than"):
        tolerance_samples(1 - 1e-9, 0.95)
    with pytest.raises(EstimateError, match="-1 failures"):
        tolerance_samples(0.95, 0.95, failures=-1)
    with pytest.raises(EstimateError, match="shift of 0"):
        sign_test_samples(0.0, alpha=0.05, beta=0.05)
    with pytest.raises(EstimateError, match=r"alpha = 0\.6"):
        sign_test_samples(1.0, alpha=0.6, beta=0.05)
    with pytest.raises(EstimateError, match="it takes"):
        sign_test_samples(1e-9, alpha=0.05, beta=0.05)
    with pytest.raises(EstimateError, match="shows no shift"):
        rank_sum_samples(1.0, alpha=0.05, beta=0.05, probability=0.5)
    with pytest.raises(EstimateError, match="3 of 2"):
        finite_population_samples(2, 3, 0.95)
    with pytest.raises(EstimateError, match="standard deviation of 0"):
        mean_test_samples(0.0, 1.0, alpha=0.05, beta=0.05)
