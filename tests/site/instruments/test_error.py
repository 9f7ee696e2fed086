"""The error that the checks show, by numbers worked out by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.instruments.error import bracket_mean_square, error_ug_m3

WHO = "analyser,gold film,INVENTED-1,2025-09-01"
DAY = "2026-03-02T"
SMALL = st.floats(-10, 10)


def zero(start: str, end: str, values: str) -> str:
    return f"{WHO},zero-air,{DAY}{start},{DAY}{end},{values},15,,pass"


@given(SMALL, SMALL)
def test_the_mean_square_is_that_of_every_value_between(a: float, b: float) -> None:
    # JCGM 100:2008, 4.3.7: half-width h = |b - a| / 2 has variance h² / 3; plus the mean squared
    by_variance = ((b - a) / 2) ** 2 / 3 + ((a + b) / 2) ** 2
    assert bracket_mean_square(a, b) == pytest.approx(by_variance, abs=1e-12)
    assert bracket_mean_square(a, b) == pytest.approx(bracket_mean_square(b, a), abs=1e-12)
    assert bracket_mean_square(a, b) <= max(a * a, b * b) + 1e-12


def test_zero_and_span_are_added_in_quadrature() -> None:
    # 0.03 µg/m³ of offset and 10 % of 0.4 µg/m³: sqrt(0.03² + 0.04²) = 0.05
    assert error_ug_m3(0.03**2, 0.1**2, 0.4) == pytest.approx(0.05)


def test_a_zero_offset_between_two_checks_is_an_error(film_log: Any, judge: Any) -> None:
    # mean 0.02 in the morning (0.05 0.05 0 0 0), 0 at noon: 0.02² / 3 -> 0.02 / sqrt(3) = 0.01155
    log = film_log({"zero": zero("07:20", "07:22", "0.05 0.05 0 0 0")})
    assert judge(log).error == pytest.approx(0.01154700538, rel=1e-9)
    assert judge(log, "13:00").error == 0


def test_a_zero_before_a_regeneration_says_nothing_of_the_air_behind_it(
    film_log: Any, judge: Any
) -> None:
    log = film_log(
        {"noon": zero("12:00", "12:02", "0.1 0.1 0 0 0"), "last zero": None},
        f"{WHO},regeneration,{DAY}13:00,{DAY}13:45,,,,done",
        f"{WHO},warm-up,{DAY}13:45,{DAY}13:50,,,,done",
        zero("13:50", "13:52", "0 0 0 0 0"),
    )
    told = judge(log, "12:30")  # 0.04 on one side only
    assert told.error == pytest.approx(0.04)
    assert [one.rule for one in told.findings] == ["bracket"]
    assert judge(log, "14:00").error == 0


def test_span_drift_is_an_error_in_proportion_to_the_reading(film_log: Any, judge: Any) -> None:
    # +10 % in the morning, 0 in the evening: 0.1 / sqrt(3) of the reading
    log = film_log({"span": f"{WHO},span,{DAY}07:22,{DAY}07:27,2.2,,2,pass"})
    for concentration in (0.4, 4.0):
        told = judge(log, concentration=concentration)
        assert told.error == pytest.approx(0.1 / math.sqrt(3) * concentration)
        assert told.concentration == concentration


def test_the_scatter_of_a_span_check_counts_as_type_a(film_log: Any, judge: Any) -> None:
    # 1.9, 2.0, 2.1: mean 2, s² = 0.01, s²/n = 0.01/3, relative to 2: 0.01/12
    # (JCGM 100:2008, 4.2.3); the evening shows none
    log = film_log({"span": f"{WHO},span,{DAY}07:22,{DAY}07:27,1.9 2.0 2.1,,2,pass"})
    assert judge(log, concentration=1.0).error == pytest.approx(math.sqrt(0.01 / 12))


def test_an_error_from_elsewhere_is_kept(film_log: Any, judge: Any) -> None:
    log = film_log({"span": f"{WHO},span,{DAY}07:22,{DAY}07:27,2.2,,2,pass"})
    own = 0.1 / math.sqrt(3) * 0.4
    assert judge(log, error=0.03).error == pytest.approx(math.hypot(0.03, own))
    assert judge(film_log(), error=0.03).error == 0.03


def test_a_reading_without_time_gets_the_largest_error_of_its_day(
    film_log: Any, judge: Any
) -> None:
    log = film_log({"noon": zero("12:00", "12:02", "0.05 0.05 0 0 0")})
    assert judge(log, None).error == pytest.approx(0.02 / math.sqrt(3))


def test_a_reading_without_concentration_has_no_error(film_log: Any, judge: Any) -> None:
    log = film_log({"zero": zero("07:20", "07:22", "0.05 0.05 0 0 0")})
    assert judge(log, concentration=None).error == 0
