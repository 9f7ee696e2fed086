"""Whether the instrument was fit to read when each reading was taken.

A reading is judged by the log alone, never by other readings. Its instrument is the one it names,
or the only one of the log. A reading without a time is judged by the date of its round, and a day
on which anything went wrong at some hour holds it.

A day of use may pass midnight: see :mod:`hgmap.site.instruments.days`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.verdicts import LogVerdicts
from hgmap.site.model import Medium
from hgmap.site.reading import Reading


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
    verdicts = LogVerdicts(log, rules, level_ug_m3, round_dates, medium)
    for reading in readings:
        found = verdicts.of(reading.kind, reading.instrument, reading.time, reading.round)
        if found.quiet:
            yield reading
            continue
        error = found.error(reading.concentration, reading.error)
        if error == reading.error and not found.findings:
            yield reading
            continue
        yield reading.with_verdict(
            held=reading.held + found.held,
            cautions=reading.cautions + found.cautions,
            error=error,
            findings=reading.findings + found.findings,
        )
