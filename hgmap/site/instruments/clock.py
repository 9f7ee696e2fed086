"""One clock for a log and its readings, with or without time zones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone, tzinfo

from hgmap.site.instruments.model import Check


def log_zone(checks: Sequence[Check]) -> tzinfo | None:
    """Return the zone that the log counts in: the lowest offset written in it; None: no zone.

    A fixed offset: the log's clock does not jump when summer time begins.
    """
    offsets = [offset for one in checks if (offset := one.start.utcoffset()) is not None]
    return timezone(min(offsets)) if offsets else None


def on_clock(time: datetime, zone: tzinfo | None) -> datetime:
    """Return a time without zone on the clock of the log.

    A time that states no zone, or one held against a log that states none, is taken as written:
    the people who wrote both stood in one building.
    """
    if time.tzinfo is None:
        return time
    if zone is None:
        return time.replace(tzinfo=None)
    try:
        return time.astimezone(zone).replace(tzinfo=None)
    except OverflowError:  # the first or last day of the calendar
        return time.replace(tzinfo=None)


def checks_on_clock(checks: Sequence[Check], zone: tzinfo | None) -> list[Check]:
    """Return the checks with times on the log's clock, in an order that no row number decides."""
    clocked = [
        replace(one, start=on_clock(one.start, zone), end=on_clock(one.end, zone)) for one in checks
    ]
    clocked = [one if one.end >= one.start else replace(one, end=one.start) for one in clocked]
    return sorted(clocked, key=_order)


def _order(check: Check) -> tuple[object, ...]:
    return (
        check.start,
        check.end,
        check.kind,
        check.values,
        check.spacing_s or 0.0,
        check.reference or 0.0,
        {None: 1, True: 2, False: 0}[check.passed],
        check.note,
    )


def after(time: datetime, minutes: float) -> datetime:
    """Return the time that many minutes later; the end of the calendar where there is none.

    Minutes below zero: earlier, and the beginning of the calendar.
    """
    try:
        return time + timedelta(minutes=minutes)
    except OverflowError:
        return datetime.max if minutes > 0 else datetime.min


def is_date_only(when: datetime) -> bool:
    """Tell whether a time is a date of which nobody wrote the hour: midnight to the microsecond."""
    return not (when.hour or when.minute or when.second or when.microsecond)
