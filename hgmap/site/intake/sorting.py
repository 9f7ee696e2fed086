"""Rows that are no readings: each is listed with its number and why, none is lost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.site.intake.header import Header

_TOTALS: Final = re.compile(
    r"(?:(?:grand |sub)?-?totals?|sums?|averages?|avg\.?|(?:arithmetic |geometric )?means?|medians?"
    r"|min(?:imum|\.)?|max(?:imum|\.)?|count|n ?=|st(?:andar)?d\.?(?: ?dev(?:iation|\.)?)?"
    r"|(?:95 ?% ?)?ucl)"
    r"(?:\s+(?:of|for|over|in)\s.*|\s+(?:readings?|results?|values?|all))?\s*[:=]?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows ``first`` to ``last`` of the file, and why they are no readings."""

    first: int
    last: int
    why: str

    @property
    def text(self) -> str:
        """One line."""
        rows = f"row {self.first}" if self.first == self.last else f"rows {self.first}-{self.last}"
        return f"{rows}: {self.why}"


def why_no_reading(
    cells: Sequence[str], header: Header, value_column: int, time_column: int | None
) -> str:
    """Return why a row below the header is no reading; empty for a reading."""
    filled = [k for k, cell in enumerate(cells) if cell]
    if not filled:
        return "empty"
    first = cells[filled[0]]
    if len(filled) == 1 and filled[0] != value_column and len(header.titles) > 2:
        return f"a line of text: {first[:60]!r}"
    if len(first) < 30 and _TOTALS.fullmatch(first):
        timed = time_column is not None and time_column < len(cells) and time_column != filled[0]
        if not (timed and time_column is not None and cells[time_column]):
            return f"a line of totals: {first!r}"
    if value_column < len(cells) and cells[value_column] == header.titles[value_column].text:
        same = sum(cells[k] == header.titles[k].text for k in filled if k < len(header.titles))
        if header.rows and same * 2 > len(filled):
            return "the header again"
    return ""


def grouped(left_out: list[LeftOut], number: int, why: str) -> None:
    """Add a row to the list; neighbours that are empty make one line."""
    if why == "empty" and left_out and left_out[-1].why == why and left_out[-1].last == number - 1:
        left_out[-1] = LeftOut(left_out[-1].first, number, why)
    else:
        left_out.append(LeftOut(number, number, why))
