"""Rows of captioned cells, each as wide as its text asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely

from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Area, Label, Pen
from hgmap.report.palette import INK, RULE, SOFT
from hgmap.report.typeset import printable, width_mm, wrap

_CAPTION_PT: Final = 5.0
_INSET_MM: Final = 1.2
_LEAST_MM: Final = 14.0
_STEPS: Final = 9
_LONGEST: Final = 400
"""Letters of a text that are measured; a longer one is cut whatever its cell."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A caption, a text and the width of both (mm)."""

    caption: str
    text: str
    width_mm: float


@dataclass(frozen=True, slots=True)
class Row:
    """Cells side by side, with this many lines under their captions."""

    cells: tuple[Cell, ...]
    lines: int

    @property
    def height_mm(self) -> float:
        """Height (mm)."""
        return 3.6 + 0.92 * self.lines * line_mm(SMALL_PT)


def row_of(texts: Sequence[tuple[str, str]], width: float, most_lines: int) -> Row:
    """Divide a width (mm) among captions and texts, on as few lines as hold them whole.

    Where even ``most_lines`` do not, the short texts stay whole and the long ones share the rest.
    """
    asked: list[float] = []
    for lines in range(1, most_lines + 1):
        asked = [_least(caption, text, width, lines) for caption, text in texts]
        if sum(asked) <= width:
            spare = (width - sum(asked)) / sum(asked)
            widths = [one * (1.0 + spare) for one in asked]
            return Row(_cells(texts, widths), lines)
    widths = list(asked)
    left, open_ = width, list(range(len(texts)))
    while open_:
        share = left / len(open_)
        settled = [index for index in open_ if asked[index] <= share]
        if not settled:
            for index in open_:
                widths[index] = share
            break
        left -= sum(asked[index] for index in settled)
        open_ = [index for index in open_ if index not in settled]
    return Row(_cells(texts, widths), most_lines)


def set_row(column: Column, row: Row) -> None:
    """Draw a row at the top of what is left of a column."""
    left, top = column.left_mm, column.top_mm
    for cell in row.cells:
        box = shapely.box(left, top - row.height_mm, left + cell.width_mm, top)
        column.draw(Area(box, pen=Pen(RULE, 0.6)))
        column.draw(
            Label(left + _INSET_MM, top - 1.0, cell.caption, _CAPTION_PT, SOFT, up="top"),
        )
        colour = INK if cell.text.strip() else SOFT
        room = cell.width_mm - 2.0 * _INSET_MM
        for index, line in enumerate(wrap(_shown(cell.text), SMALL_PT, room, most_lines=row.lines)):
            y = top - 3.2 - index * line_mm(SMALL_PT) * 0.92
            column.draw(Label(left + _INSET_MM, y, line, SMALL_PT, colour, up="top"))
        left += cell.width_mm
    column.skip(row.height_mm)


def _cells(texts: Sequence[tuple[str, str]], widths: Sequence[float]) -> tuple[Cell, ...]:
    return tuple(
        Cell(caption, text, width) for (caption, text), width in zip(texts, widths, strict=True)
    )


def _shown(text: str) -> str:
    shown = printable(text)  # measured as it will be printed
    return shown if shown.strip() else "not stated"


def _least(caption: str, text: str, widest: float, lines: int) -> float:
    """Return the least width (mm) at which a text takes no more lines, and no word is broken."""
    shown = _shown(text)[:_LONGEST]
    inset = 2.0 * _INSET_MM
    word = max(width_mm(one, SMALL_PT) for one in shown.split())
    low = max(_LEAST_MM, width_mm(caption, _CAPTION_PT) + inset, min(word, 0.3 * widest) + inset)
    high = max(low, width_mm(shown, SMALL_PT) + inset)
    if high <= widest and len(wrap(shown, SMALL_PT, low - inset)) <= lines:
        return low
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        if len(wrap(shown, SMALL_PT, middle - inset)) <= lines:
            high = middle
        else:
            low = middle
    return high + 0.2
