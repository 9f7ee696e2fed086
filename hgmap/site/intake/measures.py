"""Lengths, temperatures and pressures with the units that people write behind them."""

from __future__ import annotations

import re
from typing import Final

from hgmap.site.intake.height import METRES_IN
from hgmap.site.intake.numerals import LONGEST_CELL, NUMBER, number_or_question, plain_spelling
from hgmap.site.intake.synonyms import CELSIUS, KELVIN, KILOPASCALS_IN
from hgmap.site.textfile import DecimalMarks

_MEASURE: Final = re.compile(rf"({NUMBER})\s*(\D*)")

HOTTEST_WITHOUT_UNIT_C: Final = 45.0
"""A warmer "room" without a unit may be one in °F (common practice, no source)."""

LIKELY_KPA: Final = (50.0, 110.0)
LIKELY_HPA: Final = (820.0, 1100.0)
"""Pressures that can only be meant so (mmHg of air end at about 800; no source)."""


def length_m(text: str, unit: str, marks: DecimalMarks) -> float | str | None:
    """Return metres; a question; or None where the cell is no length."""
    found = _measure(text, unit, marks)
    if not isinstance(found, tuple):
        return found
    number, unit = found
    factor = METRES_IN.get(unit or "m")
    return None if factor is None else round(number * factor, 6)


def temperature_c(text: str, unit: str, marks: DecimalMarks) -> float | str | None:
    """Return °C; a question; or None where the cell is no temperature of a room.

    Examples
    --------
    >>> temperature_c("70 F", "", DecimalMarks())
    21.111
    """
    found = _measure(text, unit, marks)
    if not isinstance(found, tuple):
        return found
    number, unit = found
    scale = CELSIUS.get(unit or "c")
    if scale == "C":
        return number if unit or number <= HOTTEST_WITHOUT_UNIT_C else None
    if scale == "F":
        return round((number - 32) / 1.8, 3)
    return round(number - KELVIN, 3) if scale == "K" else None


def pressure_kpa(text: str, unit: str, marks: DecimalMarks) -> float | str | None:
    """Return kPa; a question; or None where the cell is no pressure of the air."""
    found = _measure(text, unit, marks)
    if not isinstance(found, tuple):
        return found
    number, unit = found
    if not unit:
        if LIKELY_KPA[0] <= number <= LIKELY_KPA[1]:
            return number
        return round(number / 10, 6) if LIKELY_HPA[0] <= number <= LIKELY_HPA[1] else None
    factor = KILOPASCALS_IN.get(unit)
    return None if factor is None else round(number * factor, 6)


def _measure(text: str, unit: str, marks: DecimalMarks) -> tuple[float, str] | str | None:
    """Take a number and the unit behind it, or the unit of its column."""
    if len(text) > LONGEST_CELL:
        return None
    number = number_or_question(text, marks)
    if isinstance(number, float):
        return number, unit
    if isinstance(number, str):
        return number
    match = _MEASURE.fullmatch(plain_spelling(text))
    if match is None:
        return None
    number = number_or_question(match[1], marks)
    if not isinstance(number, float):
        return number
    return number, match[2].strip().casefold() or unit
