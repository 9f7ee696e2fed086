"""Opening a workbook: which sheet, and its cells as text that has one meaning."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from hgmap.errors import ReadingsError
from hgmap.site.intake.cells import number_cell
from hgmap.site.intake.cellstyles import CellStyles
from hgmap.site.intake.header import find_header
from hgmap.site.intake.numerals import LONGEST_CELL
from hgmap.site.intake.opening import LOOKED_AT, Row, Sheet
from hgmap.site.intake.sheetfacts import SheetFacts, read_facts
from hgmap.site.intake.zipcheck import check_zip
from hgmap.site.textfile import printable

ZIP_SIGNATURE: Final = b"PK\x03\x04"
MOST_ROWS: Final = 2**20
"""As many as a sheet can have; a row that says it is beyond them is not waited for."""

UNSTORED: Final = "a formula without a stored result"
_BETWEEN: Final = "\x1f"
_LISTED: Final = 5


def open_workbook(data: bytes, *, where: str, sheet: str | None) -> Sheet:
    """Open the sheet with the readings.

    Parameters
    ----------
    data : bytes
        An XLSX file.
    where : str
        Its name, for messages.
    sheet : str or None
        Which sheet; None: the one that has a header of readings.

    Raises
    ------
    ReadingsError
        If it is damaged, too large, locked, or it has to be asked which sheet is meant.
    """
    check_zip(data, where=where)
    with warnings.catch_warnings():
        # about styles and extensions that nobody here needs
        warnings.simplefilter("ignore")
        try:
            return _open(data, where=where, sheet=sheet)
        except ReadingsError:
            raise
        except Exception as error:  # damaged parts make the library raise whatever it meets first
            raise ReadingsError(
                f"cannot be read as a workbook ({type(error).__name__})",
                where=where,
                todo="save it again as XLSX, or as CSV",
            ) from None


def _open(data: bytes, *, where: str, sheet: str | None) -> Sheet:
    import openpyxl  # a tenth of a second that a CSV file does not wait for

    book = openpyxl.load_workbook(
        io.BytesIO(data), read_only=True, data_only=True, keep_links=False
    )
    try:
        name, notes = _choose(book, sheet, where=where)
        table = book[name]
        facts = _facts(data, table)
        rows, more, covered = _spool(table, facts)
    finally:
        book.close()
    return Sheet(f"{where}, sheet {name!r}", lambda: _unspooled(rows), (*notes, *more), True,
                 ends_early=True, covered=covered)  # fmt: skip


def _choose(book: Any, sheet: str | None, *, where: str) -> tuple[str, list[str]]:
    """Return the name of the sheet, and what is to be said about the others."""
    names = [one.title for one in book.worksheets]
    if sheet is not None:
        for name in names:
            if name.casefold() == sheet.strip().casefold():
                return name, []
        raise ReadingsError(
            f"no sheet {sheet!r}", where=where, todo=f"--sheet: one of {_quoted(names)}"
        )
    with_header = [one.title for one in book.worksheets if find_header(_top(one)) is not None]
    if len(with_header) > 1:
        visible = [one.title for one in book.worksheets
                   if one.title in with_header and one.sheet_state == "visible"]  # fmt: skip
        with_header = visible if len(visible) == 1 else with_header
    if len(with_header) > 1:
        raise ReadingsError(
            f"{len(with_header)} sheets hold readings ({_quoted(with_header)})",
            where=where,
            todo="say which with --sheet",
        )
    if not with_header and len(names) != 1:
        raise ReadingsError(
            f"no sheet has a header of readings ({_quoted(names)})",
            where=where,
            todo="say which with --sheet and name its columns with --column",
        )
    chosen = (with_header or names)[0]
    if book[chosen].sheet_state != "visible":
        raise ReadingsError(
            f"the only sheet with a header of readings is hidden ({chosen!r})",
            where=where,
            todo=f"say --sheet {chosen!r} if it is the one, or another and its columns",
        )
    others = [name for name in names if name != chosen]
    return chosen, [f"sheets that were not read: {_quoted(others)}"] if others else []


def _quoted(names: Sequence[str]) -> str:
    more = f" and {len(names) - _LISTED} more" if len(names) > _LISTED else ""
    return ", ".join(repr(printable(name)) for name in names[:_LISTED]) + more


def _top(table: Any) -> list[Row]:
    table.reset_dimensions()  # the size that a sheet states may be anything
    rows: list[Row] = []
    for number, cells in enumerate(table.iter_rows(values_only=True, max_row=4 * LOOKED_AT), 1):
        texts = [_text(value) for value in cells]
        if any(texts):
            rows.append((number, texts))
        if len(rows) == LOOKED_AT:
            break
    return rows


def _facts(data: bytes, table: Any) -> SheetFacts:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        path = str(table._worksheet_path)
        with archive.open(path) as stream:
            return read_facts(stream)


def _spool(
    table: Any, facts: SheetFacts
) -> tuple[list[str], list[str], frozenset[tuple[int, int]]]:
    """Return every row as one text, which takes a tenth of the memory of its cells.

    With notes, and the cells that a merged number covers (``Sheet.covered``).
    """
    table.reset_dimensions()
    down = {
        (row, column): (top, column)
        for top, column, bottom, _ in facts.merged
        if bottom - top <= 10_000
        for row in range(top + 1, bottom + 1)
    }
    held: dict[tuple[int, int], str] = {}
    starts = set(down.values())
    width = max((column + 1 for _, column in down), default=0)
    styles = CellStyles()
    rows: list[str] = []
    numbers: set[tuple[int, int]] = set()
    for number, cells in enumerate(table.iter_rows(max_row=MOST_ROWS), start=1):
        texts = []
        for column, cell in enumerate(cells):
            value = cell.value
            text = _text(value) if value is not None else ""
            if text:
                text = styles.shown(cell, text)
            key = (number, column)
            if not text and key in facts.unstored:
                text = UNSTORED
            if down:
                if key in starts:
                    held[key] = text if isinstance(value, str) else ""
                    if value is not None and not isinstance(value, str):
                        numbers.add(key)
                elif key in down:
                    text = text or held.get(down[key], "")
            texts.append(text)
        # a row may end before the merged cell that its neighbour above fills
        texts += [held.get(down.get((number, column), (0, 0)), "")
                  for column in range(len(texts), width)]  # fmt: skip
        rows.append(_BETWEEN.join(texts).rstrip(_BETWEEN))
    notes = _notes(facts, len(numbers))
    if styles.struck:
        notes.append(f"{styles.struck} cells are struck through: results of theirs are held")
    return rows, notes, frozenset(cell for cell, first in down.items() if first in numbers)


def _notes(facts: SheetFacts, numbers_merged: int) -> list[str]:
    notes = []
    if facts.hidden:
        rows = ", ".join(map(str, facts.hidden[:_LISTED]))
        more = len(facts.hidden) - _LISTED
        notes.append(
            f"hidden rows were read too: {rows}" + (f" and {more} more" if more > 0 else "")
        )
    if facts.formulas:
        notes.append(
            f"{facts.formulas} cells are formulas: the results that were stored with them are used"
        )
    if facts.unstored:
        notes.append(
            f"{len(facts.unstored)} formulas have no stored result; open the workbook in a "
            "spreadsheet and save it"
        )
    if facts.merged:
        notes.append(
            f"{len(facts.merged)} merged ranges: their text stands for every row of them"
            + (", a number for its first row alone" if numbers_merged else "")
        )
    return notes


def _unspooled(rows: Sequence[str]) -> Iterator[Row]:
    for number, row in enumerate(rows, start=1):
        yield number, row.split(_BETWEEN) if row else []


def _text(value: object) -> str:
    """Return a cell's value as text: numbers with one meaning, dates in ISO form."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return number_cell(float(value)) if abs(value) < 1e300 else repr(value)
    if isinstance(value, datetime):
        return value.isoformat(" ", "seconds")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    text = str(value)
    return (
        text.strip()
        if len(text) <= LONGEST_CELL and text.isascii() and text.isprintable()
        else (" ".join(printable(text).replace(_BETWEEN, "\ufffd").split()))
    )
