"""What the reader of workbooks leaves out: hidden rows, merged cells, formulas without a result."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import IO, Final

_STEP: Final = 2**20
# attributes of a bounded length: a crafted part cannot make these take long
_HIDDEN: Final = re.compile(
    rb"<(?:\w{1,20}:)?row\b(?=[^<>]{0,400}\bhidden=\"(?:1|true)\")[^<>]{0,400}?\br=\"(\d{1,9})\""
)
_FORMULA: Final = re.compile(
    rb"<(?:\w{1,20}:)?c\b[^<>]{0,200}?\br=\"([A-Z]{1,3})(\d{1,9})\"[^<>]{0,200}>\s{0,20}"
    rb"<(?:\w{1,20}:)?f\b(?:[^<>]{0,200}/>|[^<>]{0,200}>[^<]{0,9000}</(?:\w{1,20}:)?f>)\s{0,20}"
    rb"(<(?:\w{1,20}:)?v>[^<])?"
)
_MERGED: Final = re.compile(
    rb"<(?:\w{1,20}:)?mergeCell\b[^<>]{0,200}?\bref=\"([A-Z]{1,3})(\d{1,9}):([A-Z]{1,3})(\d{1,9})\""
)
MOST_KEPT: Final = 100_000
"""Merged ranges and formulas without a result that are kept apiece."""


@dataclass
class SheetFacts:
    """What was found in the text of one sheet.

    Attributes
    ----------
    hidden : list of int
        Hidden rows.
    formulas : int
        How many cells are formulas.
    unstored : set of (row, column)
        Formulas without a stored result; columns from 0.
    merged : list of (row, column, row, column)
        Merged ranges, first and last cell.
    """

    hidden: list[int] = field(default_factory=list)
    formulas: int = 0
    unstored: set[tuple[int, int]] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)


def read_facts(stream: IO[bytes]) -> SheetFacts:
    """Go through the text of a sheet, a piece at a time."""
    facts = SheetFacts()
    kept = b""
    while piece := stream.read(_STEP):
        text = kept + piece
        cut = max(text.rfind(b"</row>"), text.rfind(b":row>"))
        whole, kept = (text[: cut + 6], text[cut + 6 :]) if cut >= 0 else (b"", text)
        if len(kept) > 64 * _STEP:  # no rows at all: nothing to find
            kept = kept[-_STEP:]
        _look(whole, facts)
    _look(kept, facts)
    return facts


def _look(text: bytes, facts: SheetFacts) -> None:
    if b"hidden=" in text:
        facts.hidden += [int(number) for number in _HIDDEN.findall(text)]
    if b"<f" in text or b":f" in text:
        for letters, number, stored in _FORMULA.findall(text):
            facts.formulas += 1
            if not stored and len(facts.unstored) < MOST_KEPT:
                facts.unstored.add((int(number), column_number(letters)))
    if b"mergeCell" in text:
        for first, top, last, bottom in _MERGED.findall(text):
            if len(facts.merged) < MOST_KEPT:
                facts.merged.append(
                    (int(top), column_number(first), int(bottom), column_number(last))
                )


def column_number(letters: bytes) -> int:
    """Return a column's number from 0.

    Examples
    --------
    >>> column_number(b"A"), column_number(b"AA")
    (0, 26)
    """
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1
