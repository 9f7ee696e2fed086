"""Cells on their way to and from a spreadsheet: text with tabs between them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from typing import Final

from hgmap.site.intake.cells import guarded, unguarded
from hgmap.site.intake.synonyms import COLUMNS, SYNONYMS

_NUMBER: Final = re.compile(r"[+-]\d+(?:[.,]\d+)?")
_UNIT: Final = re.compile(r"[(\[].*[)\]]")
_TITLES: Final = frozenset(COLUMNS) | {word for some in SYNONYMS.values() for word in some}
MOST_CELLS: Final = 2_000_000


def block_text(rows: Sequence[Sequence[str]]) -> str:
    r"""Return cells as text with tabs; none of them runs as a formula.

    Examples
    --------
    >>> block_text([["A1", "=1+1", "-0.5"]])
    "A1\t'=1+1\t-0.5"
    """
    return "\n".join("\t".join(_cell(text) for text in row) for row in rows)


def _cell(text: str) -> str:
    line = " ".join(text.split())
    return line if _NUMBER.fullmatch(line) else guarded(line)


def block_of(text: str) -> tuple[tuple[str, ...], ...]:
    r"""Return the cells of pasted text; line ends within quotation marks belong to their cell.

    Examples
    --------
    >>> block_of("a\tb\n'=1\t")
    (('a', 'b'), ('=1', ''))
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "").rstrip("\n")
    if not plain:
        return ()
    try:
        rows = list(csv.reader(io.StringIO(plain), delimiter="\t", strict=True))
    except csv.Error:
        rows = [line.split("\t") for line in plain.split("\n")]
    return tuple(tuple(unguarded(" ".join(one.split())) for one in row) for row in rows)


def has_titles(block: Sequence[Sequence[str]]) -> bool:
    """Tell whether the first row of a block is a header: two titles that are known.

    Examples
    --------
    >>> has_titles([["Sample ID", "Hg (ng/m3)"], ["A1", "12"]]), has_titles([["A1", "12"]])
    (True, False)
    """
    if len(block) < 2:
        return False
    titles = [" ".join(_UNIT.sub("", one).casefold().split()) for one in block[0]]
    return sum(one in _TITLES for one in titles if not one.isdigit()) >= 2
