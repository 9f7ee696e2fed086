"""Which log speaks for which reading: names, days, midnight, time zones, media."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from hgmap.site.instruments.judge import judge_readings
from hgmap.site.instruments.log import read_log
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import load_rules
from hgmap.site.instruments.spans import held_spans

WHO = "analyser,gold film,INVENTED-1,2025-09-01"
OTHER = "other,gold film,INVENTED-2,2025-09-01"
HEADER = "instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result"


def shift(who: str, rows: list[tuple[str, str, str, str]]) -> InstrumentLog:
    text = [HEADER, *(f"{who},{check},{start},{end},{rest}" for check, start, end, rest in rows)]
    return read_log("\n".join(text).encode(), where="log.csv")


def night(first: str, second: str) -> list[tuple[str, str, str, str]]:
    """Return a shift from 20:00 of one date to 06:00 of the next, checked every three hours."""
    zero = "0 0 0 0 0,15,,pass"
    return [
        ("regeneration", f"{first}T19:00", f"{first}T19:45", ",,,done"),
        ("warm-up", f"{first}T19:45", f"{first}T19:50", ",,,done"),
        ("zero-air", f"{first}T19:50", f"{first}T19:52", zero),
        ("span", f"{first}T19:52", f"{first}T19:57", "2 2,,2,pass"),
        ("zero-air", f"{first}T23:00", f"{first}T23:02", zero),
        ("zero-air", f"{second}T02:00", f"{second}T02:02", zero),
        ("zero-air", f"{second}T05:50", f"{second}T05:52", zero),
        ("end-of-day", f"{second}T05:55", f"{second}T06:00", "2 2,,2,pass"),
        ("regeneration", f"{second}T06:00", f"{second}T06:45", ",,,done"),
    ]


def test_a_shift_that_passes_midnight_is_one_day_of_use(judge: Any, rules_of: Any) -> None:
    log = shift(WHO, night("2026-03-02", "2026-03-03"))
    for at in ("2026-03-02T22:00", "2026-03-02T23:59", "2026-03-03T00:01", "2026-03-03T04:00"):
        assert rules_of(judge(log, at)) == {}, at
    assert "closing-check" in rules_of(judge(log, "2026-03-03T09:00"))


def test_two_nights_that_share_a_date_are_two_days_of_use(judge: Any, rules_of: Any) -> None:
    both = night("2026-03-02", "2026-03-03") + night("2026-03-03", "2026-03-04")
    log = shift(WHO, both)
    assert [key[1] for key in held_spans(log, load_rules(), 1.0)] == [
        date(2026, 3, 2), date(2026, 3, 3)
    ]  # fmt: skip
    for at in ("2026-03-03T04:00", "2026-03-03T22:00", "2026-03-04T04:00"):
        assert rules_of(judge(log, at)) == {}, at
    assert rules_of(judge(log, "2026-03-03T12:00"))["closing-check"] == "hold"
    without = shift(WHO, [row for row in both if row[0] != "end-of-day" or "04" not in row[1][:10]])
    assert rules_of(judge(without, "2026-03-03T04:00")) == {}
    assert rules_of(judge(without, "2026-03-03T22:00"))["closing-check"] == "hold"


def test_a_failed_check_at_night_does_not_lend_one_day_the_closing_check_of_the_next(
    judge: Any, rules_of: Any
) -> None:
    zero = "0 0 0 0 0,15,,pass"
    first = [
        ("regeneration", "2026-03-02T20:00", "2026-03-02T20:45", ",,,done"),
        ("warm-up", "2026-03-02T20:45", "2026-03-02T20:50", ",,,done"),
        ("zero-air", "2026-03-02T20:50", "2026-03-02T20:52", zero),
    ]
    second = [
        ("span", "2026-03-03T04:40", "2026-03-03T04:41", "2 2,,2,pass"),
        ("end-of-day", "2026-03-03T04:45", "2026-03-03T04:50", "2 2,,2,pass"),
    ]
    bridge = ("battery", "2026-03-03T00:45", "2026-03-03T00:45", ",,,pass")
    broken = ("battery", "2026-03-03T00:45", "2026-03-03T00:45", ",,,fail")
    assert judge(shift(WHO, first + second), "2026-03-02T22:00").held
    assert not judge(shift(WHO, [*first, bridge, *second]), "2026-03-02T22:00").held
    assert judge(shift(WHO, [*first, broken, *second]), "2026-03-02T22:00").held


def test_a_reading_that_names_no_instrument_is_judged_by_the_only_one(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log(), instrument="")) == {}
    assert rules_of(judge(film_log(), instrument=" ANALYSER ")) == {}
    assert rules_of(judge(film_log(), instrument="invented-1")) == {}  # its serial


def test_several_instruments_and_no_name_is_held(film_log: Any, judge: Any, rules_of: Any) -> None:
    log = film_log({}, f"{OTHER},battery,2026-03-02T10:00,,,,,pass")
    told = judge(log)
    assert rules_of(told) == {"which-instrument": "hold"}
    assert told.held == ("which instrument? the log has 'analyser', 'other'",)
    assert rules_of(judge(log, instrument="analyser")) == {}
    assert judge(log, instrument="other").held


def test_an_instrument_that_is_not_in_the_log_is_held(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log(), instrument="third")) == {"not-in-log": "hold"}


def test_a_log_without_any_check_that_can_be_read_holds_everything(
    judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(InstrumentLog((), ()))) == {"no-check": "hold"}


def test_no_log_at_all_is_one_caution(judge: Any, rules_of: Any) -> None:
    told = judge(None)
    assert rules_of(told) == {"no-log": "caution"}
    assert told.verdict == "usable with a caution"
    assert told.cautions == (
        "no instrument log: nobody can say whether the instrument was fit to read",
    )


@pytest.mark.parametrize("log", [None, InstrumentLog((), ())])
def test_surface_bulk_and_laboratory_are_not_judged(log: Any, judge: Any) -> None:
    for medium in ("surface", "bulk"):
        assert not judge(log, medium=medium).findings
    assert not judge(log, kind="laboratory").findings
    assert not judge(log, kind="field blank").findings
    assert judge(log, kind="field blank", instrument="analyser").findings
    assert judge(log, kind="duplicate").findings


def test_a_reading_without_time_goes_by_the_day_of_its_round(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    assert rules_of(judge(film_log(), None)) == {"no-time": "caution"}
    assert rules_of(judge(film_log({"closing": None}), None))["closing-check"] == "hold"
    assert rules_of(judge(film_log(), None, on=None)) == {"no-time": "hold"}


def test_a_reading_without_time_on_a_day_with_a_saturation_is_held(
    film_log: Any, judge: Any, rules_of: Any
) -> None:
    day = "2026-03-02T"
    log = film_log(
        {},
        f"{WHO},saturation,{day}10:00,{day}10:00,,,,saturated",
        f"{WHO},regeneration,{day}10:00,{day}10:45,,,,done",
        f"{WHO},warm-up,{day}10:45,{day}10:50,,,,done",
        f"{WHO},zero-air,{day}10:50,{day}10:52,0 0 0 0 0,15,,pass",
    )
    assert rules_of(judge(log, None)) == {"no-time": "caution", "saturation": "hold"}
    assert rules_of(judge(log, "11:30")) == {}


def test_time_zones_in_one_of_log_and_reading_do_not_crash(
    film_log: Any, make_reading: Any, rules_of: Any
) -> None:
    east = timezone(timedelta(hours=2))
    nine = datetime(2026, 3, 2, 9, 0)

    def found(log: InstrumentLog, time: datetime) -> Any:
        reading = make_reading()._replace(time=time)
        (told,) = judge_readings([reading], log, load_rules(), 1.0, {}, "air")
        return rules_of(told)

    plain = film_log()
    zoned = replace(
        plain,
        checks=tuple(
            replace(one, start=one.start.replace(tzinfo=east), end=one.end.replace(tzinfo=east))
            for one in plain.checks
        ),
    )
    assert found(plain, nine.replace(tzinfo=east)) == {"time-zone": "caution"}
    assert found(zoned, nine) == {"time-zone": "caution"}
    assert found(zoned, nine.replace(tzinfo=east)) == {}
    assert found(zoned, datetime(2026, 3, 2, 7, 0, tzinfo=UTC)) == {}  # 09:00 there
    assert "during-check" in found(zoned, datetime(2026, 3, 2, 5, 21, tzinfo=UTC))
    assert found(zoned, datetime.min.replace(tzinfo=east)).keys() == {"no-check"}
    assert found(zoned, datetime.max.replace(tzinfo=UTC)).keys() == {"no-check"}


def test_what_held_a_reading_before_stays(film_log: Any, judge: Any) -> None:
    told = judge(film_log(), "06:40", held=("no unit",), cautions=("height assumed",))
    assert told.held[0] == "no unit"
    assert len(told.held) == 1 + sum(one.severity == "hold" for one in told.findings)
    assert told.cautions[0] == "height assumed"
    assert all("log.csv, row" in text for text in told.held[1:])


def test_the_spans_say_what_the_readings_are_told(film_log: Any, judge: Any) -> None:
    log = film_log({}, f"{WHO},saturation,2026-03-02T10:00,,,,,saturated")
    spans = held_spans(log, load_rules(), 1.0)["analyser", date(2026, 3, 2)]
    assert [one.start for one in spans] == sorted(one.start for one in spans)
    start = datetime(2026, 3, 2)  # midnight itself is a date without an hour
    for minutes in range(1, 24 * 60, 7):
        time = start + timedelta(minutes=minutes)
        told = judge(log, time.isoformat())
        assert set(told.findings) == {one.finding for one in spans if one.start <= time < one.end}


def test_a_date_without_an_hour_is_judged_by_its_whole_day(film_log: Any, judge: Any) -> None:
    saturated = film_log({}, f"{WHO},saturation,2026-03-02T10:00,,,,,saturated")
    assert {one.rule for one in judge(saturated, "2026-03-02T00:00").findings} >= {
        "saturation",
        "no-time",
    }
    told = judge(film_log(), "2026-03-02T00:00")
    assert told.usable
    assert [one.rule for one in told.findings] == ["no-time"]
    assert not judge(film_log(), "2026-03-05T00:00").usable  # no check on that day
