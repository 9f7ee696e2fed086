"""A table on paper: cells broken into lines, rows whole, the head again on every page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.document.content import Table, TableColumn
from hgmap.report.document.paper_flow import MARGIN_MM, Flow
from hgmap.report.drawing import Area, Label, Path, Pen
from hgmap.report.palette import INK
from hgmap.report.typeset import printable, width_mm, wrap

CELL_PT: Final = 6.8
_CAPTION_PT: Final = 8.0
_PAD_MM: Final = 1.1
_MOST_LINES: Final = 60
_WIDEST_WORD_MM: Final = 30.0
_LONGEST_WORD: Final = 40
_MOST_NAME_LINES: Final = 3

Cells = tuple[tuple[str, ...], ...]


def set_table(flow: Flow, table: Table) -> None:
    """Set a table down the pages."""
    widths = widths_of(table, flow.inner_mm)
    head = tuple(
        wrap(column.heading, CELL_PT, width - 2.0 * _PAD_MM, bold=True, most_lines=4)
        for column, width in zip(table.columns, widths, strict=True)
    )
    if not table.rows:
        none = wrap(f"{table.caption}: none", _CAPTION_PT, flow.inner_mm, bold=True)
        flow.lines(none, _CAPTION_PT, bold=True)
        flow.down(2.0)
        return
    rows = [_cells(table, row, widths, place in table.strong) for place, row in
            enumerate(table.rows)]  # fmt: skip
    flow.need(3.0 * line_mm(_CAPTION_PT) + _height(head) + _height(rows[0]))
    _begin(flow, table, head, widths, "")
    for place, cells in enumerate(rows):
        # a row that sums up does not stand alone on the next page
        sums_up = place + 1 < len(rows) and place + 1 in table.strong
        more = _height(rows[place + 1]) if sums_up else 0.0
        if flow.need(_height(cells) + more):
            _begin(flow, table, head, widths, ", continued")
        _row(flow, cells, widths, table.columns, bold=place in table.strong)
    flow.down(4.0)


def widths_of(table: Table, whole_mm: float) -> list[float]:
    """Share a width out (mm): by what the columns ask for, and no word broken where it fits."""
    least = [
        min(_WIDEST_WORD_MM, _longest_word(table, place)) + 2.0 * _PAD_MM + 0.1
        for place in range(len(table.columns))
    ]
    shares = [column.share for column in table.columns]
    if sum(least) >= whole_mm:
        return [one / sum(least) * whole_mm for one in least]
    # those that ask for less than their longest word get that; the others share the rest
    held: set[int] = set()
    while True:
        left = whole_mm - sum(least[place] for place in held)
        asked = sum(share for place, share in enumerate(shares) if place not in held)
        widths = [
            least[place] if place in held else share / asked * left
            for place, share in enumerate(shares)
        ]
        short = {
            place for place, width in enumerate(widths)
            if place not in held and width < least[place]
        }  # fmt: skip
        if not short:
            return widths
        held |= short


def _longest_word(table: Table, place: int) -> float:
    """Return how wide the longest word of a column is (mm)."""
    words = {(word, True) for word in table.columns[place].heading.split()}
    words |= {
        (word[:_LONGEST_WORD], row in table.strong)
        for row, cells in enumerate(table.rows) for word in cells[place].split()
    }  # fmt: skip
    return max((width_mm(printable(word), CELL_PT, bold) for word, bold in words), default=0.0)


def _cells(
    table: Table, row: Sequence[str], widths: Sequence[float], bold: bool
) -> Cells:  # fmt: skip
    return tuple(
        wrap(
            text, CELL_PT, width - 2.0 * _PAD_MM, bold=bold,
            most_lines=_MOST_NAME_LINES if column.name else _MOST_LINES,
        )
        for column, text, width in zip(table.columns, row, widths, strict=True)
    )  # fmt: skip


def _height(cells: Cells) -> float:
    return max((len(lines) for lines in cells), default=1) * line_mm(CELL_PT) + 1.5


def _begin(
    flow: Flow, table: Table, head: Cells, widths: Sequence[float], more: str
) -> None:  # fmt: skip
    caption = wrap(table.caption + more, _CAPTION_PT, flow.inner_mm, bold=True, most_lines=2)
    flow.lines(caption, _CAPTION_PT, bold=True)
    flow.down(0.8)
    high = _height(head)
    box = shapely.box(MARGIN_MM, flow.top - high, MARGIN_MM + flow.inner_mm, flow.top)
    flow.page.items.append(Area(box, fill=flow.style.table_head))
    _row(flow, head, widths, table.columns, bold=True)


def _row(
    flow: Flow, cells: Cells, widths: Sequence[float], columns: Sequence[TableColumn], *,
    bold: bool,
) -> None:  # fmt: skip
    left = MARGIN_MM
    for lines, width, column in zip(cells, widths, columns, strict=True):
        for place, line in enumerate(lines):
            # where it begins is reckoned here: the painter is quickest with lines that begin there
            before = width - width_mm(line, CELL_PT, bold) - _PAD_MM if column.number else _PAD_MM
            y = flow.top - 0.9 - place * line_mm(CELL_PT)
            flow.page.items.append(Label(left + before, y, line, CELL_PT, INK, bold, up="top"))
        left += width
    flow.down(_height(cells))
    ends = [(MARGIN_MM, flow.top), (MARGIN_MM + flow.inner_mm, flow.top)]
    flow.page.items.append(Path(shapely.LineString(ends), Pen(flow.style.rule, 0.4)))
