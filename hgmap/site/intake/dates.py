"""Dates and times as people write them; the order of day and month is proven, said, or asked."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Final, Literal

from hgmap.site.intake.numerals import shown

Order = Literal["day-first", "month-first"]

EARLIEST_YEAR: Final = 1950
LATEST_YEAR: Final = 2100
"""Outside these years a date is a slip."""

LONGEST: Final = 60
TWO_DIGITS_UNTIL: Final = 69
"""26 is 2026 and 70 is 1970, as POSIX has it (value from memory)."""

_MONTHS: Final = {
    name: number
    for number, names in enumerate(
        ("jan january", "feb february", "mar march", "apr april", "may", "jun june", "jul july",
         "aug august", "sep sept september", "oct october", "nov november", "dec december"),
        start=1,
    )
    for name in names.split()
}  # fmt: skip
_CLOCK: Final = re.compile(
    r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d{1,9})?)?)?"
    r"\s*(?P<half>[ap]\.?m\.?)?",
    re.IGNORECASE,
)
_NUMERIC: Final = re.compile(r"(\d{1,4})([/.-])\s?(\d{1,2})\2\s?(\d{1,4})")
_DAY_MONTH: Final = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[\s.-]+([a-z]{3,9})\.?,?[\s-]+(\d{4}|\d{2})", re.IGNORECASE
)
_MONTH_DAY: Final = re.compile(
    r"([a-z]{3,9})\.?[\s-]+(\d{1,2})(?:st|nd|rd|th)?,?[\s-]+(\d{4})", re.IGNORECASE
)
_WEEKDAY: Final = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]{0,6}\.?,?\s+", re.IGNORECASE)
_MIDNIGHT: Final = re.compile(r"[ T]00:00(?::00(?:\.0+)?)?$")
_NO_DATE: Final = re.compile(r"^(?:1899-12-3[01]|1900-01-0[01])[ T]")


@dataclass(frozen=True, slots=True)
class DateOrder:
    """What the dates of a column prove.

    Each is the first cell that proves it, else empty; ``open`` is the first one that needs the
    order to be known.
    """

    day_first: str = ""
    month_first: str = ""
    open: str = ""

    @property
    def order(self) -> Order | None:
        """The order where it is proven and nothing contradicts it."""
        if self.contradiction:
            return None
        return "day-first" if self.day_first else "month-first" if self.month_first else None

    @property
    def contradiction(self) -> str:
        """Two cells that cannot have one order, in words; empty where there are none."""
        if not (self.day_first and self.month_first):
            return ""
        return f"{self.day_first!r} has the day first, {self.month_first!r} the month"

    @property
    def question(self) -> str:
        """What has to be asked; empty where nothing has."""
        if self.contradiction:
            return self.contradiction
        if self.order is None and self.open:
            return f"{self.open!r}: is the day first or the month?"
        return ""


def date_order(cells: Iterable[str]) -> DateOrder:
    """Find out from all dates of a column which comes first.

    Examples
    --------
    >>> date_order(["02/03/2026", "13/03/2026 9:05"]).order
    'day-first'
    >>> date_order(["02/03/2026"]).question
    "'02/03/2026': is the day first or the month?"
    >>> date_order(["2026-03-02"]).question
    ''
    """
    day_first = month_first = undecided = ""
    for cell in cells:
        match = _NUMERIC.match(_WEEKDAY.sub("", cell.strip())) if len(cell) <= LONGEST else None
        if match is None or len(match[1]) > 2:
            continue
        first, second = int(match[1]), int(match[3])
        if first == second:
            continue
        if first > 12 >= second >= 1:
            day_first = day_first or cell
        elif second > 12 >= first >= 1:
            month_first = month_first or cell
        elif first <= 12 and second <= 12:
            undecided = undecided or cell
    return DateOrder(day_first, month_first, undecided)


def parse_time(text: str, order: Order | None) -> datetime | str:
    """Read a date with or without a time of day: the clock in the building.

    Parameters
    ----------
    text : str
        The cell.
    order : {"day-first", "month-first"} or None
        What its column proves, or a person has said; None: then ``02/03/2026`` is not read.

    Returns
    -------
    datetime or str
        The time without a zone, or why it cannot be told; never raises.

    Examples
    --------
    >>> parse_time("3/2/26 2:15 PM", "month-first")
    datetime.datetime(2026, 3, 2, 14, 15)
    >>> parse_time("02/03/2026", None)
    "time '02/03/2026': is the day first or the month?"
    """
    text = text.strip()
    found = _parsed(text, order) if len(text) <= LONGEST else "not a date"
    if isinstance(found, datetime) and not EARLIEST_YEAR <= found.year <= LATEST_YEAR:
        found = f"year {found.year} cannot be"
    return f"time {shown(text)}: {found}" if isinstance(found, str) else found


def join_date_and_time(date_text: str, time_text: str) -> str:
    """Join the cells of a date column and a time column.

    Spreadsheets give the date a time of midnight, and the time a day in 1899.

    Examples
    --------
    >>> join_date_and_time("2026-03-02 00:00:00", "1899-12-30 09:05:00")
    '2026-03-02 09:05:00'
    """
    day = date_text.strip()
    clock = _NO_DATE.sub("", time_text.strip())
    if not clock:
        return day
    return f"{_MIDNIGHT.sub('', day)} {clock}".strip()


def _parsed(text: str, order: Order | None) -> datetime | str:
    if not text:
        return "no time"
    if (text.isdecimal() and len(text) != 8) or re.fullmatch(r"\d+[.,]\d+", text):
        return "a number, not a date; give the column a date format and export it again"
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return _written(" ".join(_WEEKDAY.sub("", text).split()), order)
    if found.tzinfo is not None:
        if not found.utcoffset():
            return "in universal time; write the time of a clock in the building"
        found = found.replace(tzinfo=None)  # its digits are those of that clock
    return found


def _written(text: str, order: Order | None) -> datetime | str:
    for pattern, reader in ((_NUMERIC, _numeric), (_DAY_MONTH, _named), (_MONTH_DAY, _named)):
        match = pattern.match(text)
        if match is None:
            continue
        day = reader(match, order)
        if isinstance(day, str):
            return day
        clock = _clock(text[match.end() :])
        return clock if isinstance(clock, str) else datetime.combine(day, clock)
    if _CLOCK.fullmatch(text) and not text.isdecimal():
        return "a time of day without a date"
    return "not a date"


def _numeric(match: re.Match[str], order: Order | None) -> date | str:
    first, mark, second, third = match[1], match[2], match[3], match[4]
    if len(first) == 4:
        return _day(first, second, third) if len(third) <= 2 else "not a date"
    if len(first) > 2 or len(third) not in (2, 4) or (len(third) == 2 and mark == "-"):
        return "the year has to have four digits"
    if order is None and int(first) != int(second):
        if max(int(first), int(second)) <= 12:
            return "is the day first or the month?"
        order = "day-first" if int(first) > 12 else "month-first"
    if order == "month-first":
        first, second = second, first
    return _day(third, second, first)


def _named(match: re.Match[str], order: Order | None) -> date | str:
    first, second, year = match[1], match[2], match[3]
    day, name = (first, second) if first.isdecimal() else (second, first)
    month = _MONTHS.get(name.casefold())
    return _day(year, str(month), day) if month is not None else f"no month {name!r}"


def _day(year: str, month: str, day: str) -> date | str:
    whole = int(year)
    if len(year) == 2:
        whole += 2000 if whole <= TWO_DIGITS_UNTIL else 1900
    try:
        return date(whole, int(month), int(day))
    except ValueError:
        return f"no day {int(day)} in month {int(month)} of {whole}"


def _clock(text: str) -> time | str:
    text = text.strip().lstrip("T,").strip()
    if not text:
        return time()
    match = _CLOCK.fullmatch(text)
    if match is None or (match["minute"] is None and match["half"] is None):
        return f"{text!r} is not a time of day"
    hour = int(match["hour"])
    if match["half"]:
        if not 1 <= hour <= 12:
            return f"{text!r} is not a time of day"
        hour = hour % 12 + (12 if match["half"][0] in "pP" else 0)
    try:
        return time(hour, int(match["minute"] or 0), int(match["second"] or 0))
    except ValueError:
        return f"{text!r} is not a time of day"
