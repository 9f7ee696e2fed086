"""XLSX: zones, rooms, readings, places to measure again and the log, with typed cells.

The first sheet says whose survey it is, against which level, and what to beware of: no table of
rulings leaves the house without its cautions.
"""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import chain, islice
from pathlib import Path
from typing import Any, Final

from hgmap.report.log_table import log_table
from hgmap.report.readings_table import readings_table
from hgmap.report.run_facts import MappedFloor, RunFacts, lines_about
from hgmap.report.tables import (
    Table,
    nested_zones_table,
    resample_table,
    rooms_table,
    zones_table,
)
from hgmap.report.typed_cells import Cell, typed
from hgmap.site.files import write_bytes
from hgmap.site.intake.cells import guarded
from hgmap.site.reading import Reading
from hgmap.site.textfile import printable

MOST_ROWS: Final = 1_048_575
"""Rows of a sheet below its header (the format's own limit); more go on in a further sheet."""

_LONGEST: Final = 32_767
"""Characters of a cell (the format's own limit)."""
_READ_AS_MORE: Final = "=#"
"""First letters of what the library takes for a formula or for an error such as ``#N/A``."""
_NO_CHARACTERS: Final = re.compile("[\ufffe\uffff]")
"""No XML can hold them."""

_WIDTHS: Final = {
    "reasons": 60.0, "findings": 60.0, "note": 40.0, "held_because": 40.0, "cautions": 40.0,
    "why_repeated": 40.0, "way_in": 30.0, "level": 30.0, "instrument": 24.0, "room_name": 30.0,
    "time": 17.0, "start": 17.0, "end": 17.0, "values": 30.0, "source_row": 34.0, "log_rows": 34.0,
}  # fmt: skip
_FORMATS: Final = {
    "probability_anywhere_above": "0.000", "highest_probability": "0.000",
    "expected_in_doubt_share": "0.0%",
}  # fmt: skip
_DAY_AND_TIME: Final = "yyyy-mm-dd hh:mm"
_ABOUT_WIDTHS: Final = (26.0, 100.0)
_LINE_PT: Final = 15.0
_HIGHEST_PT: Final = 400.0
"""The format allows 409."""
_FIXED_DATE: Final = (1980, 1, 1, 0, 0, 0)
_DATES: Final = re.compile(rb"<dcterms:(created|modified)[^>]*>[^<]*</dcterms:\1>")


def write_workbook(
    path: Path, facts: RunFacts, floors: Sequence[MappedFloor], readings: Iterable[Reading]
) -> None:
    """Write the tables of a run into one workbook, in one step.

    ``readings`` are those of the round, judged. Concentrations are in the unit that stands beside
    them.
    """
    write_bytes(path, workbook_bytes(facts, floors, readings))


