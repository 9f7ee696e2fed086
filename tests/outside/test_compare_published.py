"""Paired tests against published examples, and the interval of a ratio against a simulation."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from hgmap.decide.change_model import ratio_interval
from hgmap.decide.paired import (
    PairedStatistics,
    Place,
    PlacePair,
    paired_statistics,
    sign_test,
)

# Heights of cross- minus self-fertilised maize in eighths of an inch, 15 pairs of Darwin's: the
# example of scipy.stats.wilcoxon's documentation, and of Fisher (1935), The Design of Experiments,
# section 17.
DARWIN = (6, 8, 14, 16, 23, 24, 28, 29, 41, -48, 49, 56, 60, -67, 75)

# Student (1908), Biometrika 6: additional hours of sleep by two drugs, ten patients; R's `sleep`.
SLEEP_1 = (0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0)
SLEEP_2 = (1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4)


def of_differences(differences: Sequence[float]) -> PairedStatistics:
    """Make pairs whose logarithms of ratios are these."""
    pairs = [
        PlacePair(
            Place("A", "A", 0.0, float(k), (f"b{k}",), 1.0, 1.0),
            Place("A", "A", 0.0, float(k), (f"a{k}",), math.exp(d), math.exp(d)),
            0.0,
        )
        for k, d in enumerate(differences)
    ]
    return paired_statistics(pairs)


def test_signed_ranks_of_darwin_s_plants() -> None:
    got = of_differences([d / 100.0 for d in DARWIN])
    assert got.wilcoxon == 24.0  # scipy.stats.wilcoxon, documentation, "Examples"
    assert got.p_wilcoxon == pytest.approx(0.041259765625, rel=1e-9)  # the same


def test_student_s_t_of_darwin_s_plants() -> None:
    got = of_differences([d / 100.0 for d in DARWIN])
    # Fisher (1935), section 17: t = 2.148 with 14 degrees of freedom, just beyond 2.145, the 5 per
    # cent value (value from memory)
    assert got.t_statistic == pytest.approx(2.148, abs=5e-4)
    assert got.p_t is not None
    assert 0.049 < got.p_t < 0.05
    assert got.low is not None
    assert got.low > 1.0


def test_student_s_t_of_the_sleep_data() -> None:
    got = of_differences([a - b for a, b in zip(SLEEP_1, SLEEP_2, strict=True)])
    # what R prints for t.test(extra ~ group, data = sleep, paired = TRUE), as course notes quote it
    assert got.t_statistic == pytest.approx(-4.0621, abs=5e-5)
    assert got.p_t == pytest.approx(0.002833, abs=5e-7)
    assert got.ratio is not None
    assert got.low is not None
    assert got.high is not None
    assert math.log(got.ratio) == pytest.approx(-1.58, abs=1e-9)
    assert math.log(got.low) == pytest.approx(-2.4598858, abs=5e-7)
    assert math.log(got.high) == pytest.approx(-0.7001142, abs=5e-7)


def test_signs_of_seven_pairs_in_eight() -> None:
    # Lane, HyperStat, sign test (davidmlane.com/hyperstat/B168076.html): 7 or more of 8 has
    # probability 0.0352, one-tailed
    got = sign_test(7, 1)
    assert got == pytest.approx(2 * 0.0352, abs=2e-4)
    assert got == pytest.approx(2 * 9 / 256)


def test_signs_of_eight_pairs_in_ten() -> None:
    # Zar, Biostatistical Analysis, hind and fore legs of ten deer: 0.109375 (value from memory)
    assert sign_test(8, 2) == pytest.approx(0.109375)


@pytest.mark.parametrize(("share_before", "share_after"), [(0.05, 0.08), (0.1, 0.1), (0.15, 0.2)])
def test_the_delta_method_gives_the_interval_that_a_simulation_gives(
    share_before: float, share_after: float
) -> None:
    rng = np.random.default_rng(11)
    before, after = 8.0, 2.0
    draws = rng.normal(after, share_after * after, 400_000) / rng.normal(
        before, share_before * before, 400_000
    )
    low, high = ratio_interval(math.log(after / before), math.hypot(share_before, share_after))
    simulated = np.quantile(draws, [0.025, 0.975])
    # first order: good to the square of the relative errors
    slack = 3.0 * (share_before**2 + share_after**2)
    assert low == pytest.approx(simulated[0], rel=slack)
    assert high == pytest.approx(simulated[1], rel=slack)
    assert np.mean((draws > low) & (draws < high)) == pytest.approx(0.95, abs=0.02)


def test_the_interval_holds_the_true_ratio_as_often_as_it_says() -> None:
    rng = np.random.default_rng(12)
    count, truth = 20_000, math.log(0.3)
    sd = math.hypot(0.3, 0.4)
    seen = truth + rng.normal(0.0, 0.3, count) - rng.normal(0.0, 0.4, count)
    held = 0
    for one in seen:
        low, high = ratio_interval(float(one), sd)
        held += low < 0.3 < high
    assert held / count == pytest.approx(0.95, abs=0.006)
