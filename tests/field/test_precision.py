"""The precision form of the wall-aware field says what the dense form says."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.errors import EstimateError
from hgmap.field.predict import leave_one_out, predict
from hgmap.field.spectrum import Profiles, Spectrum
from tests.field.precision_cases import (
    CASES,
    Case,
    candidate_of,
    dense,
    make_case,
    make_floor,
    sparse,
)


@settings(max_examples=60, deadline=None)
@given(
    CASES,
    st.floats(1.0, 60.0),
    st.sampled_from([1e-4, 1e-2, 0.3, 1.0, 20.0, 100.0]),
    st.sampled_from([0.0, 0.1, 1.0]),
)
def test_it_says_what_the_dense_form_says(
    case: Case, range_m: float, share: float, flux: float
) -> None:
    other = dense(case, range_m, share, flux)
    mean, variance = predict(other, case.target_trend)
    made = sparse(case, range_m, share, flux)
    known = case.target_trend.any(axis=1)
    assert np.isnan(made.mean[~known]).all()
    assert np.isnan(made.variance[~known]).all()
    assert made.sill == pytest.approx(other.parts[0].sill, rel=1e-6)
    assert made.mean[known] == pytest.approx(mean[known], rel=1e-6, abs=1e-6)
    assert made.variance[known] == pytest.approx(variance[known], rel=1e-6)
    error, sd = leave_one_out(other)
    alone = np.isnan(error)
    assert (np.isnan(made.left_out_error) == alone).all()
    assert made.left_out_error[~alone] == pytest.approx(error[~alone], rel=1e-6, abs=1e-6)
    assert made.left_out_sd[~alone] == pytest.approx(sd[~alone], rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(CASES, st.floats(1.0, 60.0), st.floats(1.0, 60.0), st.sampled_from([0.0, 0.1, 1.0]))
def test_candidates_of_both_forms_can_be_compared(
    case: Case, range_m: float, other_range_m: float, flux: float
) -> None:
    def likelihood(range_m: float, share: float) -> tuple[float, float]:
        kernel = case.walls.kernel(range_m)
        spectrum = Spectrum.of(candidate_of(case, kernel, flux).gram, case.trend, case.error_weight)
        profile = Profiles([spectrum], np.array([share]))
        freedom = len(case.values) - case.trend.shape[1]
        squares = float(profile.squares(case.values)[0, 0])
        total = freedom * (1.0 + np.log(squares / freedom)) + float(profile.log_determinant[0, 0])
        return sparse(case, range_m, share, flux).log_likelihood, -0.5 * total

    precision, covariance = likelihood(range_m, 0.3)
    for share in (1e-4, 100.0):
        other_precision, other_covariance = likelihood(other_range_m, share)
        assert precision - other_precision == pytest.approx(
            covariance - other_covariance, rel=1e-9, abs=1e-6
        )


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**16), st.integers(200, 600), st.sampled_from([1e-3, 1.0, 100.0]))
def test_many_readings_of_few_cells_say_what_their_averages_say(
    seed: int, n: int, share: float
) -> None:
    # readings at one place are worth one reading of less error: the law both forms must keep
    floor = make_floor(["open", "closed"], 0.0, False)
    case = make_case(floor, seed, n)
    chosen = np.arange(n) % 15
    weights = sp.csr_array(case.weights[chosen])
    many = case._replace(weights=weights, trend=case.trend[chosen], error_weight=case.error_weight)
    precision = np.bincount(chosen, weights=1.0 / case.error_weight)
    first = np.arange(15)
    few = case._replace(
        weights=sp.csr_array(case.weights[first]),
        trend=case.trend[first],
        values=np.bincount(chosen, weights=case.values / case.error_weight) / precision,
        error_weight=1.0 / precision,
    )
    one, other = (sparse(some, 7.0, share, 1.0) for some in (many, few))
    known = case.target_trend.any(axis=1)
    assert one.mean[known] == pytest.approx(other.mean[known], rel=1e-6, abs=1e-6)
    assert one.variance[known] / one.sill == pytest.approx(
        other.variance[known] / other.sill, rel=1e-6
    )


def test_a_long_range_on_fine_cells_keeps_its_digits() -> None:
    # range over step 1,300: K K holds the mean of the floor in its last four digits
    case = make_case(make_floor(["open", "closed"], 0.0, False), 7, 30, step_m=0.1)
    known = case.target_trend.any(axis=1)
    for share in (1e-3, 1.0, 100.0):
        other = dense(case, 130.0, share, 0.1)
        mean, variance = predict(other, case.target_trend)
        made = sparse(case, 130.0, share, 0.1)
        assert made.mean[known] == pytest.approx(mean[known], rel=1e-6, abs=1e-6)
        assert made.variance[known] == pytest.approx(variance[known], rel=5e-6)


def test_no_share_of_noise_is_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(ValueError, match="above 0"):
        sparse(case, 5.0, 0.0, 0.0)


def test_a_range_beyond_what_doubles_hold_is_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(EstimateError, match="too long for cells"):
        sparse(case, 1e5, 1.0, 0.0)
    # the longest that is not: the mean is held by the pins alone
    mean, variance = predict(dense(case, 2e4, 100.0, 0.0), case.target_trend)
    made = sparse(case, 2e4, 100.0, 0.0)
    known = case.target_trend.any(axis=1)
    assert made.mean[known] == pytest.approx(mean[known], abs=1e-5)
    assert made.variance[known] == pytest.approx(variance[known], rel=1e-4)
