"""How much doubt one more reading settles, against drawing such readings at random."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from hgmap.decide.settle import settled_probability

RULES = {"remediate_at": 0.5, "clear_at": 0.05}


@pytest.mark.parametrize("excess", [-1.2, -0.4, 0.0, 0.3])
@pytest.mark.parametrize("covariance", [0.1, 0.4, 0.7])
@pytest.mark.parametrize("noise", [0.0, 0.3])
def test_it_equals_a_simulation(excess: float, covariance: float, noise: float) -> None:
    # draw the truth at the cell and the place, read the place, and rule on the cell again
    variance, place_variance, draws = 0.8, 0.9, 200_000
    random = np.random.default_rng(1)
    joint = np.array([[variance, covariance], [covariance, place_variance]])
    truth = random.multivariate_normal([excess, 0.0], joint, draws)
    read = truth[:, 1] + random.normal(0, np.sqrt(noise), draws)
    gain = covariance / (place_variance + noise)
    mean = excess + gain * read
    sd = np.sqrt(variance - gain * covariance)
    above = norm.cdf(mean / sd)
    settled = np.mean((above >= 0.5) | (above <= 0.05))
    found = settled_probability(
        np.array([excess]), np.array([variance]), np.array([covariance]), place_variance, noise,
        **RULES,
    )[0]  # fmt: skip
    assert found == pytest.approx(settled, abs=0.005)  # four standard errors are 0.0045


cells = st.tuples(st.floats(-9, 9), st.floats(0, 4), st.floats(-2, 2))


@given(st.lists(cells, min_size=1, max_size=9), st.floats(0, 4), st.floats(0, 2))
def test_it_is_a_probability_and_never_warns(
    rows: list[tuple[float, float, float]], place_variance: float, noise: float
) -> None:
    excess, variance, covariance = np.array(rows).T
    # a covariance is never larger than the two variances allow
    covariance = np.sign(covariance) * np.minimum(
        np.abs(covariance), np.sqrt(variance * place_variance)
    )
    found = settled_probability(excess, variance, covariance, place_variance, noise, **RULES)
    assert ((found >= 0) & (found <= 1 + 1e-9)).all()


def test_a_reading_that_says_nothing_settles_nothing_that_is_in_doubt() -> None:
    found = settled_probability(np.array([-0.5, -5.0]), np.ones(2), np.zeros(2), 1.0, 0.1, **RULES)
    assert found.tolist() == [0, 1]  # the second cell is settled as it stands


def test_a_perfect_reading_in_the_cell_settles_it() -> None:
    found = settled_probability(np.array([-0.5]), np.ones(1), np.ones(1), 1.0, 0.0, **RULES)
    assert found[0] == pytest.approx(1.0)


@given(st.floats(-1.6, -0.01), st.floats(0.0, 0.9), st.floats(0.0, 0.09))
def test_a_better_reading_settles_more_of_a_cell_in_doubt(
    excess: float, noise: float, more: float
) -> None:
    def settled(error: float) -> float:
        return float(
            settled_probability(
                np.array([excess]), np.ones(1), np.full(1, 0.8), 1.0, error, **RULES
            )[0]
        )

    assert settled(noise) >= settled(noise + more) - 1e-9
