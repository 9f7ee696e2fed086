"""Weighing ranges and nuggets by what the readings say of them, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import EstimateError
from hgmap.field.mixture import Candidate
from hgmap.field.predict import predict
from hgmap.field.weigh import LEAST_WEIGHT
from tests.field.small_surveys import Survey, survey, weighed

SEEDS = st.integers(0, 10_000)


def likelihood(
    one: Survey, candidate: Candidate, share: float, least_sill: float = 0.0
) -> tuple[float, float]:
    """The restricted log-likelihood by its definition, and the likeliest sill allowed."""
    shape = candidate.gram + share * np.diag(one.error_weight)
    inverse = np.linalg.inv(shape)
    information = one.trend.T @ inverse @ one.trend
    means = np.linalg.solve(information, one.trend.T @ inverse @ one.values)
    residual = one.values - one.trend @ means
    freedom = len(one.values) - one.trend.shape[1]
    squares = float(residual @ inverse @ residual)
    sill = max(squares / freedom, least_sill)
    logs = np.linalg.slogdet(shape)[1] + np.linalg.slogdet(information)[1]
    return -0.5 * float(squares / sill + freedom * np.log(sill) + logs), sill


@given(SEEDS, st.sampled_from([0.0, 0.5, 5.0]))
def test_weights_are_restricted_likelihood_times_prior_and_add_to_1(
    seed: int, least_sill: float
) -> None:
    one = survey(seed)
    candidates = [one.candidate(2.0, np.log(2.0)), one.candidate(8.0, np.log(8.0))]
    shares = tuple(np.geomspace(1e-3, 30, 12))
    mixture = weighed(one, *candidates, shares=shares, least_sill=least_sill)
    logs = {
        (c.range_m, share): likelihood(one, c, share, least_sill)[0] + c.log_prior
        for c in candidates
        for share in shares
    }
    top = max(logs.values())
    kept = {key: np.exp(log - top) for key, log in logs.items() if log > top + np.log(LEAST_WEIGHT)}
    total = sum(kept.values())
    got = {(part.candidate.range_m, part.share): part.weight for part in mixture.parts}
    for part in mixture.parts:
        sill = likelihood(one, part.candidate, part.share, least_sill)[1]
        assert part.sill == pytest.approx(sill, rel=1e-8)
    assert got == pytest.approx({key: weight / total for key, weight in kept.items()}, rel=1e-6)
    assert sum(got.values()) == pytest.approx(1.0)
    assert list(got.values()) == sorted(got.values(), reverse=True)


@pytest.mark.parametrize("truth", [0.5, 3.0])
def test_many_readings_find_the_range_they_came_from(truth: float) -> None:
    for seed in range(4):
        one = survey(seed, n=300, parts=1, range_m=truth)
        mixture = weighed(one, *(one.candidate(r) for r in (0.5, 3.0, 18.0)), shares=(0.05,))
        found = sum(p.weight for p in mixture.parts if p.candidate.range_m == truth)
        assert found > 0.95


def test_the_prior_decides_where_the_readings_cannot() -> None:
    one = survey(1)
    same = [replace(one.candidate(5.0), range_m=r, log_prior=np.log(r)) for r in (1.0, 3.0)]
    got = {p.candidate.range_m: p.weight for p in weighed(one, *same, shares=(0.1,)).parts}
    assert got == pytest.approx({1.0: 0.25, 3.0: 0.75})
    assert weighed(one, *same, shares=(0.1,)).range_m == pytest.approx(3.0**0.75)


def test_the_field_is_never_taken_for_more_even_than_the_least_sill() -> None:
    one = survey(2)
    candidate = one.candidate(5.0)
    fitted = weighed(one, candidate, shares=(0.1,)).sill
    for least, expected in ((fitted / 2, fitted), (fitted * 2, fitted * 2)):
        got = weighed(one, candidate, shares=(0.1,), least_sill=least)
        assert got.sill == pytest.approx(expected)


def test_readings_that_do_not_differ_within_their_parts_are_refused() -> None:
    one = survey(1)
    one = replace(one, values=5.0 + 3.0 * one.part)
    with pytest.raises(EstimateError, match="the readings do not differ"):
        weighed(one, one.candidate(5.0))
    mixture = weighed(one, one.candidate(5.0), least_sill=0.4)
    assert mixture.sill == pytest.approx(0.4)
    mean, _ = predict(mixture, one.target_trend)
    assert mean == pytest.approx(5.0 + 3.0 * one.target_part)


@pytest.mark.parametrize("n", [1, 2])
def test_no_more_readings_than_parts_are_refused(n: int) -> None:
    one = survey(1, n=n)
    with pytest.raises(EstimateError, match="no more readings than separate parts"):
        weighed(one, one.candidate(5.0))
