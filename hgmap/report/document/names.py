"""Names written from right to left end where they end: no number after them joins them.

In *name: 5 m² to remediate* a name of such letters would take the 5 to its own left, away from its
unit (Unicode Standard Annex 9, rule W2 and W7: a number goes with the last letter before it). A
mark without width ends the name for that rule.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final, TypeVar

from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Heading,
    Paragraph,
    Part,
    Signatures,
    Table,
)

Rows = TypeVar("Rows", Facts, Signatures)

END: Final = "\u200e"


def from_right(text: str) -> bool:
    """Tell whether a text has letters that run from right to left.

    Examples
    --------
    >>> from_right("Hall"), from_right("\u05d7\u05d3\u05e8 5")
    (False, True)
    """
    return any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)


def with_names_ended(document: Document, names: Iterable[str]) -> Document:
    """Return a document in which each such name ends with the mark; others are left as they are."""
    turned = sorted({one.strip() for one in names if from_right(one)}, key=len, reverse=True)
    if not turned:
        return document
    any_name = re.compile("|".join(map(re.escape, turned)))

    def ended(text: str) -> str:
        return any_name.sub(lambda found: found.group() + END, text)

    return replace(
        document, title=ended(document.title), subtitle=ended(document.subtitle),
        running=ended(document.running), cover=_rows(document.cover, ended),
        parts=tuple(_part(one, ended) for one in document.parts),
    )  # fmt: skip


def _part(part: Part, ended: Callable[[str], str]) -> Part:
    if isinstance(part, Heading | Paragraph):
        return replace(part, text=ended(part.text))
    if isinstance(part, Bullets):
        return replace(part, texts=tuple(map(ended, part.texts)))
    if isinstance(part, Facts):
        return _rows(part, ended)
    if isinstance(part, Signatures):
        return _rows(part, ended)
    if isinstance(part, Table):
        rows = tuple(tuple(map(ended, row)) for row in part.rows)
        return replace(part, caption=ended(part.caption), rows=rows)
    return part


def _rows(part: Rows, ended: Callable[[str], str]) -> Rows:
    return replace(part, rows=tuple((ended(a), ended(b)) for a, b in part.rows))
