"""What the log says of a reading, from its instrument, its time and its round."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from hgmap.site.instruments.clock import after, is_date_only, log_zone, on_clock
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.spans import days_by_instrument
from hgmap.site.instruments.timeline import Segment, Timeline, segment, timeline, worst
from hgmap.site.instruments.without_rule import (
    NO_CHECK,
    NO_LOG,
    NO_TIME,
    NOT_IN_LOG,
    TIME_ZONE,
    WHICH_INSTRUMENT,
)
from hgmap.site.model import Medium
from hgmap.site.reading import Finding, ReadingKind

_NOT_JUDGED = segment([])
_NO_LOG = segment(
    [
        Finding(
            "caution",
            NO_LOG,
            "no instrument log: nobody can say whether the instrument was fit to read",
        )
    ]
)
_NO_TIME_NO_DATE = segment(
    [Finding("hold", NO_TIME, "neither a time nor a date of the round: no check can vouch for it")]
)
_TIME_NOT_WRITTEN = Finding(
    "caution", NO_TIME, "no time of day: judged by everything that the log says of the day"
)
_ONE_ZONE = Finding(
    "caution",
    TIME_ZONE,
    "only one of the log and the reading states a time zone: compared as written, and by everything"
    " that went wrong within half a day",
)


class LogVerdicts:
    """The log, ready to be asked about a million readings: every answer is kept.

    For parameters see :func:`hgmap.site.instruments.judge.judge_readings`.
    """

    def __init__(
        self,
        log: InstrumentLog | None,
        rules: InstrumentRules,
        level_ug_m3: float | None,
        round_dates: Mapping[str, date | None],
        medium: Medium,
    ) -> None:
        self._air = medium == "air"
        self._missing = log is None
        self._log = log = log or InstrumentLog((), ())
        self._round_dates = round_dates
        self._zone = log_zone(log.checks)
        self._timelines = {
            name: timeline(name, days, rules, level_ug_m3)
            for name, days in days_by_instrument(log, rules, level_ug_m3).items()
        }
        self._by_name: dict[str, Timeline | Segment] = {}
        self._no_check: dict[tuple[str, date], Segment] = {}
        self._more: dict[tuple[int, str], Segment] = {}

    def of(
        self, kind: ReadingKind, instrument: str, time: datetime | None, round_name: str
    ) -> Segment:
        """Return what the log says of a reading of this kind, by this instrument, at this time."""
        if (
            not self._air
            or kind == "laboratory"
            or (kind == "field blank" and not instrument.strip())
        ):
            return _NOT_JUDGED
        if self._missing:
            return _NO_LOG
        name = instrument
        found = self._by_name.get(name)
        if found is None:
            found = self._by_name[name] = self._find(name)
        if isinstance(found, Segment):
            return found
        if time is None:
            return self._on_date(found, self._round_dates.get(round_name))
        if is_date_only(time):
            return self._on_date(found, time.date())
        if time.tzinfo is None and self._zone is None:
            return found.at(time) or self._nothing_on(found.name, time.date())
        return self._across_zones(found, time)

    def _find(self, name: str) -> Timeline | Segment:
        if name.strip():
            one = self._log.instrument(name)
            if one is not None:
                return self._timelines[one.name]
            return segment(
                [Finding("hold", NOT_IN_LOG, f"instrument {name!r} is not in the instrument log")]
            )
        if len(self._timelines) == 1:
            return next(iter(self._timelines.values()))
        if not self._timelines:
            return segment(
                [Finding("hold", NO_CHECK, "the instrument log has no check that can be read")]
            )
        names = ", ".join(repr(one) for one in sorted(self._timelines))
        return segment(
            [Finding("hold", WHICH_INSTRUMENT, f"which instrument? the log has {names}")]
        )

    def _on_date(self, found: Timeline, on: date | None) -> Segment:
        if on is None:
            return _NO_TIME_NO_DATE
        day = found.on_date.get(on)
        if day is None:
            return self._nothing_on(found.name, on)
        return self._with(day, _TIME_NOT_WRITTEN)

    def _across_zones(self, found: Timeline, time: datetime) -> Segment:
        clocked = on_clock(time, self._zone)
        here = found.at(clocked) or self._nothing_on(found.name, clocked.date())
        if (time.tzinfo is None) == (self._zone is None):
            return here
        return self._at_any_hour(found, clocked, here)

    def _at_any_hour(self, found: Timeline, clocked: datetime, here: Segment) -> Segment:
        """Join what is said as written with all that went wrong on a day it may have been."""
        days = dict.fromkeys(after(clocked, hours * 60.0).date() for hours in (-12, 0, 12))
        key = id(here), "".join(str(one) for one in days)
        more = self._more.get(key)
        if more is None:
            whole = [day for one in days if (day := found.on_date.get(one)) is not None]
            more = self._more[key] = worst([here, *whole]).and_also(_ONE_ZONE)
        return more

    def _with(self, here: Segment, finding: Finding) -> Segment:
        # segments live as long as this object: their ids do not come again
        key = id(here), finding.rule
        more = self._more.get(key)
        if more is None:
            more = self._more[key] = here.and_also(finding)
        return more

    def _nothing_on(self, name: str, on: date) -> Segment:
        key = name, on
        found = self._no_check.get(key)
        if found is None:
            finding = Finding("hold", NO_CHECK, f"no check of {name!r} in the log on {on:%Y-%m-%d}")
            found = self._no_check[key] = segment([finding])
        return found
