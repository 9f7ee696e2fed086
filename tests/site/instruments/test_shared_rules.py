"""Rules of every principle. Tolerances are "value from memory" unless said otherwise."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from hgmap.site.instruments.log import read_log

WHO = "analyser,gold film,INVENTED-1,2025-09-01"
DAY = "2026-03-02T"


def span(start: str, values: str, result: str = "pass") -> str:
    return f"{WHO},span,{DAY}{start},{DAY}{start},{values},,2,{result}"


def closing(values: str = "2 2 2", reference: str = "2", result: str = "pass") -> str:
    return f"{WHO},end-of-day,{DAY}16:00,{DAY}16:05,{values},,{reference},{result}"


def noon(values: str, result: str = "pass") -> str:
    return f"{WHO},zero-air,{DAY}12:00,{DAY}12:02,{values},15,,{result}"


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ("2.2", None),  # 10 % high
        ("2.21", "span-drift"),
        ("2.4", "span-drift"),  # 20 % high
        ("2.41", "span-error"),
        ("1.6", "span-drift"),  # 20 % low
        ("1.59", "span-error"),
    ],
)
def test_a_span_check_beyond_10_percent_cautions_and_beyond_20_holds(
    film_log: Any, judge: Any, rules_of: Any, values: str, rule: str | None
) -> None:
    found = rules_of(judge(film_log({"span": span("07:22", values)})))
    severity = {"span-drift": "caution", "span-error": "hold"}
    assert found == ({} if rule is None else {rule: severity[rule]})


def test_a_span_check_that_failed_holds_between_the_good_ones_around_it(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({}, span("10:00", "3"), span("14:00", "2"))
    assert "span-error" not in rules_of(judge(log, "07:26"))
    assert rules_of(judge(log, "07:27"))["span-error"] == "hold"
    assert rules_of(judge(log, "13:59"))["span-error"] == "hold"
    assert rules_of(judge(log, "14:00")) == {}


def test_a_day_without_a_span_check_is_a_caution(film_log: Any, judge: Any, rules_of: Any) -> None:
    # common practice, no source
    log = film_log({"span": None, "closing": closing("0 0 0", "")})
    assert rules_of(judge(log)) == {"no-span-check": "caution"}


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ("0.1 0.1 0.1", None),  # 10 % of the level of 1 µg/m³
        ("0.11 0.11 0.11", "zero-drift"),
        ("0.2 0.2 0.2", "zero-drift"),  # 20 %
        ("0.21 0.21 0.21", "zero-offset"),
        ("-0.21 -0.21 -0.21", "zero-offset"),
    ],
)
def test_zero_air_beyond_10_percent_of_the_level_cautions_and_beyond_20_holds(
    film_log: Any, judge: Any, rules_of: Any, values: str, rule: str | None
) -> None:
    severity = {"zero-drift": "caution", "zero-offset": "hold"}
    expected = {} if rule is None else {rule: severity[rule]}
    log = film_log({"noon": noon(values)})
    assert rules_of(judge(log, "09:00")) == expected  # since the last good one
    assert rules_of(judge(log, "15:00")) == expected  # to the next good one
    assert rules_of(judge(log, "15:58")) == {"bracket": "caution"}  # no zero check behind it


def test_without_a_level_zero_air_is_held_to_a_low_detection_limit(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    def found(values: str) -> Any:
        return rules_of(judge(film_log({"noon": noon(values)}), level=None))

    assert found("0.05") == {}
    assert found("0.06") == {"zero-drift": "caution"}
    assert found("0.11") == {"zero-offset": "hold"}


def test_a_day_without_a_closing_check_is_held(film_log: Any, judge: Any, rules_of: Any) -> None:
    # common practice, no source
    assert rules_of(judge(film_log({"closing": None})))["closing-check"] == "hold"


@pytest.mark.parametrize(
    "row",
    [
        closing(result="fail"),
        closing("2.41"),
        closing("1.0", ""),  # no reference: read as zero air
        closing("", "", ""),  # says nothing
    ],
)
def test_a_failed_closing_check_holds_the_whole_day(
    film_log: Any, judge: Any, rules_of: Any, row: str
) -> None:
    log = film_log({"closing": row})
    for at in ("07:30", "15:59"):
        assert rules_of(judge(log, at))["closing-check"] == "hold"


def test_a_reading_after_the_closing_check_is_held(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log(), "16:04")).keys() >= {"during-check"}
    assert rules_of(judge(film_log(), "16:55"))["closing-check"] == "hold"


@pytest.mark.parametrize(
    ("when", "fine"),
    [
        ("2025-03-02", True),  # 12 months to the day
        ("2025-03-01", False),
        ("2026-03-02", True),
        ("2026-03-03", False),  # written after the day of use
        ("", False),
    ],
)
def test_a_certificate_is_at_most_12_months_old(
    judge: Any, rules_of: Any, when: str, fine: bool
) -> None:
    text = (
        "instrument,principle,certificate,check,start,end,values,spacing_s,reference,result\n"
        f"A,gold film,{when},regeneration,{DAY}06:30,{DAY}07:15,,,,done\n"
    )
    log = read_log(text.encode(), where="log.csv")
    assert ("certificate" not in rules_of(judge(log))) is fine


@pytest.mark.parametrize("at", ["07:20", "07:21", "07:24", "12:01", "06:40", "07:16"])
def test_a_reading_during_a_check_is_held(
    film_log: Any, judge: Any, rules_of: Any, at: str
) -> None:
    # common practice, no source
    assert rules_of(judge(film_log(), at))["during-check"] == "hold"


def test_a_reading_at_the_minute_a_check_ends_is_not_part_of_it(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log(), "12:02")) == {}
    assert rules_of(judge(film_log(), "11:59")) == {}


def test_a_battery_that_failed_holds_until_one_passes(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    # common practice, no source
    flat = f"{WHO},battery,{DAY}10:00,{DAY}10:00,,,,fail"
    full = f"{WHO},battery,{DAY}11:00,{DAY}11:00,,,,pass"
    log = film_log({}, flat, full)
    assert rules_of(judge(log, "09:59")) == {}
    assert rules_of(judge(log, "10:30")) == {"battery": "hold"}
    assert rules_of(judge(log, "11:00")) == {}


def test_a_control_point_that_failed_is_a_caution(film_log: Any, judge: Any, rules_of: Any) -> None:
    log = film_log({}, f"{WHO},control point,{DAY}10:00,{DAY}10:00,,,,fail")
    assert rules_of(judge(log)) == {"control-point": "caution"}


def test_readings_behind_the_last_zero_check_are_on_one_side_of_it(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({"last zero": None})
    assert rules_of(judge(log, "13:00")) == {"bracket": "caution"}
    assert rules_of(judge(log, "11:00")) == {}


def test_a_principle_that_is_not_known_holds(judge: Any, rules_of: Any) -> None:
    log = read_log(
        f"instrument,principle,check,start,result\nA,sniffing,zero,{DAY}07:00,pass\n".encode(),
        where="log.csv",
    )
    assert rules_of(judge(log)) == {"unknown-principle": "hold"}
    assert "principle 'sniffing' is not known" in log.problems[0].message


def test_another_day_than_those_of_the_log_is_held(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    told = judge(film_log(), "2026-03-03T09:00")
    assert rules_of(told) == {"no-check": "hold"}
    assert "2026-03-03" in told.held[0]
    assert rules_of(judge(film_log(), None, on=date(2026, 3, 3))) == {"no-check": "hold"}
