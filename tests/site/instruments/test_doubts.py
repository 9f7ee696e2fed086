"""Rows that are lost, films that were hardly regenerated, clocks that differ: held, never clear.

All numbers are invented; the rules are "common practice, no source" or chosen for hgmap.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from hgmap.site.instruments.log import read_log

WHO = "analyser,gold film,INVENTED-1,2025-09-01"
DAY = "2026-03-02T"


def row(check: str, start: str, end: str = "", rest: str = ",,,done") -> str:
    return f"{WHO},{check},{start and DAY + start},{end and DAY + end},{rest}"


def saturation(start: str, who: str = WHO) -> str:
    return f"{who},saturation,{start},,,,,saturated"


def test_a_log_row_of_a_saturation_that_cannot_be_read_holds(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    for start in ("02/03/2026 10:00", "02.03.2026 10:00", "", "at ten"):
        told = judge(film_log({}, saturation(start)), "09:00")
        assert rules_of(told) == {"log-doubt": "hold"}, start
        assert "log.csv, row 10" in told.held[0]


def test_a_lost_row_with_a_date_holds_that_day_only(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log({}, saturation("2026-03-02")))) == {"log-doubt": "hold"}
    assert rules_of(judge(film_log({}, saturation("2026-03-09")))) == {}


def test_many_lost_rows_are_one_reason(film_log: Any, judge: Any) -> None:
    told = judge(film_log({}, *[saturation("at ten")] * 5000))
    (reason,) = told.held
    rows = "log.csv, row 10; log.csv, row 11; log.csv, row 12; and 3 more"
    assert reason.endswith(f"; and 4999 more ({rows})")


def test_a_saturation_of_no_instrument_may_be_of_any(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    nobody = saturation(f"{DAY}10:00", WHO.replace("analyser", "", 1))
    assert rules_of(judge(film_log({}, nobody), instrument="analyser")) == {"log-doubt": "hold"}


def test_a_check_that_is_not_known_and_failed_holds_its_day(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log({}, row("leak test", "10:00", "", ",,,fail")))) == {
        "log-doubt": "hold"
    }
    assert rules_of(judge(film_log({}, row("leak test", "10:00", "", ",,,pass")))) == {}


@pytest.mark.parametrize("word", ["over range", "Overrange", "over-load", "film saturated"])
def test_a_top_of_the_scale_that_was_passed_is_a_saturation(
    film_log: Any, judge: Any, rules_of: Any, word: str
) -> None:
    log = film_log({}, row(word, "10:00", "", ",,,"))
    assert "saturation" not in rules_of(judge(log, "09:59"))
    assert rules_of(judge(log, "10:00"))["saturation"] == "hold"


def test_a_remark_about_a_saturation_leaves_a_doubt() -> None:
    head = "instrument,principle,check,start,note"
    line = f"analyser,gold film,{{}},{DAY}10:00,{{}}"
    for note, doubts in (("film saturated here", 1), ("zero failed", 1), ("lunch", 0)):
        text = f"{head}\n{line.format('span', '')}\n{line.format('remark', note)}"
        assert len(read_log(text.encode(), where="log.csv").doubts) == doubts


def test_one_serial_under_two_names_holds_both(film_log: Any, judge: Any, rules_of: Any) -> None:
    twin = saturation(f"{DAY}08:00", WHO.replace("analyser", "analyzer", 1))
    told = judge(film_log({}, twin), instrument="analyser")
    assert rules_of(told) == {"log-doubt": "hold"}
    assert "'analyser' and 'analyzer'" in told.held[0]


@pytest.mark.parametrize("check", ["battery", "zero-air", "control point", "span"])
def test_a_result_that_speaks_of_saturation_is_one_whatever_was_checked(
    film_log: Any, judge: Any, rules_of: Any, check: str
) -> None:
    for word in ("saturated", "film saturated", "SATURATION"):
        told = judge(film_log({}, row(check, "10:00", "", f",,,{word}")), "10:30")
        assert rules_of(told)["saturation"] == "hold"


@pytest.mark.parametrize(
    ("end", "result", "held"),
    [
        ("10:02", "done", True), ("10:20", "done", True), ("10:21", "done", False),
        ("", "", True), ("", "done", False),
    ],
)  # fmt: skip
def test_a_regeneration_of_a_minute_does_not_end_a_saturation(
    film_log: Any, judge: Any, rules_of: Any, end: str, result: str, held: bool
) -> None:
    # a film that is still saturated reads 0.00 of zero air: the checks after it all pass
    log = film_log(
        {},
        saturation(f"{DAY}10:00"),
        row("regeneration", "10:01", end, f",,,{result}"),
        row("warm-up", "10:50", "10:55"),
        row("zero-air", "10:55", "10:57", "0 0 0 0 0,15,,pass"),
    )
    found = rules_of(judge(log, "11:30"))
    assert ("saturation" in found) == held
    assert ("regeneration-failed" in found) == held


@pytest.mark.parametrize(
    ("values", "fine"),
    [("0.9 0.3 0 -0.3 -0.9", False), ("-0.9 0.9", False), ("0.5 0 0 0 0", True), ("0.1 0 0", True)],
)
def test_a_mean_of_zero_does_not_hide_values_that_are_far_from_it(
    film_log: Any, judge: Any, rules_of: Any, values: str, fine: bool
) -> None:
    log = film_log({"noon": row("zero-air", "12:00", "12:02", f"{values},15,,pass")})
    assert ("zero-offset" not in rules_of(judge(log, "13:00"))) == fine


def test_a_saturation_on_a_clock_of_another_zone_holds_the_day(
    film_log: Any, make_reading: Any, judge: Any, rules_of: Any
) -> None:
    # written in UTC at 15:00, which is 10:00 where the reading says 11:00 without a zone
    log = film_log({}, saturation(f"{DAY}15:00+00:00"))
    assert rules_of(judge(log, "11:00")) == {"saturation": "hold", "time-zone": "caution"}
    assert rules_of(judge(film_log(), "11:00", on=date(2026, 3, 2))) == {}
