"""Tolerance limits, exceedance fractions and the European test: edges and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.clearance.en689 import ToleranceTest, screen, tolerance_test
from hgmap.decide.clearance.sample import CannotTell
from hgmap.decide.clearance.tolerance import (
    Exceedance,
    clopper_pearson,
    exceedance_counted,
    exceedance_lognormal,
    tolerance_factor,
    utl95,
    utl_lognormal,
    utl_nonparametric,
    utl_normal,
)
from hgmap.errors import EstimateError

SCORES = np.array([-1.5, -1.0, -0.66, -0.4, -0.13, 0.13, 0.4, 0.66, 1.0, 1.5])
values = st.lists(st.floats(0.05, 20.0), min_size=3, max_size=20).filter(
    lambda v: max(v) > 1.01 * min(v)
)


def test_fewer_than_59_readings_make_no_free_statement() -> None:
    found = utl_nonparametric(np.arange(1.0, 59.0))
    assert isinstance(found, CannotTell)
    assert found.reason == "58 of the 59 readings that this needs"


def test_the_tolerance_limit_says_its_method_or_why_there_is_none() -> None:
    lognormal = np.exp(SCORES)
    found = utl95(lognormal, [True] * 10)
    assert isinstance(found, tuple)
    assert found[:2] == (utl_lognormal(lognormal), "lognormal")
    assert isinstance(utl95([1.0, 2.0], [True] * 2), CannotTell)
    assert isinstance(utl95([0.1] * 7 + [5.0] * 3, [True] * 10), CannotTell)
    nothing = utl95([0.1] * 10, [False] * 10)
    assert isinstance(nothing, CannotTell)
    assert "10 of 10 not detected" in nothing.reason
    assert utl95([0.1] * 59, [False] * 59)[0] == 0.1  # type: ignore[index]


def test_where_both_distributions_pass_the_higher_limit_counts() -> None:
    readings = 1.0 + 0.2 * SCORES
    found = utl95(readings, [True] * 10)
    assert isinstance(found, tuple)
    assert found[0] == max(utl_normal(readings), utl_lognormal(readings))


def test_a_few_non_detects_give_an_approximate_limit_above_every_reading() -> None:
    readings = [*np.exp(SCORES), 0.2]
    found = utl95(readings, [True] * 10 + [False])
    assert isinstance(found, tuple)
    assert "approximate" in found[2]
    assert found[0] > max(readings)
    blind = utl95([*readings, 500.0], [True] * 10 + [False] * 2)
    assert isinstance(blind, tuple)
    assert blind[0] == 500.0


def test_a_limit_of_detection_above_the_level_leaves_the_share_open() -> None:
    found = exceedance_counted([0.5, 2.0, 0.4], [True, False, True], 1.0)
    assert isinstance(found, CannotTell)
    assert "1 of 3 have a detection limit above the level" in found.reason
    seen = exceedance_counted([0.5, 1.0, 1.4], [True, False, True], 1.0)
    assert isinstance(seen, Exceedance)
    assert seen.fraction == pytest.approx(1 / 3)
    assert isinstance(exceedance_counted([], [], 1.0), CannotTell)


@pytest.mark.parametrize("level", [0.0, -1.0, float("nan"), float("inf")])
def test_a_level_of_zero_or_below_is_one_line(level: float) -> None:
    for call in (exceedance_lognormal, screen, tolerance_test):
        if level == float("inf") and call is not exceedance_lognormal:
            continue
        with pytest.raises(EstimateError, match="level above zero"):
            call([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], level)  # type: ignore[operator]
    with pytest.raises(EstimateError, match="level above zero"):
        exceedance_counted([1.0], [True], level)


def test_what_is_no_sample_is_refused() -> None:
    with pytest.raises(EstimateError):
        tolerance_factor(1)
    with pytest.raises(EstimateError):
        clopper_pearson(3, 2)
    with pytest.raises(EstimateError):
        exceedance_lognormal([1.0, 1.0], 2.0)


def test_the_european_test_needs_six_readings_and_a_scatter() -> None:
    assert isinstance(tolerance_test([0.1] * 5, 1.0), CannotTell)
    assert isinstance(tolerance_test([0.1] * 6, 1.0), CannotTell)
    assert screen([0.01] * 6, 1.0) == "more readings"
    # a reading at exactly the share is not counted as below it
    assert screen([0.125, 0.05, 0.05], 1.25) == "more readings"


@given(values, st.floats(0.01, 100.0))
def test_the_limits_of_the_share_enclose_it_and_fall_with_the_level(
    readings: list[float], level: float
) -> None:
    found = exceedance_lognormal(readings, level)
    assert 0.0 <= found.lower <= found.fraction + 1e-12
    assert found.fraction <= found.upper + 1e-12 <= 1.0 + 1e-11
    assert exceedance_lognormal(readings, 1.5 * level).upper <= found.upper + 1e-9


@given(values, st.sampled_from([0.001, 1024.0]))
def test_another_unit_gives_the_same_share_and_limit(readings: list[float], factor: float) -> None:
    other = [factor * one for one in readings]
    first, second = exceedance_lognormal(readings, 2.0), exceedance_lognormal(other, 2.0 * factor)
    assert second.upper == pytest.approx(first.upper, abs=1e-9)
    limit, scaled = utl95(readings, [True] * len(readings)), utl95(other, [True] * len(readings))
    assert isinstance(limit, CannotTell) == isinstance(scaled, CannotTell)
    if isinstance(limit, tuple) and isinstance(scaled, tuple):
        assert scaled[0] == pytest.approx(factor * limit[0])


@given(st.lists(st.floats(0.05, 20.0), min_size=6, max_size=20, unique=True), st.floats(0.1, 100.0))
def test_the_european_test_is_the_seventy_percent_limit_of_the_share(
    readings: list[float], level: float
) -> None:
    found = tolerance_test(readings, level)
    if isinstance(found, ToleranceTest) and abs(found.u - found.needed) > 1e-6:
        share = exceedance_lognormal(readings, level, 0.70).upper
        assert found.compliant == (share < 0.05)
