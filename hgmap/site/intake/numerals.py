"""Numbers inside a cell that says more than a number: signs, spaces and powers in one spelling."""

from __future__ import annotations

import math
import re
from typing import Final, Literal

from hgmap.site.textfile import AmbiguousNumberError, DecimalMarks, parse_number

Decimal = Literal["comma", "point"]

LONGEST_CELL: Final = 100
"""A cell of more characters than this is no result, no height and no time."""

MOST: Final = 1e12
"""A number beyond this is beyond any measurement, whatever its unit."""

NUMBER: Final = r"(?>[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:[eE][+-]?\d+)?)"
"""What may be a number; :func:`number_or_question` decides.

Atomic: 1e-5 is no range that begins at 1."""

_SPELLINGS: Final = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2018\u2019\u02bc\u2032\u00b4`", "'"),
        **dict.fromkeys("\u201c\u201d\u2033", '"'),
        **dict.fromkeys("\u223c\u2248\u02dc\u2243\uff5e", "~"),
        "\u2264": "<=",
        "\u2265": ">=",
        "\u2266": "<=",
        "\u2267": ">=",
        "\uff1c": "<",
        "\uff1e": ">",
        "\u2026": "...",
        "\u00b1": "+/-",
    }
)
_POWERS: Final = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")
# 2.1×10³ and 2.1x10^3; never "2.1x103", which a lost superscript leaves behind
_TIMES_TEN: Final = re.compile(
    r"(?<=\d)\s*[x×*·]\s*10(?:\^\s*([+-]?\d{1,3})|([⁺⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]{1,3}))", re.IGNORECASE
)
# a space that a typesetter put between thousands; the plain one may stand between two numbers
_THIN: Final = re.compile(r"(?<=\d)[\u00a0\u2007\u2009\u202f](?=\d{3}(?!\d))")
_APOSTROPHES: Final = re.compile(r"(?<![\d.,'])[+-]?[1-9]\d{0,2}(?:'\d{3})+(?!['\d])")
_GROUPED: Final = {
    "point": re.compile(r"(?<![\d.,])([1-9]\d{0,2}(?:,\d{3})+)(?![,]?\d)"),
    "comma": re.compile(r"(?<![\d.,])([1-9]\d{0,2}(?:\.\d{3})+)(?![.]?\d)"),
}
_DECIMAL_COMMA: Final = re.compile(r"(?<![\d.,])(\d*),(\d+)(?![.,]?\d)")


def plain_spelling(text: str) -> str:
    """Return a cell with one kind of dash, quotation mark, tilde, space and power of ten.

    Examples
    --------
    >>> plain_spelling("2.1 × 10³ – 4 000")
    '2.1e3 - 4 000'
    """
    text = _THIN.sub("", text).translate(_SPELLINGS)
    text = _TIMES_TEN.sub(_exponent, text)
    text = _APOSTROPHES.sub(lambda match: match[0].replace("'", ""), text)
    return " ".join(text.split())


def _exponent(match: re.Match[str]) -> str:
    return "e" + (match[1] or match[2].translate(_POWERS))


def decided_numbers(text: str, decimal: Decimal) -> str:
    """Rewrite the numbers of a cell where a person has said what its commas and points mean.

    Examples
    --------
    >>> decided_numbers("100-5,000 ng/m3", "point")
    '100-5000 ng/m3'
    >>> decided_numbers("1.850,5", "comma")
    '1850.5'
    """
    other = "," if decimal == "point" else "."
    text = _GROUPED[decimal].sub(lambda match: match[1].replace(other, ""), text)
    return _DECIMAL_COMMA.sub(r"\1.\2", text) if decimal == "comma" else text


def number_or_question(text: str, marks: DecimalMarks) -> float | str | None:
    """Return the number, the question that it leaves open, or None where it is none."""
    try:
        number = parse_number(text, marks)
    except AmbiguousNumberError as error:
        return str(error)
    if number is not None and not (math.isfinite(number) and abs(number) <= MOST):
        return "beyond any measurement"
    return number


def both_readings(text: str) -> tuple[float, float]:
    """Return a number with one mark read with a decimal mark, and with thousands set apart."""
    bare = text.replace(",", ".")
    return float(bare), float(bare.replace(".", ""))


def shown(text: str, most: int = 40) -> str:
    """Return a cell in quotation marks, cut where it is long."""
    return repr(text if len(text) <= most else text[: most - 3] + "...")
