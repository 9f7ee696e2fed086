"""The log as people write it: every row a check, a problem, or a check that counts as failed."""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, ReadingsError
from hgmap.site.instruments.log import COLUMNS, read_log
from hgmap.site.instruments.model import Check, InstrumentLog
from hgmap.site.instruments.rules import load_rules
from hgmap.site.instruments.spans import held_spans
from hgmap.site.instruments.verdicts import LogVerdicts

HEADER = ",".join(COLUMNS)
AT = "2026-03-02T07:20"


def read(*rows: str, header: str = HEADER) -> InstrumentLog:
    return read_log("\n".join([header, *rows]).encode(), where="log.csv")


def row(**cells: str) -> str:
    plain = {"instrument": "A", "principle": "gold film", "check": "zero-air", "start": AT}
    full = {**plain, **cells}
    return ",".join(full.get(name, "") for name in COLUMNS)


def only(log: InstrumentLog) -> Check:
    (check,) = log.checks
    return check


def test_a_row_is_a_check() -> None:
    log = read(
        row(serial="INVENTED-1", certificate="2025-09-01", end="2026-03-02T07:22",
            values="0.02 0;0", spacing_s="15", reference="0.5", result="pass",
            temperature_c="20.5", note="clean")
    )  # fmt: skip
    assert log.problems == ()
    assert only(log) == Check(
        instrument="A", kind="zero-air", start=datetime(2026, 3, 2, 7, 20),
        end=datetime(2026, 3, 2, 7, 22), values=(0.02, 0.0, 0.0), spacing_s=15.0, reference=0.5,
        passed=True, temperature_c=20.5, note="clean", where="log.csv, row 2",
    )  # fmt: skip
    assert log.instruments[0].certificate == date(2025, 9, 1)


def test_time_stands_for_start_and_minutes_for_end() -> None:
    log = read(f"A,regeneration,{AT},45", header="instrument,check,time,minutes")
    assert only(log).end == datetime(2026, 3, 2, 8, 5)
    both = read(f"2026-01-01T00:00,A,span,{AT}", header="time,instrument,check,start")
    assert only(both).start == datetime(2026, 3, 2, 7, 20)


def test_semicolons_and_decimal_commas_are_read() -> None:
    log = read(f"A;span;{AT};1,98 2,01;2,0", header="instrument;check;start;values;reference")
    assert (only(log).values, only(log).reference) == ((1.98, 2.01), 2.0)


@pytest.mark.parametrize(
    ("unit", "factor"), [("", 1.0), ("ug/m3", 1.0), ("ng/m³", 1e-3), ("mg/m3", 1e3)]
)
def test_values_and_reference_are_converted(unit: str, factor: float) -> None:
    check = only(read(row(check="span", values="2 4", reference="3", unit=unit)))
    assert check.values == pytest.approx((2 * factor, 4 * factor))
    assert check.reference == pytest.approx(3 * factor)


def test_a_battery_keeps_its_own_unit() -> None:
    log = read(row(check="battery", values="7.2", unit="V", result="ok"))
    assert log.problems == ()
    assert (only(log).values, only(log).passed) == ((7.2,), True)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"end": "2026-03-02T07:19"}, "before the start"),
        ({"end": "tomorrow"}, "end 'tomorrow' has no time of day"),
        ({"end": "25:00"}, "is not a time"),
        ({"minutes": "-5"}, "a check of -5 min"),
        ({"minutes": "1e9"}, "a check of 1e+09 min"),
        ({"minutes": "5", "end": "2026-03-02T07:30"}, "disagree"),
        ({"values": "0.0 zero 0.0"}, "value 'zero' is not a number"),
        ({"values": "1e400"}, "beyond any measurement"),
        ({"values": "<0.05"}, "value '<0.05' is not a number"),
        ({"values": "0 " * 10001}, "10001 values in one cell"),
        ({"spacing_s": "-1"}, "spacing_s -1 is below zero"),
        ({"spacing_s": "quick"}, "spacing_s 'quick' is not a number"),
        ({"values": "0", "unit": "furlongs"}, "unit 'furlongs' is not known"),
        ({"values": "0", "unit": "mg/kg"}, "unit for bulk"),
        ({"values": "1", "unit": "ppb"}, "without the temperature"),
        ({"result": "so-so"}, "result 'so-so' is not known"),
        ({"check": "span", "values": "2", "reference": "0"}, "needs a reference above zero"),
        ({"check": "span", "values": "2", "reference": "-2"}, "reference -2 is below zero"),
        ({"note": "one,two"}, "more cells than the header"),
    ],
)
def test_a_check_that_cannot_be_judged_counts_as_failed(cells: dict[str, str], says: str) -> None:
    log = read(
        row(),
        row(
            **{"result": "pass", **cells},
        ),
    )
    problem = next(one for one in log.problems if "counts as failed" in one.message)
    assert says in problem.message
    assert (problem.severity, problem.where) == ("warning", "log.csv, row 3")
    assert problem.todo
    assert [one.passed for one in log.checks if one.where == "log.csv, row 3"] == [False]


