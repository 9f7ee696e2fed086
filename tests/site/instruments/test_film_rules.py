"""Gold film. Every number of a rule here is "common practice, no source", unless said otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from hgmap.site.instruments.judge import judge_readings
from hgmap.site.instruments.rules import load_rules

WHO = "analyser,gold film,INVENTED-1,2025-09-01"
DAY = "2026-03-02T"


def row(check: str, start: str, end: str, rest: str = ",,,done") -> str:
    return f"{WHO},{check},{DAY}{start},{DAY}{end},{rest}"


def zero(start: str, end: str, values: str, spacing: str = "15", result: str = "pass") -> str:
    return row("zero-air", start, end, f"{values},{spacing},,{result}")


def test_a_reading_of_a_good_day_comes_back_as_the_same_object(
    film_log: Any, make_reading: Any
) -> None:
    reading = make_reading()
    log = film_log()
    assert log.problems == ()
    (told,) = judge_readings([reading], log, load_rules(), 1.0, {}, "air")
    assert told is reading


def test_a_day_without_regeneration_is_held(film_log: Any, judge: Any, rules_of: Any) -> None:
    told = judge(film_log({"opening": None, "end": None}))
    assert rules_of(told)["regeneration-before-use"] == "hold"
    assert told.verdict == "held"


def test_a_reading_before_the_first_regeneration_is_held(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert "regeneration-before-use" in rules_of(judge(film_log(), "06:10"))
    assert "regeneration-before-use" not in rules_of(judge(film_log(), "07:15"))


def test_a_day_that_ends_without_regeneration_is_a_caution(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log({"end": None}))) == {"regeneration-at-end": "caution"}


@pytest.mark.parametrize(("end", "fine"), [("15:30", True), ("15:29", False)])
def test_a_last_regeneration_may_end_half_an_hour_before_the_closing_check(
    film_log: Any, judge: Any, rules_of: Any, end: str, fine: bool
) -> None:
    # 30 min: chosen for hgmap; closing check at 16:00
    log = film_log({"end": row("regeneration", "14:40", end)})
    assert ("regeneration-at-end" not in rules_of(judge(log))) is fine


@pytest.mark.parametrize(("end", "fine"), [("07:10", True), ("07:09", False)])
def test_a_regeneration_of_39_minutes_is_short(
    film_log: Any, judge: Any, rules_of: Any, end: str, fine: bool
) -> None:
    # about 45 min; 5 min of tolerance chosen for hgmap
    told = judge(film_log({"opening": row("regeneration", "06:30", end)}))
    assert rules_of(told) == ({} if fine else {"regeneration-length": "caution"})


def test_a_regeneration_without_an_end_takes_its_45_minutes(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({"opening": f"{WHO},regeneration,{DAY}06:30,,,,,done"})
    assert "during-check" in rules_of(judge(log, "07:14"))
    assert rules_of(judge(log)) == {"regeneration-length": "caution"}


def test_a_regeneration_that_failed_holds_until_the_next_one(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({}, row("regeneration", "11:00", "11:10", ",,,failed"))
    assert rules_of(judge(log, "10:59")) == {"bracket": "caution"}
    assert rules_of(judge(log, "12:30"))["regeneration-failed"] == "hold"
    assert rules_of(judge(log, "11:05")).keys() >= {"regeneration-failed", "during-check"}


@pytest.mark.parametrize(("spacing", "fine"), [("15", True), ("14", False), ("14.9", False)])
def test_samples_14_seconds_apart_are_too_close(
    film_log: Any, judge: Any, rules_of: Any, spacing: str, fine: bool
) -> None:
    told = judge(film_log({"zero": zero("07:20", "07:22", "0 0 0 0 0", spacing), "noon": None,
                           "last zero": None}))  # fmt: skip
    assert (rules_of(told).get("zero-after-regeneration") != "hold") is fine


@pytest.mark.parametrize(
    ("values", "fine"),
    [
        ("0.02 0.01 0.00 0.00 0.00", True),  # three read 0.00
        ("0.03 0.02 0.01 0.00 0.00", False),  # two do
        ("0.00 0.00 0.00 0.00", False),  # four samples
        ("0.00 0.00 0.00 0.00 0.00 0.00", True),
        ("0.00 0.01 0.00 0.00 0.00", True),  # rises by one step of the display: chosen for hgmap
        ("0.00 0.00 0.02 0.00 0.00", False),  # rises by two
        ("0.00 0.01 0.02 0.00 0.00", False),  # rises by two in two steps
        ("-0.02 -0.01 0.00 0.00 0.00", False),  # rises from below zero
        ("", False),
    ],
)
def test_five_samples_fall_and_three_of_them_read_zero(
    film_log: Any, judge: Any, rules_of: Any, values: str, fine: bool
) -> None:
    told = judge(
        film_log({"zero": zero("07:20", "07:22", values), "noon": None, "last zero": None})
    )
    assert ("zero-after-regeneration" not in rules_of(told)) is fine


def test_a_zero_check_without_spacing_passes_where_its_times_leave_room(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    def held(end: str) -> bool:
        changes = {"zero": zero("07:20", end, "0 0 0 0 0", ""), "noon": None, "last zero": None}
        return "zero-after-regeneration" in rules_of(judge(film_log(changes)))

    assert not held("07:21")  # 60 s for four gaps: 15 s each
    assert held("07:20:59")
    assert held("07:20")


def test_a_zero_check_that_was_written_as_failed_holds_until_one_passes(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({"zero": zero("07:20", "07:22", "0 0 0 0 0", result="fail")})
    told = judge(log, "11:00")
    assert rules_of(told)["zero-after-regeneration"] == "hold"
    assert "failed as written (log.csv, row 2; log.csv, row 4; log.csv, row 6)" in " ".join(
        told.held
    )
    assert rules_of(judge(log, "13:00")) == {}


def test_a_zero_check_that_begins_before_the_regeneration_is_over_does_not_count(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    changes = {"zero": zero("07:14", "07:22", "0 0 0 0 0"), "noon": None, "last zero": None}
    assert "zero-after-regeneration" in rules_of(judge(film_log(changes)))


@pytest.mark.parametrize(
    ("level", "end", "fine"),
    [
        (1.0, "07:20", True),  # five minutes
        (1.0, "07:19:59", False),  # 4 min 59 s
        (2.99, "07:19:59", False),
        (3.0, "07:19:59", True),  # not under 3 µg/m³
        (None, "07:19:59", False),  # no level is judged as a low one
        (None, "07:20", True),
    ],
)
def test_five_minutes_of_warm_up_for_a_level_under_3(
    film_log: Any, judge: Any, rules_of: Any, level: float | None, end: str, fine: bool
) -> None:
    told = judge(film_log({"warm-up": row("warm-up", "07:15", end)}), level=level)
    assert ("warm-up" not in rules_of(told)) is fine


def test_a_warm_up_is_asked_for_after_each_regeneration(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    again = row("regeneration", "10:00", "10:45")
    clean = zero("10:50", "10:52", "0 0 0 0 0")
    log = film_log({}, again, clean)
    assert rules_of(judge(log, "11:00")) == {"warm-up": "hold"}
    log = film_log({}, again, row("warm-up", "10:45", "10:50"), clean)
    assert rules_of(judge(log, "11:00")) == {}


def test_a_saturated_film_holds_until_it_is_regenerated_and_zeroed(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    saturated = row("saturation", "10:00", "10:00", ",,,saturated")
    regenerated = row("regeneration", "10:15", "11:00")
    warm = row("warm-up", "11:00", "11:05")
    log = film_log({}, saturated, regenerated, warm, zero("11:05", "11:07", "0 0 0 0 0"))
    assert "saturation" not in rules_of(judge(log, "09:59"))
    assert rules_of(judge(log, "10:00"))["saturation"] == "hold"
    assert rules_of(judge(log, "10:59"))["saturation"] == "hold"
    assert rules_of(judge(log, "11:02"))["zero-after-regeneration"] == "hold"
    assert rules_of(judge(log, "11:07")) == {}
    without_zero = film_log({"noon": None, "last zero": None}, saturated, regenerated, warm)
    assert judge(without_zero, "15:00").held


def test_a_saturation_without_regeneration_holds_the_rest_of_the_day(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    log = film_log({"end": None}, row("saturation", "10:00", "10:00", ",,,saturated"))
    assert rules_of(judge(log, "15:59"))["saturation"] == "hold"
