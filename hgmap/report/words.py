"""Numbers and facts put into words, in the unit of the level as published."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from hgmap.decide.model import Evidence, Zones
from hgmap.site.building import HeightBand
from hgmap.site.model import ActionLevel, Round
from hgmap.site.reading import Reading

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def number(value: float, digits: int = 3) -> str:
    """Write a number with three significant digits and no exponent where that stays short.

    Examples
    --------
    >>> number(0.04999), number(12345.6), number(0.5), number(3e7), number(0.0123, 2)
    ('0.05', '12300', '0.5', '3e+07', '0.012')
    """
    if not math.isfinite(value):
        return "–"
    if value == 0.0:
        return "0"
    if not 1e-5 <= abs(value) < 1e6:
        return f"{value:.{digits}g}"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(0, places)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def square_metres(area_m2: float) -> str:
    """Write an area.

    Examples
    --------
    >>> square_metres(12.44), square_metres(210.4), square_metres(0.0), square_metres(0.02)
    ('12.4 m²', '210 m²', '0 m²', 'under 0.1 m²')
    """
    if area_m2 <= 0.0:
        return "0 m²"
    if area_m2 < 0.1:
        return "under 0.1 m²"
    if area_m2 < 100.0:
        return f"{area_m2:.1f} m²"
    return f"{grouped(area_m2)} m²" if area_m2 < 1e7 else f"{grouped(area_m2 / 1e6)} km²"


def grouped(value: float) -> str:
    """Write a whole number with thin gaps between thousands.

    Examples
    --------
    >>> grouped(1250000.0)
    '1 250 000'
    """
    return f"{value:,.0f}".replace(",", " ")


def metres(value_m: float) -> str:
    """Write a length or height without trailing zeros.

    Examples
    --------
    >>> metres(1.50), metres(0.3), metres(200000.0)
    ('1.5 m', '0.3 m', '200 000 m')
    """
    return f"{grouped(value_m)} m" if value_m >= 1000.0 else f"{value_m:g} m"


def named(names: Sequence[str], most: int = 6) -> str:
    """List names, the first few of many.

    Examples
    --------
    >>> named(["Hall", "Store"]), named(["A", "B", "C", "D"], most=2)
    ('Hall, Store', 'A, B and 2 more')
    """
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def per_cent(share: float) -> str:
    """Write a share of one in per cent.

    Examples
    --------
    >>> per_cent(0.05), per_cent(0.125)
    ('5 %', '12.5 %')
    """
    return f"{100.0 * share:.3g} %"


def chance(probability: float) -> str:
    """Write a probability in per cent; what is nearly nothing or nearly sure is not spelt out.

    Examples
    --------
    >>> chance(3e-11), chance(0.125), chance(0.9999)
    ('below 0.1 %', '12 %', 'above 99.9 %')
    """
    if probability < 0.001:
        return "below 0.1 %"
    if probability > 0.999:
        return "above 99.9 %"
    return f"{100.0 * probability:.2g} %" if probability < 0.995 else f"{100.0 * probability:.3g} %"


def day(when: date | None) -> str:
    """Write a date in full.

    Examples
    --------
    >>> day(date(2026, 3, 2)), day(None)
    ('2 March 2026', 'date not stated')
    """
    return (
        "date not stated" if when is None else f"{when.day} {_MONTHS[when.month - 1]} {when.year}"
    )


def published_per_computed(level: ActionLevel) -> float:
    """Return the factor from the computing unit to the unit that the level is published in."""
    return level.value / level.concentration


def level_value(level: ActionLevel) -> str:
    """Write the value of a level with its unit."""
    return f"{number(level.value)} {level.unit}"


def level_line(level: ActionLevel) -> str:
    """Say for whom a level is, how it is averaged, and who says so."""
    source = f"{level.source}, {level.year}" if level.year is not None else level.source
    parts = (
        level.name,
        f"averaging: {level.averaging or 'not stated'}",
        f"height: {level.height or 'not stated'}",
        f"for: {level.scenario or 'not stated'}",
        f"source: {source or 'not stated'}",
    )
    return "; ".join(part for part in parts if part)


def round_line(round_: Round) -> str:
    """Name a round with its date."""
    return f"{round_.title or round_.name}, {day(round_.date)}"


def band_line(name: str, bands: tuple[HeightBand, ...]) -> str:
    """Name a height band with its heights."""
    band = next((one for one in bands if one.name == name), None)
    if band is None:
        return f"height band {name}" if name else "all heights"
    return f"{band.name}, {band.from_m:g} to {band.to_m:g} m above the floor"


def reading_value(reading: Reading, level: ActionLevel) -> str:
    """Write a reading as it goes beside its mark: ``<0.05`` is a non-detect, ``>999`` saturated.

    ``~150`` was written as approximate, ``100 to 5000`` is a range, ``up to 500`` the highest of
    several. In the unit of the level, with three significant digits; below a tenth of the level
    with two.
    """
    if reading.value is None:
        return "no value"
    if reading.unit == level.unit:
        shown = reading.value
    elif reading.concentration is None:
        return f"{_before(reading, level)}{number(reading.value)} {reading.unit}".rstrip()
    else:
        shown = reading.concentration * published_per_computed(level)
    return _before(reading, level) + _short(shown, reading.qualifier, level.value)


def _before(reading: Reading, level: ActionLevel) -> str:
    """Return what stands before a number; a range without a lower end is the highest of some."""
    if reading.qualifier != "to":
        return "up to " if reading.qualifier == "up to" else reading.qualifier
    low = reading.low
    if reading.unit != level.unit and reading.concentration_low is not None:
        low = reading.concentration_low * published_per_computed(level)
    # downwards, as the upper end is rounded up: what is printed holds all that was written
    return "up to " if low is None else f"{_short(low, '>', level.value)} to "


def _short(value: float, qualifier: str, level: float) -> str:
    """Write a value; rounding never takes it over the level, nor past what is known of it."""
    least = 2 if abs(value) < level / 10.0 else 3
    if not math.isfinite(value) or value == 0.0:
        return number(value)
    for digits in range(least, 9):
        written = _rounded(value, digits, qualifier)
        if (written > level) == (value > level):
            break
    return number(written, digits)


def _rounded(value: float, digits: int, qualifier: str) -> float:
    """Round: a limit that the value is below goes up, one that it is above goes down."""
    step = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    steps = value / step
    near = 1e-9 * abs(steps)
    if qualifier in ("<", "to", "up to"):
        return math.ceil(steps - near) * step
    return (math.floor(steps + near) if qualifier == ">" else round(steps)) * step


def evidence_text(items: tuple[Evidence, ...], level: ActionLevel) -> str:
    """Write the readings of one place: up to three values, else the span and the count."""
    values = [reading_value(item.reading, level) for item in items]
    if len(values) > 3:
        ordered = sorted(
            (item.reading for item in items), key=lambda reading: reading.concentration or 0.0
        )
        low, high = (reading_value(_end(ordered[end], end), level) for end in (0, -1))
        text = f"{low} to {high} ({len(values)}×)"
    else:
        text = "; ".join(values)
    heights = {item.reading.height_m for item in items if item.role == "other height"}
    if len(heights) == 1 and (height := heights.pop()) is not None:
        return f"{text} at {metres(height)}"
    return text


def _end(reading: Reading, end: int) -> Reading:
    """Return the end of a range that a span begins (0) or ends (-1) with, as a plain number."""
    if reading.qualifier not in ("to", "up to"):
        return reading
    if end == 0 and reading.qualifier == "to" and reading.low is not None:
        return reading._replace(
            value=reading.low, concentration=reading.concentration_low, qualifier=""
        )
    return reading._replace(qualifier="")


def answer(zones: Zones) -> str:
    """Say in one sentence what the map says."""
    return (
        f"{square_metres(zones.area_m2('remediate'))} to remediate, "
        f"{square_metres(zones.area_m2('resample'))} to measure again, "
        f"{square_metres(zones.area_m2('clear'))} clear, "
        f"{square_metres(zones.area_m2('no data'))} without data."
    )


def count(number_of: int, one: str, many: str = "") -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> count(1, "reading"), count(3, "reading")
    ('1 reading', '3 readings')
    """
    return f"{number_of} {one if number_of == 1 else many or one + 's'}"