@pytest.mark.parametrize(
    ("cells", "says", "todo"),
    [
        ({"instrument": ""}, "no instrument", "which instrument"),
        ({"start": ""}, "no start", "date and time"),
        ({"start": "2026-03-02"}, "no time of day", "date and time"),
        ({"start": "2026-13-02T07:00"}, "is not a time", "date and time"),
        ({"check": "zero ai", "values": "0 0"}, "check 'zero ai' is not", "mean 'zero-air'"),
        ({"check": "", "result": "fail"}, "check '' is not known", "known checks"),
    ],
)
def test_a_row_that_does_not_say_what_it_is_may_hide_a_failed_check(
    cells: dict[str, str], says: str, todo: str
) -> None:
    log = read(row(), row(**cells))
    (problem,) = log.problems
    assert says in problem.message
    assert "may hide a failed check" in problem.message
    assert todo in problem.todo
    assert problem.where == "log.csv, row 3"
    assert only(log).where == "log.csv, row 2"
    (doubt,) = log.doubts
    assert doubt.rows == ("log.csv, row 3",)
    on = datetime.fromisoformat(AT).date() if cells.get("start") in (None, "2026-03-02") else None
    assert doubt.on == on


@pytest.mark.parametrize(
    ("cells", "says", "todo"),
    [
        ({"check": "regenration"}, "check 'regenration' is not known", "mean 'regeneration'"),
        ({"check": "", "result": "pass"}, "check '' is not known", "known checks"),
        ({"check": "inlet cleaned"}, "check 'inlet cleaned' is not known", "known checks"),
        ({"check": "warm-up", "start": ""}, "no start", "date and time"),
    ],
)
def test_a_row_that_could_only_vouch_is_told_and_leaves_no_doubt(
    cells: dict[str, str], says: str, todo: str
) -> None:
    log = read(row(), row(**cells))
    (problem,) = log.problems
    assert says in problem.message
    assert todo in problem.todo
    assert log.doubts == ()


def test_a_saturation_is_one_whatever_else_its_row_says() -> None:
    check = only(read(row(check="saturation", end="later", values="x", result="pass")))
    assert (check.kind, check.passed) == ("saturation", None)


@pytest.mark.parametrize("text", ["Saturation", "film saturated", "SATURATED!"])
def test_whatever_speaks_of_saturation_is_one(text: str) -> None:
    assert only(read(row(check=text))).kind == "saturation"


@pytest.mark.parametrize("cells", [{"temperature_c": "warm"}, {"certificate": "last year"}])
def test_a_temperature_or_date_that_cannot_be_read_fails_no_check(cells: dict[str, str]) -> None:
    log = read(row(result="pass", **cells))
    assert only(log).passed is True
    assert len(log.problems) == 1


def test_checks_that_overlap_are_told() -> None:
    log = read(row(minutes="10"), row(check="span", start="2026-03-02T07:29"))
    assert [one.where for one in log.problems] == ["log.csv, row 3"]
    assert "overlaps the zero-air of log.csv, row 2" in log.problems[0].message
    assert read(row(minutes="10"), row(check="span", start="2026-03-02T07:30")).problems == ()
    assert read(row(minutes="10"), row(instrument="B", check="span")).problems == ()
    assert len(read(row(), row()).problems) == 1  # the same row twice


