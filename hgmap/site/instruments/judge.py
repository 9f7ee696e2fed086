"""Whether the instrument was fit to read when each reading was taken.

A reading is judged by the log alone, never by other readings. Its instrument is the one it names,
or the only one of the log. A reading without a time of day is judged by its date, or that of its
round, and a day on which anything went wrong at some hour holds it.

A day of use may pass midnight: see :mod:`hgmap.site.instruments.days`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from math import hypot

from hgmap.site.instruments.clock import is_date_only, log_zone, on_clock
from hgmap.site.instruments.error import error_ug_m3
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.spans import days_by_instrument
from hgmap.site.instruments.timeline import Segment, Timeline, segment, timeline
from hgmap.site.instruments.without_rule import (
    NO_CHECK,
    NO_LOG,
    NO_TIME,
    NOT_IN_LOG,
    TIME_ZONE,
    WHICH_INSTRUMENT,
)
from hgmap.site.model import Medium
from hgmap.site.reading import Finding, Reading

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
    "only one of the log and the reading states a time zone: compared as written",
)


def judge_readings(
    readings: Sequence[Reading],
    log: InstrumentLog | None,
    rules: InstrumentRules,
    level_ug_m3: float | None,
    round_dates: Mapping[str, date | None],
    medium: Medium,
) -> list[Reading]:
    """Return the readings with what the instrument log says of each, and their error.

    Parameters
    ----------
    readings : sequence of Reading
        Not judged before. Those of a laboratory, and field blanks that name no instrument, are
        left as they are, and so is everything that is not air.
    log : InstrumentLog or None
        None: the site has none, a caution. A log that could not be read is one without
        instruments: it holds everything.
    rules : InstrumentRules
        See :func:`hgmap.site.instruments.rules.load_rules`.
    level_ug_m3 : float or None
        The level in force (µg/m³).
    round_dates : mapping
        Date of each round, by its name.
    medium : {"air", "surface", "bulk"}
        What the site measures.
    """
    return list(judge_each(readings, log, rules, level_ug_m3, round_dates, medium))


def judge_each(
    readings: Iterable[Reading],
    log: InstrumentLog | None,
    rules: InstrumentRules,
    level_ug_m3: float | None,
    round_dates: Mapping[str, date | None],
    medium: Medium,
) -> Iterator[Reading]:
    """Go through the readings as :func:`judge_readings` does, without keeping them."""
    if medium != "air":
        yield from readings
        return
    court = None if log is None else _Court(log, rules, level_ug_m3, round_dates)
    for reading in readings:
        kind = reading.kind
        if kind == "laboratory" or (kind == "field blank" and not reading.instrument):
            yield reading
            continue
        found = _NO_LOG if court is None else court.segment_of(reading)
        yield reading if found.quiet else _told(reading, found)


def _told(reading: Reading, found: Segment) -> Reading:
    error, concentration = reading.error, reading.concentration
    if concentration is not None and (found.zero_square or found.span_square):
        own = error_ug_m3(found.zero_square, found.span_square, concentration)
        error = hypot(error, own) if error else own
    elif not found.findings:
        return reading
    return reading.with_verdict(
        held=reading.held + found.held,
        cautions=reading.cautions + found.cautions,
        error=error,
        findings=reading.findings + found.findings,
    )


class _Court:
    """The log, ready to be asked about a million readings: every answer is kept."""

    def __init__(
        self,
        log: InstrumentLog,
        rules: InstrumentRules,
        level_ug_m3: float | None,
        round_dates: Mapping[str, date | None],
    ) -> None:
        self._log = log
        self._round_dates = round_dates
        self._zone = log_zone(log.checks)
        self._timelines = {
            name: timeline(name, days, rules, level_ug_m3)
            for name, days in days_by_instrument(log, rules, level_ug_m3).items()
        }
        self._by_name: dict[str, Timeline | Segment] = {}
        self._no_check: dict[tuple[str, date], Segment] = {}
        self._more: dict[tuple[int, str], Segment] = {}

    def segment_of(self, reading: Reading) -> Segment:
        """Return what the log says of one reading."""
        name = reading.instrument
        found = self._by_name.get(name)
        if found is None:
            found = self._by_name[name] = self._find(name)
        if isinstance(found, Segment):
            return found
        time = reading.time
        if time is None:
            return self._on_date(found, self._round_dates.get(reading.round))
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
        return self._with(here, _ONE_ZONE)

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
