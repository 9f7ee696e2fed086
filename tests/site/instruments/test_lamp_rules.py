"""Atomic absorption and fluorescence. Numbers are "value from memory": nobody read a source."""

from __future__ import annotations

from typing import Any

import pytest

from hgmap.site.instruments.log import read_log

DAY = "2026-03-02T"


def row(principle: str, check: str, start: str, end: str, rest: str = ",,,done") -> str:
    who = f"analyser,{principle},INVENTED-1,2025-09-01"
    return f"{who},{check},{DAY}{start},{DAY}{end},{rest}"


def test_a_good_day_of_a_lamp_says_nothing(lamp_log: Any, judge: Any, rules_of: Any) -> None:
    assert rules_of(judge(lamp_log())) == {}


@pytest.mark.parametrize(("end", "fine"), [("07:10", True), ("07:09:59", False)])
def test_ten_minutes_of_warm_up(
    lamp_log: Any, judge: Any, rules_of: Any, end: str, fine: bool
) -> None:
    log = lamp_log({"warm-up": row("atomic absorption", "warm-up", "07:00", end)})
    assert rules_of(judge(log)) == ({} if fine else {"warm-up": "hold"})


@pytest.mark.parametrize(
    ("values", "fine"), [("0.1", True), ("0.11", False), ("-0.11", False), ("", False)]
)
def test_zero_air_within_10_percent_of_the_level_before_use(
    lamp_log: Any, judge: Any, rules_of: Any, values: str, fine: bool
) -> None:
    rest = f"{values},15,,pass"
    log = lamp_log({"zero": row("atomic absorption", "zero-air", "07:20", "07:22", rest)})
    assert ("zero-before-use" not in rules_of(judge(log))) is fine
    assert rules_of(judge(log, "15:00")) == {}  # the one at noon passes


def test_memory_after_a_reading_beyond_the_range_holds_until_zero_air_is_clean(
    lamp_log: Any, judge: Any, rules_of: Any
) -> None:
    beyond = row("atomic absorption", "saturation", "10:00", "10:00", ",,,saturated")
    log = lamp_log({}, beyond)
    assert rules_of(judge(log, "09:59")) == {}
    assert rules_of(judge(log, "10:00")) == {"memory": "hold"}
    assert rules_of(judge(log, "12:02")) == {}
    still = row("atomic absorption", "zero-air", "12:00", "12:02", "0.11,15,,pass")
    assert rules_of(judge(lamp_log({"noon": still}, beyond), "12:30"))["memory"] == "hold"


def test_a_day_of_a_lamp_without_closing_check_is_held(
    lamp_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(lamp_log({"closing": None}))).get("closing-check") == "hold"


def test_fluorescence_goes_by_the_same_rules(judge: Any, rules_of: Any) -> None:
    rows = [
        row("AF", "warm-up", "07:00", "07:10"),
        row("AF", "zero", "07:20", "07:22", "0 0,15,,pass"),
        row("AF", "span", "07:22", "07:27", "2,,2,pass"),
        row("AF", "zero", "15:50", "15:52", "0 0,15,,pass"),
        row("AF", "end of day", "16:00", "16:05", "2,,2,pass"),
    ]
    head = (
        "instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result"
    )
    log = read_log("\n".join([head, *rows]).encode(), where="log.csv")
    assert log.instruments[0].principle == "atomic fluorescence"
    assert rules_of(judge(log)) == {}
    log = read_log("\n".join([head, *rows[1:]]).encode(), where="log.csv")
    assert rules_of(judge(log)) == {"warm-up": "hold"}