def workbook_bytes(
    facts: RunFacts,
    floors: Sequence[MappedFloor],
    readings: Iterable[Reading],
    *,
    most_rows: int = MOST_ROWS,
) -> bytes:
    """Return the workbook; the same run gives the same bytes, for no date of writing is in it."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    book.properties.creator = printable(facts.site.title_block.prepared_by) or "hgmap"
    book.properties.title = printable(facts.site.name)
    _about(book, facts, floors)
    for name, table in _tables(facts, floors, readings):
        _sheets(book, name, table, most_rows)
    stream = io.BytesIO()
    book.save(stream)
    return _without_dates(stream.getvalue())


def _tables(
    facts: RunFacts, floors: Sequence[MappedFloor], readings: Iterable[Reading]
) -> Iterator[tuple[str, Table]]:
    yield "zones", zones_table(one.zones for one in floors)
    if any(one.nested for one in floors):
        yield "zones by level", nested_zones_table(one.nested for one in floors)
    yield "rooms", rooms_table((one.evidence, one.rooms) for one in floors)
    yield "readings", readings_table(readings, facts.site.medium)
    yield "resample", resample_table(one.resample for one in floors)
    yield "log", log_table(facts.site)


def _about(book: Any, facts: RunFacts, floors: Sequence[MappedFloor]) -> None:
    """Fill the first sheet: a heading and a line in each row, each floor's after the run's."""
    from openpyxl.styles import Alignment

    sheet = _new_sheet(book, "about")
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = _ABOUT_WIDTHS
    sheet.append([_text_cell(sheet, one, bold=True) for one in ("about", "what it says")])
    lines = lines_about(facts, floors)
    for number, (title, heading, text) in enumerate(lines, start=2):
        loud = heading in ("caution", "warning", "answer", "floor not made")
        told = (f"{title}: {heading}" if title else heading, text)
        cells = [_text_cell(sheet, told[0], bold=loud), _text_cell(sheet, told[1])]
        for cell in cells:
            cell.alignment = Alignment(vertical="top", wrap_text=True)
        # not every program gives wrapped text the height that it needs
        high = max(math.ceil(len(one) / (0.9 * wide))
                   for one, wide in zip(told, _ABOUT_WIDTHS, strict=True))  # fmt: skip
        sheet.row_dimensions[number].height = min(_LINE_PT * max(1, high), _HIGHEST_PT)
        sheet.append(cells)
    sheet.auto_filter.ref = f"A1:B{len(lines) + 1}"


def _sheets(book: Any, name: str, table: Table, most_rows: int) -> None:
    """Fill the sheet of a table; what is too long for one goes on in the next."""
    header, rows = typed(table)
    number = 1
    first = next(rows, None)
    while True:
        part = () if first is None else chain((first,), islice(rows, most_rows - 1))
        _sheet(book, name if number == 1 else f"{name} {number}", header, part)
        first = next(rows, None)
        if first is None:
            return
        number += 1


def _new_sheet(book: Any, name: str) -> Any:
    """Make a sheet whose header stays in sight, on the screen and on every printed page."""
    sheet = book.create_sheet(name)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    return sheet


def _sheet(book: Any, name: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    from openpyxl.utils import get_column_letter

    sheet = _new_sheet(book, name)
    for column, title in enumerate(header, start=1):
        letter = get_column_letter(column)
        sheet.column_dimensions[letter].width = _WIDTHS.get(title, max(11.0, len(title) + 3.0))
    sheet.append([_text_cell(sheet, title, bold=True) for title in header])
    count = 1
    for row in rows:
        sheet.append(
            [_typed_cell(sheet, cell, title) for cell, title in zip(row, header, strict=True)]
        )
        count += 1
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(header))}{count}"


def _typed_cell(sheet: Any, value: Cell, column: str) -> Any:
    """Return a value, or a cell where the value alone would not say what it is.

    Text of a table is guarded already. A cell object is ten times as dear as a value, and a site
    may have a million readings.
    """
    if value is None or (type(value) is float and column not in _FORMATS):
        return value
    if isinstance(value, str):
        plain = value.isascii() and value.isprintable() and len(value) <= _LONGEST
        return value if plain and value[0] not in _READ_AS_MORE else _text_cell(sheet, value)
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, value=value)
    if isinstance(value, datetime):
        cell.number_format = _DAY_AND_TIME
    elif column in _FORMATS:
        cell.number_format = _FORMATS[column]
    return cell


def _text_cell(sheet: Any, text: str, *, bold: bool = False) -> Any:
    """Return a cell of text that no program runs, and that fits."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.styles.fonts import DEFAULT_FONT

    line = guarded(_NO_CHARACTERS.sub("\ufffd", printable(text)))
    cell = WriteOnlyCell(sheet, value=line if len(line) <= _LONGEST else f"{line[:32_766]}…")
    cell.data_type = "s"
    if bold:
        cell.font = Font(name=DEFAULT_FONT.name, size=DEFAULT_FONT.size, bold=True)
    return cell


def _without_dates(content: bytes) -> bytes:
    """Take the moment of writing out of a workbook: it stands in its properties and its archive."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            data = old.read(name)
            entry = zipfile.ZipInfo(name, _FIXED_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, _DATES.sub(b"", data) if name == "docProps/core.xml" else data)
    return stream.getvalue()