def test_contradictions_about_an_instrument_are_told() -> None:
    log = read(
        row(serial="1", certificate="2025-09-01"),
        row(serial="2", certificate="2025-10-01", start="2026-03-02T08:00", principle="AA"),
        row(serial="1", instrument="B", start="2026-03-02T09:00"),
    )
    said = " | ".join(one.message for one in log.problems)
    assert "more than one serial: 1 and 2" in said
    assert "more than one certificate date, the oldest counts: 2025-09-01 and 2025-10-01" in said
    assert "more than one principle" in said
    first = log.instruments[0]
    assert (first.principle, first.certificate) == (None, date(2025, 9, 1))
    assert "serial" in said


def test_one_instrument_may_be_spelled_in_two_ways() -> None:
    log = read(row(instrument="Film  one"), row(instrument="film one", start="2026-03-02T09:00"))
    assert [one.name for one in log.instruments] == ["Film one"]
    assert len(log.of("Film one")) == 2


def test_times_with_and_without_a_zone_in_one_log_are_told() -> None:
    log = read(row(), row(start="2026-03-02T08:00+02:00"), row(start="2026-03-02T09:00"))
    assert len(log.checks) == 3
    assert "zone" in log.problems[0].message


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04rest", "not a text table"),
        (b"\x00\x01\x02", "not a text table"),
        (b"instrument,check,start\n", "no row"),
        (b"instrument,check,start\n" + b"A,span,2026-03-02T07:00\n" * 20_001, "20001 rows"),
        (b"instrument,start\nA,2026-03-02T07:00\n", "no column 'check'"),
        (b"check,result\nspan,pass\n", "no column 'instrument' and no column 'start'"),
        (b"instrument,check,check,start\nA,span,span,2026-03-02T07:00\n", "stands twice"),
    ],
)
def test_a_file_that_is_no_log_is_refused_in_one_line(data: bytes, says: str) -> None:
    with pytest.raises(ReadingsError, match=says) as caught:
        read_log(data, where="log.csv")
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("log.csv")


def test_a_column_that_is_not_read_is_told() -> None:
    log = read(f"A,span,{AT},2", header="instrument,check,start,referense")
    assert log.problems[0].todo == "did you mean 'reference'?"


@given(st.binary(max_size=200))
def test_no_bytes_make_the_reader_crash(data: bytes) -> None:
    try:
        read_log(data, where="log.csv")
    except HgmapError:
        return


CELL = st.one_of(
    # no commas, quotation marks or line ends: the test counts the lines itself
    st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"), exclude_characters=',"'),
            max_size=12),
    st.sampled_from(["span", "zero-air", "regeneration", AT, "0001-01-01T00:00", "pass", "0 0 0",
                     "9999-12-31T23:59", "9999-12-31T23:59+14:00", "0001-01-01T00:00-12:00", "2",
                     "nan", "inf", "ng/m3", "saturation"]),
)  # fmt: skip


@given(st.lists(st.lists(CELL, min_size=15, max_size=15), min_size=1, max_size=4))
def test_no_row_is_lost_without_a_word(rows: list[list[Any]]) -> None:
    lines = [",".join(cells) for cells in rows]
    try:
        log = read(*lines)
    except HgmapError:
        return
    told = {one.where for one in log.problems} | {one.where for one in log.checks}
    written = "\n".join([HEADER, *lines]).splitlines()
    lost = [
        number
        for number, line in enumerate(written[1:], start=2)
        if line.replace(",", "").strip() and f"log.csv, row {number}" not in told
    ]
    assert not lost or any("quotation" in one.todo for one in log.problems)


@given(st.lists(st.lists(CELL, min_size=15, max_size=15), min_size=1, max_size=6))
def test_whatever_log_is_read_can_be_judged_by(rows: list[list[Any]]) -> None:
    usual = ["A", "gold film", "", "", "span", AT]
    lines = [",".join([*usual, *cells[6:]]) for cells in rows]
    lines += [",".join(["A", "gold film", *cells[2:]]) for cells in rows]
    try:
        log = read(*lines)
    except HgmapError:
        return
    held_spans(log, load_rules(), 1.0)
    verdicts = LogVerdicts(log, load_rules(), None, {"before": date(2026, 3, 2)}, "air")
    for time in (None, datetime.min, datetime(2026, 3, 2, 9), datetime.max):
        found = verdicts.of("reading", "A", time, "before")
        assert math.isfinite(found.error(0.4))
        assert found.held  # such logs never vouch for anything
