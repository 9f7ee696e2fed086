"""A table on paper: cells broken into lines, rows whole, the head again on every page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.document.content import Table, TableColumn
from hgmap.report.document.paper_flow import INNER_MM, MARGIN_MM, Flow
from hgmap.report.drawing import Area, Label, Path, Pen
from hgmap.report.palette import INK
from hgmap.report.typeset import wrap

CELL_PT: Final = 6.8
_CAPTION_PT: Final = 8.0
_PAD_MM: Final = 1.1
_MOST_LINES: Final = 60
_MOST_NAME_LINES: Final = 3

Cells = tuple[tuple[str, ...], ...]


def set_table(flow: Flow, table: Table) -> None:
    """Set a table down the pages."""
    widths = _widths(table.columns)
    head = tuple(
        wrap(column.heading, CELL_PT, width - 2.0 * _PAD_MM, bold=True, most_lines=4)
        for column, width in zip(table.columns, widths, strict=True)
    )
    if not table.rows:
        flow.lines(wrap(f"{table.caption}: none", _CAPTION_PT, INNER_MM, bold=True), _CAPTION_PT,
                   bold=True)  # fmt: skip
        flow.down(2.0)
        return
    rows = [_cells(table, row, widths, place in table.strong) for place, row in
            enumerate(table.rows)]  # fmt: skip
    flow.need(3.0 * line_mm(_CAPTION_PT) + _height(head) + _height(rows[0]))
    _begin(flow, table, head, widths, "")
    for place, cells in enumerate(rows):
        if flow.need(_height(cells)):
            _begin(flow, table, head, widths, ", continued")
        _row(flow, cells, widths, table.columns, bold=place in table.strong)
    flow.down(4.0)


def _widths(columns: Sequence[TableColumn]) -> list[float]:
    whole = sum(column.share for column in columns)
    return [column.share / whole * INNER_MM for column in columns]


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
    caption = wrap(table.caption + more, _CAPTION_PT, INNER_MM, bold=True, most_lines=2)
    flow.lines(caption, _CAPTION_PT, bold=True)
    flow.down(0.8)
    high = _height(head)
    box = shapely.box(MARGIN_MM, flow.top - high, MARGIN_MM + INNER_MM, flow.top)
    flow.page.items.append(Area(box, fill=flow.style.table_head))
    _row(flow, head, widths, table.columns, bold=True)


def _row(
    flow: Flow, cells: Cells, widths: Sequence[float], columns: Sequence[TableColumn], *,
    bold: bool,
) -> None:  # fmt: skip
    left = MARGIN_MM
    for lines, width, column in zip(cells, widths, columns, strict=True):
        x = left + width - _PAD_MM if column.number else left + _PAD_MM
        for place, line in enumerate(lines):
            y = flow.top - 0.9 - place * line_mm(CELL_PT)
            flow.page.items.append(
                Label(x, y, line, CELL_PT, INK, bold, "right" if column.number else "left", "top")
            )
        left += width
    flow.down(_height(cells))
    ends = [(MARGIN_MM, flow.top), (MARGIN_MM + INNER_MM, flow.top)]
    flow.page.items.append(Path(shapely.LineString(ends), Pen(flow.style.rule, 0.4)))
