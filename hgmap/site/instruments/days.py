"""Days of use: which checks of an instrument belong together, past midnight where work goes on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

from hgmap.site.instruments.clock import after
from hgmap.site.instruments.model import Check, Doubt, Instrument
from hgmap.site.instruments.rules import Rule
from hgmap.site.instruments.span import HeldSpan

REST_H: Final = 4.0
"""Checks on two dates with a longer rest between them belong to two days of use, and so does a
regeneration or warm-up after such a rest that follows an end-of-day check (chosen for hgmap)."""

LONGEST_H: Final = 24.0
"""No day of use is longer: a check this long after the first one begins another."""


@dataclass(frozen=True, slots=True)
class DayOfUse:
    """The checks of one instrument from taking it up to putting it away.

    Attributes
    ----------
    begins, ends : datetime
        What it says something about: whole dates, cut where another day of use meets it.
    first, last : date
        Dates that it touches.
    checks : tuple of Check
        In the order of their start, on the clock of the log.
    vouched : bool
        Whether any of them did not fail.
    doubts : tuple of Doubt
        What the log leaves open about it.
    """

    instrument: Instrument
    begins: datetime
    ends: datetime
    first: date
    last: date
    checks: tuple[Check, ...]
    vouched: bool = True
    doubts: tuple[Doubt, ...] = ()

    def of(self, *kinds: str) -> list[Check]:
        """Return the checks of these kinds."""
        return [one for one in self.checks if one.kind in kinds]

    def done(self, kind: str) -> list[Check]:
        """Return the checks of a kind that were not written as failed."""
        return [one for one in self.checks if one.kind == kind and one.passed is not False]

    def whole(self, rule: Rule, message: str, rows: Sequence[Check] = ()) -> HeldSpan:
        """Return what a rule says of the whole day."""
        return HeldSpan(self.begins, self.ends, rule.finding(message, rows_of(rows)))


def rows_of(checks: Sequence[Check]) -> tuple[str, ...]:
    """Return file and row of some checks; after six, how many more there are."""
    rows = [one.where for one in checks if one.where]
    return tuple(rows[:6]) + ((f"and {len(rows) - 6} rows more",) if len(rows) > 6 else ())


def days_of_use(
    instrument: Instrument, checks: Sequence[Check], failed: Callable[[Check], bool]
) -> list[DayOfUse]:
    """Part the checks of one instrument into days of use.

    Only checks that did not fail join one date to the next: a failed one never lengthens a day,
    so that it never lends readings the closing check of another.

    Parameters
    ----------
    checks : sequence of Check
        In the order of their start, on the clock of the log.
    """
    groups: list[list[Check]] = []
    loose: list[Check] = []
    latest = datetime.min
    for check in checks:
        if failed(check):
            loose.append(check)
            continue
        if not groups or _another(groups[-1], latest, check):
            groups.append([])
            latest = check.end
        groups[-1].append(check)
        latest = max(latest, check.end)
    days = [_day(instrument, group) for group in groups]
    for i in range(1, len(days)):
        if days[i - 1].ends > days[i].begins:
            cut = groups[i][0].start
            days[i - 1] = _within(days[i - 1], days[i - 1].begins, cut)
            days[i] = _within(days[i], cut, days[i].ends)
    return sorted(_with_loose(instrument, days, loose), key=lambda day: day.begins)


def _another(group: Sequence[Check], latest: datetime, check: Check) -> bool:
    if check.start - group[0].start >= timedelta(hours=LONGEST_H):
        return True
    if check.start - latest <= timedelta(hours=REST_H):
        return False
    if check.start.date() != latest.date():
        return True
    closed = any(one.kind == "end-of-day" for one in group)
    return closed and check.kind in ("regeneration", "warm-up")


def _day(instrument: Instrument, group: Sequence[Check], *, vouched: bool = True) -> DayOfUse:
    first = group[0].start.date()
    last = max(one.end for one in group).date() if vouched else first
    return DayOfUse(
        instrument=instrument,
        begins=datetime.combine(first, time.min),
        ends=after(datetime.combine(last, time.min), 24 * 60.0),
        first=first,
        last=last,
        checks=tuple(group),
        vouched=vouched,
    )


def _within(day: DayOfUse, begins: datetime, ends: datetime) -> DayOfUse:
    return DayOfUse(
        day.instrument, begins, ends, day.first, day.last, day.checks, vouched=day.vouched
    )


def _with_loose(
    instrument: Instrument, days: Sequence[DayOfUse], loose: Sequence[Check]
) -> list[DayOfUse]:
    """Put the checks that failed into the day they fall in; else they make a day of their own."""
    extra: list[list[Check]] = [[] for _ in days]
    alone: dict[date, list[Check]] = {}
    i = 0
    for check in loose:
        while i < len(days) and days[i].ends <= check.start:
            i += 1
        if i < len(days) and days[i].begins <= check.start:
            extra[i].append(check)
        else:
            alone.setdefault(check.start.date(), []).append(check)
    full = [
        DayOfUse(
            day.instrument,
            day.begins,
            day.ends,
            day.first,
            day.last,
            tuple(sorted((*day.checks, *more), key=lambda one: (one.start, one.end))),
        )
        for day, more in zip(days, extra, strict=True)
    ]
    return full + [_day(instrument, group, vouched=False) for group in alone.values()]
