"""A result as people write it: a number, a limit, a range, a word, with or without its unit.

``value`` is always the number that counts against a level: the limit behind ``<``, the bound
behind ``>``, the upper end of a range. What cannot be told apart is held, with the question.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Final

from hgmap.errors import HgmapError
from hgmap.site.intake.cells import unguarded
from hgmap.site.intake.numerals import (
    LONGEST_CELL,
    NUMBER,
    both_readings,
    number_or_question,
    plain_spelling,
    shown,
)
from hgmap.site.intake.result_words import WORDS, Word
from hgmap.site.reading import Qualifier
from hgmap.site.textfile import DecimalMarks
from hgmap.site.units import parse_unit


@dataclass(frozen=True, slots=True)
class Result:
    """What a cell says.

    Attributes
    ----------
    value : float or None
        The number that counts, in ``unit``; None where there is none, or it cannot be told.
    low : float or None
        Lower end of a range.
    qualifier : str
        As in :class:`~hgmap.site.reading.Reading`.
    unit : str
        The unit in the cell, as we print it; empty where it has none.
    word : str
        ``"non-detect"``, ``"trace"``, ``"over range"`` or ``"not measured"``; with a number where
        the cell has one beside the word.
    caution : str
        What was assumed.
    held : str
        Why the cell cannot be used; empty where it can.
    """

    value: float | None
    low: float | None = None
    qualifier: Qualifier = ""
    unit: str = ""
    word: Word = ""
    caution: str = ""
    held: str = ""


_SIGNS: Final[tuple[tuple[str, Qualifier, str], ...]] = (
    (r"<=|=<", "<", "'at most' is read as <"),
    (r">=|=>", ">", "'at least' is read as >"),
    (r"<|(?:well |far )?(?:below|less than|under)\b", "<", ""),
    (r">|above\b|more than\b|greater than\b", ">", ""),
    (r"at most\b|no more than\b|not more than\b", "<", "'at most' is read as <"),
    (r"at least\b", ">", "'at least' is read as >"),
    (r"up to\b|as high as\b|max\.?|maximum\b|bis zu\b", "up to", ""),
    (r"~|ca\.?(?=\s|\d)|c\.(?=\s|\d)|circa\b|approx(?:\.|imately\b|\b)|about\b|around\b|roughly\b"
     r"|appr\.", "~", ""),
)  # fmt: skip
_SIGN: Final = tuple((re.compile(rf"(?:{sign})\s*"), name, why) for sign, name, why in _SIGNS)
_LEADING_WORD: Final = re.compile(
    r"(?P<word>[^\d()\[\]@=:]+?)\s*(?:[(\[=:@]|\bat\b|\babove\b|\bdl\b|\blod\b|\s|(?=[<>\d]))\s*"
    r"(?:(?:dl|lod|mdl|rl)\s*[=:]?\s*)?(?P<rest>[<>~]?=?\s*[\d.,].*?)[)\]]?"
)
_TRAILING_WORD: Final = re.compile(r"(?P<rest>.*\d.*?)\s*[(\[,;]?\s*(?P<word>[^\d()\[\]]+?)[)\]]?")
_ONE: Final = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>.*)")
_RANGE: Final = re.compile(
    rf"(?:between |from )?(?P<low>{NUMBER})\s*(?P<low_unit>[^\d\s-][^-]*?)??\s*"
    rf"(?P<by>-|\bto\b|\band\b|\bbis\b|\.{{2,3}})\s*(?P<high>{NUMBER})\s*(?P<unit>.*)"
)
_ERROR: Final = re.compile(rf"\s*(?:\+/-|\+-)\s*{NUMBER}\s*%?")
_DATE: Final = re.compile(
    r"\d{1,2}-[A-Za-z]{3,9}(?:-\d+)?|\d{4}-\d\d-\d\d.*|\d{1,2}[/.]\d{1,2}[/.]\d{2,4}"
)
_ONE_GROUP: Final = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_FOOTNOTE: Final = re.compile(r"\s*[*†‡]+$")


def parse_result(text: str, marks: DecimalMarks) -> Result:
    """Read one cell; never raises.

    Parameters
    ----------
    text : str
        The cell.
    marks : DecimalMarks
        What the other numbers of its file prove about commas and points.

    Examples
    --------
    >>> parse_result("<0.41", DecimalMarks()).qualifier
    '<'
    >>> result = parse_result("100-5,000 ng/m3", DecimalMarks())
    >>> result.low, result.qualifier, result.value, result.unit
    (100.0, 'to', 5000.0, 'ng/m³')
    >>> parse_result("ND", DecimalMarks()).word
    'non-detect'
    >>> parse_result("5-3", DecimalMarks()).held
    "value '5-3': a range that ends below its start"
    """
    text = text.strip()
    plain = number_or_question(text, marks) if len(text) <= LONGEST_CELL else None
    if isinstance(plain, float):
        return Result(plain)
    if not text:
        return Result(None, held="no value")
    if isinstance(plain, str):
        result = Result(None, held=plain)
    elif len(text) > LONGEST_CELL:
        result = Result(None, held=f"more than {LONGEST_CELL} characters")
    else:
        result = _worded(plain_spelling(unguarded(text)), marks)
    return replace(result, held=f"value {shown(text)}: {result.held}") if result.held else result


def _worded(text: str, marks: DecimalMarks) -> Result:
    """Read a cell that may be a word, or a number with a word before or behind it."""
    key = text.casefold().strip("()[] ")
    if key in WORDS:
        word, qualifier, caution = WORDS[key]
        return Result(None, qualifier=qualifier, word=word, caution=caution)
    result = _signed(text, marks)
    if not result.held:
        return result
    for pattern in (_LEADING_WORD, _TRAILING_WORD):
        match = pattern.fullmatch(text)
        if match is None or match["word"].casefold().strip() not in WORDS:
            continue
        word, qualifier, caution = WORDS[match["word"].casefold().strip()]
        if word == "not measured":
            continue  # a dash before a number is no word
        number = _signed(match["rest"], marks)
        return _beside(number, word, qualifier, caution)
    if text.casefold().endswith((" j", " est", " est.", " (est.)", " (j)")):
        # laboratories: J, an estimate
        number = _signed(re.sub(r"\s+\S+$", "", text), marks)
        if not number.held and not number.qualifier:
            return replace(number, qualifier="~")
    return result


def _beside(number: Result, word: Word, qualifier: Qualifier, caution: str) -> Result:
    """Join a number and the word that stands beside it."""
    if number.held or number.low is not None:
        return Result(None, held=number.held or "a word and a range")
    if number.qualifier not in ("", qualifier):
        return Result(None, held="the word and the number disagree")
    if word == "trace":
        return replace(number, qualifier="~", word=word, caution="found, not quantified")
    if word == "non-detect" and number.qualifier == "":
        caution = caution or "the number beside a word for 'not detected' is read as its limit"
    return replace(number, qualifier=qualifier, word=word, caution=caution)


def _signed(text: str, marks: DecimalMarks) -> Result:
    """Read a number or a range with a sign before it."""
    lower = text.casefold()
    for pattern, qualifier, caution in _SIGN:
        match = pattern.match(lower)
        if match is None or len(lower) != len(text):
            continue
        rest = text[match.end() :]
        inner = _amount(rest[1:].lstrip() if qualifier == "up to" and rest[:1] == "~" else rest,
                        marks)  # fmt: skip
        if inner.held:
            return inner
        if inner.low is not None:
            if qualifier != "~":
                return Result(None, held=f"{match[0].strip()!r} before a range")
            return replace(inner, caution=inner.caution or "the range is approximate")
        if inner.value is not None and inner.value < 0 and qualifier != "~":
            return Result(None, held="a limit below zero")
        return replace(inner, qualifier=qualifier, caution=_both(caution, inner.caution))
    return _amount(text, marks)


def _both(first: str, second: str) -> str:
    return "; ".join(one for one in (first, second) if one)


def _amount(text: str, marks: DecimalMarks) -> Result:
    """Read a number or a range, with or without a unit."""
    cautions = []
    footnote = _FOOTNOTE.search(text)
    if footnote is not None:
        text = text[: footnote.start()]
        cautions.append(f"a mark {footnote[0].strip()!r} stands behind it")
    error = _ERROR.search(text)
    if error is not None:
        text = text[: error.start()] + " " + text[error.end() :]
        cautions.append(f"{error[0].strip()!r} stands behind it and is not used")
    text = text.strip()
    caution = "; ".join(cautions)
    if _DATE.fullmatch(text):
        return Result(None, held="a date: did a spreadsheet turn a range into one?")
    match = _RANGE.fullmatch(text)
    if match is not None:
        found = _range(match, marks)
        return replace(found, caution=caution) if caution else found
    match = _ONE.fullmatch(text)
    if match is None:
        return Result(None, held="not a number")
    number = number_or_question(match["number"], marks)
    if number is None:
        return Result(None, held="not a number")
    if isinstance(number, str):
        return Result(None, held=number)
    rest = match["unit"]
    if re.match(r"\d{3}\b", rest):
        return Result(None, held="is the space for thousands, or are these two numbers?")
    unit = _unit(rest)
    if isinstance(unit, Result):
        return unit
    return Result(number, unit=unit, caution=caution)


def _unit(text: str) -> str | Result:
    """Return the unit as we print it, empty for none; a held result where it is not one."""
    text = text.strip()
    if not text:
        return ""
    try:
        return parse_unit(text.strip("()[] ")).symbol
    except HgmapError as error:
        return Result(None, held=error.message)


def _range(match: re.Match[str], marks: DecimalMarks) -> Result:
    unit, low_unit = _unit(match["unit"]), _unit(match["low_unit"] or "")
    for one in (unit, low_unit):
        if isinstance(one, Result):
            return one
    assert isinstance(unit, str)
    if low_unit and low_unit != unit:
        return Result(None, held="a range with two units")
    texts = match["low"], match["high"]
    low, high = (number_or_question(text, marks) for text in texts)
    if low is None or high is None:
        return Result(None, held="not a range of two numbers")
    if isinstance(low, float) and (isinstance(high, str) or high < low):
        high = _from_low_end(texts[1], high, low)
    for end in (low, high):
        if isinstance(end, str):
            return Result(None, held=end)
    assert isinstance(low, float)
    assert isinstance(high, float)
    if low < 0 or high < 0:
        return Result(None, held="a range with a number below zero")
    if high < low:
        return Result(None, held="a range that ends below its start")
    return Result(high, low=low, qualifier="to", unit=unit)


def _from_low_end(text: str, high: float | str, low: float) -> float | str:
    """Decide a comma or a point where a decimal mark would turn the range upside down.

    The upper end only: ``5,000-100`` may as well be a range that somebody wrote downwards.
    """
    if _ONE_GROUP.fullmatch(text) is None:
        return high
    with_decimal_mark, with_thousands = both_readings(text)
    return with_thousands if with_decimal_mark < low <= with_thousands else high
