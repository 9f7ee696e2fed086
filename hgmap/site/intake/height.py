"""Heights above the floor as people write them: metres, centimetres, feet and inches, words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from hgmap.site.intake.numerals import (
    LONGEST_CELL,
    NUMBER,
    number_or_question,
    plain_spelling,
    shown,
)
from hgmap.site.lengths import FOOT_M, INCH_M
from hgmap.site.textfile import DecimalMarks

METRES_IN: Final[dict[str, float]] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters", "mtr"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 0.01),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), 0.001),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'"), FOOT_M),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "''"), INCH_M),
}
"""Exact by definition (international foot and inch)."""

_SURVEYS: Final = (
    "adult breathing zone taken as 1.5 m (5 ft; Maine DEP 2008, MMWR 00037313); other surveys "
    "take 0.9 to 1.2 m"
)

WORDS: Final[dict[str, tuple[float, str]]] = {
    # word: metres, where that comes from
    **dict.fromkeys(
        ("floor", "floor level", "at floor", "on floor", "at floor level", "ground", "carpet",
         "ground level", "floor surface", "on the floor"),
        (0.0, "'floor' taken as 0 m (common practice, no source)"),
    ),
    **dict.fromkeys(
        ("just above floor", "just above the floor", "just above carpet", "just above the carpet",
         "just above floor level", "above carpet", "above the carpet", "floor sweep", "near floor",
         "sweep"),
        (0.025, "just above the floor taken as 0.025 m (about an inch; value from memory)"),
    ),
    **dict.fromkeys(
        ("breathing zone", "bz", "adult breathing zone", "adult bz", "adult",
         "breathing height", "breathing zone (adult)", "standing breathing zone"),
        (1.5, _SURVEYS),
    ),
    **dict.fromkeys(
        ("child breathing zone", "infant breathing zone", "child bz", "infant", "child",
         "toddler", "crawling", "crawling zone", "breathing zone (child)", "infant zone",
         "child zone"),
        (0.3, "child's breathing zone taken as 0.3 m (1 ft; Maine DEP 2008, Danish EPA no. 104)"),
    ),
    **dict.fromkeys(
        ("waist", "waist height", "waist level"),
        (1.0, "waist height taken as 1 m (common practice, no source)"),
    ),
    **dict.fromkeys(
        ("chest", "chest height", "chest level"),
        (1.3, "chest height taken as 1.3 m (common practice, no source)"),
    ),
    **dict.fromkeys(
        ("knee", "knee height", "knee level"),
        (0.5, "knee height taken as 0.5 m (common practice, no source)"),
    ),
    **dict.fromkeys(
        ("ankle", "ankle height", "ankle level"),
        (0.1, "ankle height taken as 0.1 m (common practice, no source)"),
    ),
    **dict.fromkeys(
        ("desk", "desk height", "table", "table height", "desk level", "table level"),
        (0.75, "desk height taken as 0.75 m (common practice, no source)"),
    ),
}  # fmt: skip
"""Words that name one height by common practice. Others (surface, ceiling, directly above, ambient,
seated) name none, and are held."""

_BEFORE: Final = re.compile(r"^(?:at|height|h|z|inlet(?: at)?)\s*[:=]?\s+|^[@=]\s*", re.IGNORECASE)
_ABOUT: Final = re.compile(r"^(?:about|around|approx(?:\.|imately)?|ca\.?|circa|~)\s*", re.I)
_ABOVE: Final = re.compile(
    r"\s*(?:(?P<plain>above|up)|(?:above|off|from|over)\s+(?:the\s+)?(?:floor|ground|carpet|slab)"
    r"(?:\s+level)?|a\.?g\.?l\.?|a\.?f\.?f\.?l\.?|high|height)\s*$",
    re.IGNORECASE,
)
_FEET_INCHES: Final = re.compile(
    rf"({NUMBER})\s*(?:ft\.?|foot|feet|')\s*-?\s*({NUMBER})\s*(?:in\.?|inch|inches|\"|'')?", re.I
)
_MEASURE: Final = re.compile(rf"({NUMBER})\s*(\D*)")


@dataclass(frozen=True, slots=True)
class Height:
    """A height above the floor (m), or why there is none; ``caution`` says what was assumed."""

    metres: float | None
    held: str = ""
    caution: str = ""


def parse_height(text: str, marks: DecimalMarks, unit: str = "m") -> Height:
    """Read one cell; never raises. A number without a unit is in ``unit``.

    Parameters
    ----------
    text : str
        The cell.
    marks : DecimalMarks
        What the other numbers of its file prove about commas and points.
    unit : str
        That of its column, a key of ``METRES_IN``.

    Examples
    --------
    >>> parse_height("~4", DecimalMarks(), "ft").metres
    1.2192
    >>> parse_height("5 ft 6 in", DecimalMarks()).metres
    1.6764
    >>> parse_height("waist", DecimalMarks()).caution
    'waist height taken as 1 m (common practice, no source)'
    >>> parse_height("above the sink", DecimalMarks()).held
    "height 'above the sink' names no one height; write metres"
    """
    text = text.strip()
    if not text:
        return Height(None, held="no height")
    if len(text) > LONGEST_CELL:
        return Height(None, held=f"height {shown(text)} has more than {LONGEST_CELL} characters")
    number = number_or_question(text, marks)
    if isinstance(number, float):
        return _checked(text, round(number * METRES_IN[unit], 6), "")
    if isinstance(number, str):
        return Height(None, held=f"height {shown(text)}: {number}")
    return _described(text, " ".join(plain_spelling(text).split()), marks, unit)


def _described(text: str, plain: str, marks: DecimalMarks, unit: str) -> Height:
    key = plain.casefold().strip(" .")
    word = WORDS.get(key)
    if word is not None:
        return Height(word[0], caution=word[1])
    bare = _BEFORE.sub("", plain)
    about = _ABOUT.match(bare)
    cautions = []
    if about is not None:
        bare = bare[about.end() :]
        cautions.append("the height is approximate")
    above = _ABOVE.search(bare)
    if above is not None:
        bare = bare[: above.start()]
        if above["plain"]:
            cautions.append("above what is not said; taken as above the floor")
    metres = _metres(bare.strip(), marks, unit)
    if isinstance(metres, float):
        return _checked(text, metres, "; ".join(cautions))
    why = f": {metres}" if metres else " names no one height; write metres"
    return Height(None, held=f"height {shown(text)}{why}")


def _metres(text: str, marks: DecimalMarks, column: str) -> float | str:
    """Return metres, a question, or an empty text where this is no measure."""
    both = _FEET_INCHES.fullmatch(text)
    if both is not None:
        feet, inches = (number_or_question(part, marks) for part in both.groups())
        if not (isinstance(feet, float) and isinstance(inches, float)):
            return "not feet and inches"
        if not (0 <= inches < 12 and feet >= 0):
            return f"{inches:g} inches beside {feet:g} feet cannot be"
        return round((feet * 12 + inches) * INCH_M, 6)
    match = _MEASURE.fullmatch(text)
    if match is None:
        return ""
    unit = match[2].strip().casefold()
    if unit and unit not in METRES_IN:
        return f"unit {match[2].strip()!r} is not a length"
    number = number_or_question(match[1], marks)
    if not isinstance(number, float):
        return number or ""
    return round(number * METRES_IN[unit or column], 6)


def _checked(text: str, metres: float, caution: str) -> Height:
    if metres < 0:
        return Height(None, held=f"height {shown(text)} is below the floor")
    return Height(metres, caution=caution)
