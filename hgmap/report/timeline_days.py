"""What stands on the timeline of one analyser on one day, before anything is drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Final, TypeAlias

from hgmap.site.instruments.clock import is_date_only
from hgmap.site.instruments.model import Check, InstrumentLog
from hgmap.site.quality.figures import clock
from hgmap.site.reading import Reading, Verdict

HeldSpan: TypeAlias = tuple[str, datetime, datetime, str]
"""Instrument, start, end, and why its readings between them are held."""

NO_NAME: Final = "instrument not stated"


@dataclass
class Day:
    """One analyser on one day; times are those of the clock on the wall.

    Attributes
    ----------
    readings : list of (time, verdict)
    checks : list of Check
    spans : list of (start, end, why)
        Cut at the ends of the day.
    """

    instrument: str
    day: date
    readings: list[tuple[datetime, Verdict]] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    spans: list[tuple[datetime, datetime, str]] = field(default_factory=list)

    @property
    def counts(self) -> Counter[Verdict]:
        """How many readings of each verdict."""
        return Counter(verdict for _, verdict in self.readings)

    def hours(self) -> tuple[float, float]:
        """Return the first and the last hour of the day that anything happens at."""
        midnight = datetime.combine(self.day, time())
        moments = [
            *(when for when, _ in self.readings),
            *(when for one in self.checks for when in (clock(one.start), clock(one.end))),
            *(when for start, end, _ in self.spans for when in (start, end)),
        ]
        found = [min(max((one - midnight).total_seconds() / 3600.0, 0.0), 24.0) for one in moments]
        return min(found), max(found)


def days_of(
    readings: Iterable[Reading], log: InstrumentLog | None, spans: Sequence[HeldSpan]
) -> tuple[list[Day], int]:
    """Gather readings, checks and held spans by analyser and day.

    A reading that names no analyser goes with the only one of the log. Days on which nothing was
    read are left out where any day has a reading: the log may be that of many rounds. A span over
    midnight stands on every day that is left.

    Returns
    -------
    list of Day
        By day, then by name.
    int
        Readings without a time of day, which stand on none.
    """
    only = log.instruments[0].name if log is not None and len(log.instruments) == 1 else NO_NAME
    names = {} if log is None else {one.serial: one.name for one in log.instruments if one.serial}
    days: dict[tuple[str, date], Day] = {}
    without = 0

    def day(instrument: str, when: datetime) -> Day:
        name = names.get(instrument, instrument) or only
        return days.setdefault((name, when.date()), Day(name, when.date()))

    for one in readings:
        if one.time is None or is_date_only(one.time):
            without += 1
            continue
        when = clock(one.time)
        day(one.instrument, when).readings.append((when, one.verdict))
    for check in log.checks if log is not None else ():
        day(check.instrument, clock(check.start)).checks.append(check)
    read = {one.day for one in days.values() if one.readings}
    days = {key: one for key, one in days.items() if not read or one.day in read}
    for instrument, start, end, why in spans:
        for found in days.values():
            midnight = datetime.combine(found.day, time())
            first = max(clock(start), midnight)
            last = min(clock(end), midnight + timedelta(days=1))
            if found.instrument == (names.get(instrument, instrument) or only) and first <= last:
                found.spans.append((first, last, why))
    return sorted(days.values(), key=lambda one: (one.day, one.instrument)), without
