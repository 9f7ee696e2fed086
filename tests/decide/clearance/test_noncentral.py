"""The noncentral t distribution against scipy's, and where scipy's ends in nan."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from hgmap.decide.clearance.noncentral import noncentral_t_cdf
from hgmap.decide.clearance.tolerance import exceedance_lognormal, tolerance_factor


@pytest.mark.parametrize("degrees", [1, 2, 7, 58, 500])
@pytest.mark.parametrize("noncentrality", [-3.0, 0.0, 0.5, 4.0, 15.0])
def test_it_is_scipys_where_scipys_is_a_number(degrees: int, noncentrality: float) -> None:
    compared = 0
    for t in (-30.0, -5.0, -1.0, 0.0, 0.3, 2.0, 9.0, 40.0):
        expected = float(stats.nct.cdf(t, degrees, noncentrality))
        if not math.isnan(expected):
            compared += 1
            found = noncentral_t_cdf(t, degrees, noncentrality)
            assert found == pytest.approx(expected, abs=1e-11)
    assert compared >= 5


def test_it_stays_a_number_in_the_far_tail() -> None:
    assert noncentral_t_cdf(-5.0, 7, 15.0) == pytest.approx(0.0, abs=1e-50)
    assert noncentral_t_cdf(-5.0, 5000, -60.0) == pytest.approx(1.0)


@pytest.mark.parametrize("n", [2, 3, 59, 1000, 20_000])
def test_the_factor_is_scipys_quantile_for_few_and_many(n: int) -> None:
    z = float(stats.norm.ppf(0.95))
    expected = float(stats.nct.ppf(0.95, n - 1, z * math.sqrt(n))) / math.sqrt(n)
    assert tolerance_factor(n) == pytest.approx(expected, rel=1e-10)


def test_a_level_far_below_or_above_every_reading_still_has_its_limits() -> None:
    # the first set once ended in a nan of the library's distribution
    readings = [1, 2, 3, 4, 5, 6, 7, 8, 15, 1.5, 1.25, 1.75, 1.625, 1.875, 2.5, 3.5, 4.5, 0.5]
    found = exceedance_lognormal(readings, 0.25)
    assert 0.97 < found.lower < found.fraction < found.upper < 1.0
    assert exceedance_lognormal(readings, 1e9).upper == pytest.approx(0.0, abs=1e-30)
    assert exceedance_lognormal(readings, 1e-9).lower == pytest.approx(1.0)
