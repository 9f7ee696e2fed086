"""How what is read at one fixed point wanders over a day."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.quality.figures import clock, figure, signed
from hgmap.site.quality.places import at_one_place
from hgmap.site.quality.statistics import fit_line
from hgmap.site.reading import Reading

FEWEST: Final = 3
FEWEST_OF_CONTROL: Final = 2
"""A control point is read to show drift: an opening and a closing value say something already."""

CONTROL: Final = "control point"
LEAST_H: Final = 1.0
"""Values over a shorter time repeat each other and show no drift: a limit of ours, no source."""

MOST_PERCENT: Final = 20.0
"""A day on which any value lies farther than this from the first is flagged: common practice
(end-of-day drift of 10 to 20 %), no source."""


@dataclass(frozen=True, slots=True)
class Drift:
    """What one fixed point read over one day.

    Attributes
    ----------
    point : str
        Which point: the log's, with the instrument, or the ids of the readings.
    day : date
    n : int
    slope_per_h, slope_error_per_h : float
        Of a straight line through all of them (computing unit per hour), and its standard error,
        which is NaN for two values.
    change_percent, farthest_percent : float
        From the first to the last, and to the one farthest from the first, as a share of the
        first; of the highest where the first is 0.
    flagged : bool
    text : str
    """

    point: str
    day: date
    n: int
    slope_per_h: float
    slope_error_per_h: float
    change_percent: float
    farthest_percent: float
    flagged: bool
    text: str


def drifts(readings: Iterable[Reading], log: InstrumentLog | None, unit: str) -> tuple[Drift, ...]:
    """Find every point that was read again and again in one day, and how its values went.

    Readings of one place by one instrument, three or more (usable plain numbers above zero with a
    time), and the log's checks of kind ``control point``, two or more.

    Parameters
    ----------
    readings : iterable of Reading
    log : InstrumentLog or None
    unit : str
        The computing unit, for the words.
    """
    series: dict[tuple[str, str, date], list[tuple[datetime, float, str]]] = {}
    plain = [
        one for one in readings
        if one.usable and one.qualifier in ("", "~") and one.time is not None and one.concentration
    ]  # fmt: skip
    for number, group in enumerate(at_one_place(plain, least=FEWEST)):
        for one in group:
            if one.time is not None and one.concentration is not None:
                time = clock(one.time)
                key = (f"place {number}", one.instrument, time.date())
                series.setdefault(key, []).append((time, one.concentration, one.id))
    for check in log.checks if log is not None else ():
        values = [value for value in check.values if math.isfinite(value)]
        if check.kind == CONTROL and values and check.passed is not False:
            time = clock(check.start)
            key = (CONTROL, check.instrument, time.date())
            series.setdefault(key, []).append((time, math.fsum(values) / len(values), ""))
    found = [
        _drift(instrument, day, sorted(values), unit)
        for (kind, instrument, day), values in series.items()
        if len(values) >= (FEWEST_OF_CONTROL if kind == CONTROL else FEWEST)
    ]
    return tuple(
        sorted((one for one in found if one is not None), key=lambda one: (one.day, one.point))
    )


def _drift(
    instrument: str, day: date, values: Sequence[tuple[datetime, float, str]], unit: str
) -> Drift | None:
    start = values[0][0]
    hours = [(time - start).total_seconds() / 3600.0 for time, _, _ in values]
    numbers = [value for _, value, _ in values]
    first, last = numbers[0], numbers[-1]
    if hours[-1] < LEAST_H or min(numbers) < 0.0:
        return None
    line = fit_line(hours, numbers)
    slope = (last - first) / hours[-1] if line is None else line.slope
    error = math.nan if line is None else line.slope_error
    base = first or max(numbers) or 1.0
    change = 100.0 * (last - first) / base
    farthest = max((100.0 * (one - first) / base for one in numbers), key=abs)
    ids = [name for _, _, name in values if name]
    point = f"readings {ids[0]} to {ids[-1]}" if ids else CONTROL
    if instrument:
        point += f", {instrument}"
    flagged = abs(farthest) > MOST_PERCENT * (1.0 + 1e-9)
    peak = f", at most {signed(farthest)} %" if abs(farthest) > abs(change) else ""
    share = f"{signed(change)} %" if first else f"{signed(change)} % of the highest"
    uncertain = f" ± {figure(error)}" if math.isfinite(error) else ""
    text = (
        f"{point}, {day.isoformat()}: {len(values)} values in {figure(hours[-1])} h, "
        f"{figure(first)} to {figure(last)} {unit} ({share}{peak}), slope "
        f"{signed(slope)}{uncertain} {unit} per hour"
    )
    if flagged:
        text += (
            f"; more than {MOST_PERCENT:g} %: the analyser or the air changed; zero-air and span "
            "checks tell which; until then measure again what was read late in the day"
        )
    return Drift(point, day, len(values), slope, error, change, farthest, flagged, text)
