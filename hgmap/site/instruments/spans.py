"""What the log says about each instrument over each day, to judge by and to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from functools import partial

from hgmap.site.instruments.clock import checks_on_clock, log_zone
from hgmap.site.instruments.days import DayOfUse, days_of_use, rows_of
from hgmap.site.instruments.error import bracket_spans
from hgmap.site.instruments.film_rules import film_spans
from hgmap.site.instruments.lamp_rules import lamp_spans
from hgmap.site.instruments.model import Check, Doubt, Instrument, InstrumentLog
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.shared_rules import shared_spans
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.tolerance import failed, why_not_zero
from hgmap.site.instruments.without_rule import LOG_DOUBT, NO_CHECK, UNKNOWN_PRINCIPLE
from hgmap.site.reading import Finding


def held_spans(
    log: InstrumentLog, rules: InstrumentRules, level_ug_m3: float | None
) -> dict[tuple[str, date], list[HeldSpan]]:
    """Return what the rules say, by name of the instrument and first date of the day of use.

    The stretches are in the order of their start; they overlap where several rules speak.

    Parameters
    ----------
    log : InstrumentLog
        All checks.
    rules : InstrumentRules
        What they are held against (:func:`hgmap.site.instruments.rules.load_rules`).
    level_ug_m3 : float or None
        The level in force (µg/m³); None: judged as the lowest.
    """
    found: dict[tuple[str, date], list[HeldSpan]] = {}
    for name, days in days_by_instrument(log, rules, level_ug_m3).items():
        for day in days:
            found.setdefault((name, day.first), []).extend(day_spans(day, rules, level_ug_m3))
    return found


def days_by_instrument(
    log: InstrumentLog, rules: InstrumentRules, level_ug_m3: float | None
) -> dict[str, list[DayOfUse]]:
    """Return the days of use of every instrument of the log, by its name, in order."""
    zone = log_zone(log.checks)
    own: dict[str, list[Check]] = {one.name: [] for one in log.instruments}
    for check in log.checks:
        own[check.instrument].append(check)
    return {
        one.name: [
            _with_doubts(day, log.doubts_of(one.name))
            for day in days_of_use(
                one,
                checks_on_clock(own[one.name], zone),
                partial(_no_anchor, one, rules, level_ug_m3),
            )
        ]
        for one in log.instruments
    }


def _doubt(doubts: Sequence[Doubt]) -> Finding:
    """Return one finding for all doubts: a log may have thousands of rows that cannot be read."""
    more = f"; and {len(doubts) - 1} more" if len(doubts) > 1 else ""
    rows = tuple(row for one in doubts[:6] for row in one.rows)
    return Finding("hold", LOG_DOUBT, f"{doubts[0].message}{more}", rows)


def _with_doubts(day: DayOfUse, doubts: Sequence[Doubt]) -> DayOfUse:
    """Return a day of use with those doubts that may be about it."""
    here = [one for one in doubts if one.on is None or day.first <= one.on <= day.last]
    return replace(day, doubts=tuple(here)) if here else day


def _no_anchor(
    instrument: Instrument, rules: InstrumentRules, level_ug_m3: float | None, check: Check
) -> bool:
    if instrument.principle is None:
        return False
    own = rules.of(instrument.principle)
    film = own.get("zero-after-regeneration")
    if film is not None and check.kind == "zero-air" and why_not_zero(check, film):
        return True
    return failed(check, own, level_ug_m3)


def day_spans(day: DayOfUse, rules: InstrumentRules, level_ug_m3: float | None) -> list[HeldSpan]:
    """Return what the rules say about one day of use, in the order of the starts."""
    return sorted(
        (one for one in _spans(day, rules, level_ug_m3) if one.start < one.end),
        key=lambda one: (one.start, one.end, one.finding.rule, one.finding.message),
    )


def _spans(day: DayOfUse, rules: InstrumentRules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    if day.doubts:
        yield HeldSpan(day.begins, day.ends, _doubt(day.doubts))
    principle = day.instrument.principle
    if principle is None:
        finding = Finding(
            "hold",
            UNKNOWN_PRINCIPLE,
            f"the log does not say how {day.instrument.name!r} measures: no rule vouches for it",
            rows_of(day.checks[:1]),
        )
        yield HeldSpan(day.begins, day.ends, finding)
        return
    own = rules.of(principle)
    if not day.vouched:
        finding = Finding(
            "hold", NO_CHECK, "every check of this day of use failed", rows_of(day.checks)
        )
        yield HeldSpan(day.begins, day.ends, finding)
    yield from shared_spans(day, own, level_ug_m3)
    if principle == "gold film":
        yield from film_spans(day, own, level_ug_m3)
    else:
        yield from lamp_spans(day, own, level_ug_m3)
    yield from bracket_spans(day, own["bracket"])
