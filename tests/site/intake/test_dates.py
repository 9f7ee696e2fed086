"""Dates: the order of day and month is proven, said, or asked; never guessed."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.intake.dates import date_order, join_date_and_time, parse_time

MOMENTS = st.datetimes(datetime(1970, 1, 1), datetime(2069, 12, 31)).map(
    lambda moment: moment.replace(second=0, microsecond=0)
)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02T09:05",
        "2026-03-02 09:05:00",
        "2026-03-02T09:05:00+01:00",
        "2026/3/2 9:05",
        "2 Mar 2026 9:05",
        "2nd March 2026, 9.05",
        "Mar 2, 2026 9:05 AM",
        "2-Mar-26 09:05",
        "Mon 2 Mar 2026 9:05 a.m.",
    ],
)
def test_a_date_that_has_one_meaning_needs_no_order(text: str) -> None:
    for order in (None, "day-first", "month-first"):
        found = parse_time(text, order)
        assert found == datetime(2026, 3, 2, 9, 5)


@pytest.mark.parametrize(
    ("text", "day_first", "month_first"),
    [
        ("02/03/2026 9:05", datetime(2026, 3, 2, 9, 5), datetime(2026, 2, 3, 9, 5)),
        ("2.3.2026", datetime(2026, 3, 2), datetime(2026, 2, 3)),
        ("3/2/26 2:15 PM", datetime(2026, 2, 3, 14, 15), datetime(2026, 3, 2, 14, 15)),
        ("3/2/26 12:15 am", datetime(2026, 2, 3, 0, 15), datetime(2026, 3, 2, 0, 15)),
        ("2-3-2026 14:05:30", datetime(2026, 3, 2, 14, 5, 30), datetime(2026, 2, 3, 14, 5, 30)),
    ],
)
def test_day_and_month_go_by_the_order_that_was_said(
    text: str, day_first: datetime, month_first: datetime
) -> None:
    assert parse_time(text, "day-first") == day_first
    assert parse_time(text, "month-first") == month_first
    held = parse_time(text, None)
    assert isinstance(held, str)
    assert "is the day first or the month?" in held


def test_a_date_that_proves_its_own_order_is_read() -> None:
    assert parse_time("13/03/2026", None) == datetime(2026, 3, 13)
    assert parse_time("03/13/2026", None) == datetime(2026, 3, 13)
    assert parse_time("3/3/2026", None) == datetime(2026, 3, 3)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no time"),
        ("46083.4", "a number, not a date"),
        ("46083", "a number, not a date"),
        ("9:05", "without a date"),
        ("31/02/2026", "no day 31 in month 2 of 2026"),
        ("13/13/2026", "no day 13 in month 13"),
        ("2026-02-30", "no day 30"),
        ("26-03-02", "four digits"),
        ("2 Foo 2026", "no month 'Foo'"),
        ("2/3/2026 25:00", "not a time of day"),
        ("2/3/2026 13:15 PM", "not a time of day"),
        ("2/3/2026 noonish", "not a time of day"),
        ("2026-03-02T09:30Z", "universal time"),
        ("0001-01-01", "year 1 cannot be"),
        ("yesterday", "not a date"),
        ("2" * 500, "not a date"),
    ],
)
def test_what_is_no_time_says_why(text: str, why: str) -> None:
    found = parse_time(text, "day-first")
    assert isinstance(found, str)
    assert why in found


def test_a_column_proves_its_order() -> None:
    assert date_order(["02/03/2026", "13/03/2026 9:05"]).order == "day-first"
    assert date_order(["02/03/2026", "03/13/2026"]).order == "month-first"
    assert date_order(["2026-03-02", "", "2 Mar 2026", "3/3/2026"]).question == ""


def test_a_column_that_proves_nothing_is_a_question() -> None:
    found = date_order(["2026-03-02", "02/03/2026"])
    assert found.order is None
    assert found.question == "'02/03/2026': is the day first or the month?"


def test_a_column_that_contradicts_itself_is_a_question() -> None:
    found = date_order(["13/03/2026", "03/14/2026"])
    assert found.order is None
    assert "'13/03/2026' has the day first, '03/14/2026' the month" in found.question


@pytest.mark.parametrize(
    ("day", "clock", "joined"),
    [
        ("2026-03-02", "9:05", "2026-03-02 9:05"),
        ("2026-03-02 00:00:00", "1899-12-30 09:05:00", "2026-03-02 09:05:00"),
        ("02/03/2026", "", "02/03/2026"),
        ("2026-03-02T00:00", "09:05", "2026-03-02 09:05"),
    ],
)
def test_the_cells_of_two_columns_are_joined(day: str, clock: str, joined: str) -> None:
    assert join_date_and_time(day, clock) == joined


@given(st.text(max_size=40) | st.text("0123456789/.-: apmTZ", max_size=20))
def test_no_text_makes_it_raise(text: str) -> None:
    for order in (None, "day-first", "month-first"):
        assert isinstance(parse_time(text, order), datetime | str)
    assert isinstance(date_order([text, "13/01/2026"]).question, str)
    join_date_and_time(text, text)


@given(MOMENTS)
def test_any_moment_that_is_written_is_read_back(moment: datetime) -> None:
    clock = f"{moment:%H:%M}"
    assert parse_time(moment.isoformat(), None) == moment
    assert parse_time(f"{moment:%d/%m/%Y} {clock}", "day-first") == moment
    assert parse_time(f"{moment:%m/%d/%y} {clock}", "month-first") == moment
    assert parse_time(f"{moment:%d.%m.%Y %I:%M %p}", "day-first") == moment
    assert parse_time(f"{moment:%d %b %Y} {clock}", None) == moment


@given(st.lists(MOMENTS, min_size=1, max_size=5))
def test_a_column_in_one_order_never_proves_the_other(moments: list[datetime]) -> None:
    found = date_order([f"{one:%d/%m/%Y}" for one in moments])
    assert found.order != "month-first"
    twelve_days = [moments[0].replace(day=1) + timedelta(days=k) for k in range(20)]
    assert date_order([f"{one:%d/%m/%Y}" for one in twelve_days]).order == "day-first"
