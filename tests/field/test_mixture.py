"""What a mixture says: each part is universal kriging, and together they are a mean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.field.mixture import Part
from hgmap.field.predict import leave_one_out, predict
from tests.field.small_surveys import Survey, survey, weighed

Floats = NDArray[np.float64]
SEEDS = st.integers(0, 10_000)


def kriged(
    one: Survey, part: Part, keep: NDArray[np.bool_], cross: Floats, target_trend: Floats
) -> tuple[Floats, Floats]:
    """Universal kriging by its textbook system (Cressie 1993, section 3.4), nothing shared."""
    covariance = part.sill * (part.candidate.gram + part.share * np.diag(one.error_weight))
    n, p = int(keep.sum()), one.trend.shape[1]
    system = np.zeros((n + p, n + p))
    system[:n, :n] = covariance[keep][:, keep]
    system[:n, n:] = one.trend[keep]
    system[n:, :n] = one.trend[keep].T
    right = np.vstack([part.sill * cross[:, keep].T, target_trend.T])
    solution = np.linalg.solve(system, right)
    return one.values[keep] @ solution[:n], part.sill - (solution * right).sum(axis=0)


@given(SEEDS, st.floats(0.5, 30), st.floats(1e-3, 10), st.integers(1, 3))
def test_one_candidate_with_one_nugget_is_universal_kriging(
    seed: int, range_m: float, share: float, parts: int
) -> None:
    one = survey(seed, parts=parts)
    candidate = one.candidate(range_m)
    mixture = weighed(one, candidate, shares=(share,))
    (part,) = mixture.parts
    assert part.weight == 1.0
    everything = np.ones(len(one.values), dtype=bool)
    expected = kriged(one, part, everything, candidate.cross, one.target_trend)
    mean, variance = predict(mixture, one.target_trend)
    assert mean == pytest.approx(expected[0], abs=1e-8)
    assert variance == pytest.approx(expected[1], abs=1e-8)
    assert mixture.degrees_of_freedom == len(one.values) - parts
    assert mixture.nugget == pytest.approx(share * part.sill)
    assert mixture.sill == part.sill
    assert mixture.range_m == pytest.approx(range_m)


@given(SEEDS)
def test_the_estimate_is_the_mean_of_its_parts_and_its_variance_the_law_of_total_variance(
    seed: int,
) -> None:
    one = survey(seed)
    mixture = weighed(one, one.candidate(2.0), one.candidate(8.0))
    weight = np.array([part.weight for part in mixture.parts])
    alone = [
        predict(replace(mixture, parts=(replace(part, weight=1.0),)), one.target_trend)
        for part in mixture.parts
    ]
    means, variances = (np.array(stack) for stack in zip(*alone, strict=True))
    mean, variance = predict(mixture, one.target_trend)
    assert mean == pytest.approx(weight @ means, abs=1e-10)
    assert variance == pytest.approx(weight @ variances + weight @ (means - mean) ** 2, abs=1e-10)


@given(SEEDS, st.integers(1, 3))
def test_leave_one_out_is_leaving_each_one_out_with_what_was_fitted_kept(
    seed: int, parts: int
) -> None:
    one = survey(seed, parts=parts)
    mixture = weighed(one, one.candidate(2.0), one.candidate(8.0))
    error, sd = leave_one_out(mixture)
    for i in range(len(one.values)):
        keep = np.arange(len(one.values)) != i
        first = second = 0.0
        for part in mixture.parts:
            at = part.candidate.gram[i : i + 1]
            (mean,), (variance,) = kriged(one, part, keep, at, one.trend[i : i + 1])
            own = variance + part.sill * part.share * one.error_weight[i]
            first += part.weight * (one.values[i] - mean)
            second += part.weight * (own + (one.values[i] - mean) ** 2)
        assert error[i] == pytest.approx(first, abs=1e-8)
        assert sd[i] == pytest.approx(np.sqrt(second - first**2), abs=1e-8)


def test_a_reading_alone_in_its_part_is_predicted_by_none() -> None:
    one = survey(3, n=9)
    one = replace(one, part=np.array([0, 0, 0, 0, 1, 0, 0, 0, 0]))
    error, sd = leave_one_out(weighed(one, one.candidate(2.0), one.candidate(8.0)))
    assert np.flatnonzero(np.isnan(error)).tolist() == [4]
    assert np.flatnonzero(np.isnan(sd)).tolist() == [4]


def test_a_target_that_no_reading_reaches_is_unknown_and_the_others_are_as_before() -> None:
    one = survey(5)
    lost = replace(one, target_part=np.where(np.arange(9) == 4, 7, one.target_part))
    mean, variance = predict(weighed(one, one.candidate(5.0)), one.target_trend)
    lost_mean, lost_variance = predict(weighed(lost, lost.candidate(5.0)), lost.target_trend)
    assert np.flatnonzero(np.isnan(lost_mean)).tolist() == [4]
    assert np.flatnonzero(np.isnan(lost_variance)).tolist() == [4]
    others = np.arange(9) != 4
    assert (lost_mean[others] == mean[others]).all()
    assert (lost_variance[others] == variance[others]).all()


@given(SEEDS, st.integers(2, 5))
def test_the_mean_of_several_readings_at_a_place_counts_as_they_do(seed: int, times: int) -> None:
    one = survey(seed, n=8)
    spread = np.random.default_rng(seed).normal(0, 0.3, times)
    each = np.r_[0:8, np.zeros(times - 1, dtype=int)]
    several = replace(
        one,
        xy=one.xy[each],
        part=one.part[each],
        values=np.r_[one.values[0] + spread[0], one.values[1:], one.values[0] + spread[1:]],
        error_weight=np.ones(7 + times),
    )
    averaged = replace(
        one,
        values=np.r_[one.values[0] + spread.mean(), one.values[1:]],
        error_weight=np.r_[1 / times, np.ones(7)],
    )
    # the sill is held at its floor, far above the fit, so that both have the same
    results = [
        predict(weighed(x, x.candidate(5.0), shares=(0.2,), least_sill=1e6), x.target_trend)
        for x in (several, averaged)
    ]
    assert results[0][0] == pytest.approx(results[1][0], abs=1e-8)
    assert results[0][1] == pytest.approx(results[1][1], rel=1e-8)


@given(SEEDS, st.floats(-50, 50), st.floats(0.01, 100))
def test_moving_one_part_and_stretching_all_moves_and_stretches_the_estimate(
    seed: int, moved: float, stretched: float
) -> None:
    one = survey(seed)
    other = replace(one, values=stretched * (one.values + moved * (one.part == 1)))
    mean, variance = predict(weighed(one, one.candidate(5.0)), one.target_trend)
    got, spread = predict(weighed(other, other.candidate(5.0)), one.target_trend)
    size = stretched * (1 + abs(moved))
    assert got == pytest.approx(stretched * (mean + moved * (one.target_part == 1)),
                                abs=1e-8 * size)  # fmt: skip
    # a difference of second moments: the digits that the mean takes are lost
    assert spread == pytest.approx(stretched**2 * variance, abs=1e-8 * size**2)
