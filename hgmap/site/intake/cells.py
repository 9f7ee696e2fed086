"""Cells of our own readings files: user text that no spreadsheet runs, numbers with one meaning."""

from __future__ import annotations

import re
from typing import Final

FORMULA_SIGNS: Final = tuple("=+-@＝＋－＠")
"""The wide signs too: spreadsheets set up for Japanese read them alike."""

_NOTHING: Final = "\ufeff\u200b\u2060"
"""What no reader sees before such a sign."""

_GROUP_OF_THREE: Final = re.compile(r"-?[1-9]\d{0,2}\.\d{3}")


def guarded(text: str) -> str:
    """Return user text as one line that no spreadsheet takes for a formula.

    Text that is guarded already stays as it is, so that a file of ours can be imported again.

    Examples
    --------
    >>> guarded("=1+1"), guarded("Room 12")
    ("'=1+1", 'Room 12')
    """
    line = " ".join(text.split())
    return f"'{line}" if line.lstrip(_NOTHING).startswith(FORMULA_SIGNS) else line


def unguarded(text: str) -> str:
    """Return the text that :func:`guarded` was given.

    Examples
    --------
    >>> unguarded("'=1+1"), unguarded("'tis")
    ('=1+1', "'tis")
    """
    if text.startswith("'") and text[1:].lstrip(_NOTHING).startswith(FORMULA_SIGNS):
        return text[1:]
    return text


def number_cell(number: float) -> str:
    """Write a number so that its point can only be a decimal mark.

    Examples
    --------
    >>> number_cell(1.125), number_cell(12.0), number_cell(-0.0)
    ('1.1250', '12', '0')
    """
    if number == int(number) and abs(number) < 1e15:
        return str(int(number))
    text = repr(number)
    return f"{text}0" if _GROUP_OF_THREE.fullmatch(text) else text
