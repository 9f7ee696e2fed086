"""Writing down checks of an instrument (instruments/log.csv). Pure: files to files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from hgmap.editing.numbers_in_file import typed_number
from hgmap.editing.sheet import ReadingsSheet, read_sheet, with_cells, with_columns, with_rows
from hgmap.editing.sheet import without_rows as sheet_without_rows
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import SiteError
from hgmap.site.instruments.log import COLUMNS
from hgmap.site.instruments.log_cells import NUMBERS, value_texts, words
from hgmap.site.intake.cells import guarded
from hgmap.site.records import LOG_FILE
from hgmap.site.textfile import DecimalMarks, decimal_marks

HEADER: Final = ("\ufeff" + ",".join(COLUMNS) + "\n").encode()
_OTHERS: Final = {"start": "time", "spacing_s": "spacing", "temperature_c": "temperature",
                  "values": "value", "certificate": "certificate_date"}  # fmt: skip
_BLANKS: Final = b"\xef\xbb\xbf \t\r\n"


def log_sheet(files: SiteFiles) -> ReadingsSheet | None:
    """Return the log as rows of text; None where there is none yet.

    Raises
    ------
    SiteError
        If it cannot be read.
    """
    if LOG_FILE not in files.contents and LOG_FILE not in files.unread:
        return None
    data = files.data(LOG_FILE)
    return read_sheet(data, name=LOG_FILE) if data.strip(_BLANKS) else None


def log_position(sheet: ReadingsSheet, column: str) -> int | None:
    """Return where a column of ours stands in the log, whichever way it is spelt."""
    for name in (column, _OTHERS.get(column, column)):
        position = sheet.position(name, _plain)
        if position is not None:
            return position
    return None


def _plain(title: str) -> str:
    return words(title).replace(" ", "_")


def add_check(files: SiteFiles, cells: Mapping[str, str]) -> SiteFiles:
    """Write a check under the others; the first one begins the log.

    Parameters
    ----------
    files : SiteFiles
    cells : mapping
        Texts by column of ours: instrument, check, start ...

    Raises
    ------
    SiteError
        If instrument, check or start are empty, or the log cannot be written to.
    """
    for name in ("instrument", "check", "start"):
        if not cells.get(name, "").strip():
            raise SiteError(f"no {name}", where=LOG_FILE, todo="every check has one")
    sheet = log_sheet(files)
    if sheet is None:
        files = files.with_file(LOG_FILE, HEADER)
        sheet = read_sheet(HEADER, name=LOG_FILE)
    texts = {key: _text(sheet, key, text) for key, text in cells.items() if text.strip()}
    missing = [key for key in texts if log_position(sheet, key) is None]
    if missing:
        sheet = with_columns(sheet, missing)
    row = [""] * len(sheet.header)
    for key, text in texts.items():
        position = log_position(sheet, key)
        if position is not None:
            row[position] = text
    return files.with_file(LOG_FILE, with_rows(sheet, [row]).to_bytes())


def set_log_cells(files: SiteFiles, changes: Mapping[tuple[int, str], str]) -> SiteFiles:
    """Write other texts into cells of the log, by row (its line) and column of ours.

    Raises
    ------
    SiteError
        If there is no log, or no such row.
    """
    sheet = _log(files)
    wanted = dict.fromkeys(column for (_, column), text in changes.items() if text)
    missing = [one for one in wanted if log_position(sheet, one) is None]
    after = with_columns(sheet, missing) if missing else sheet
    cells = {}
    for (row, column), text in changes.items():
        position = log_position(after, column)
        if position is not None:
            cells[row, position] = _text(sheet, column, text)
    return files.with_file(LOG_FILE, with_cells(after, cells).to_bytes())


def delete_checks(files: SiteFiles, rows: Iterable[int]) -> SiteFiles:
    """Take checks out of the log; with the last one the log itself goes.

    A log without any row would hold every reading.

    Raises
    ------
    SiteError
        If there is no log, or no such row.
    """
    sheet = _log(files)
    after = sheet_without_rows(sheet, rows)
    return files.with_file(LOG_FILE, after.to_bytes()) if after.rows else files.without(LOG_FILE)


def _log(files: SiteFiles) -> ReadingsSheet:
    sheet = log_sheet(files)
    if sheet is None:
        raise SiteError("there is no instrument log", where=LOG_FILE, todo="add a check first")
    return sheet


def _text(sheet: ReadingsSheet, column: str, text: str) -> str:
    line = " ".join(text.split())
    where = f"{LOG_FILE}, {column}"
    if column in NUMBERS:
        return typed_number(line, _marks(sheet), where=where)
    if column == "values":
        marks = _marks(sheet)
        return " ".join(typed_number(one, marks, where=where) for one in value_texts(line))
    return guarded(line)


def _marks(sheet: ReadingsSheet) -> DecimalMarks:
    """Return what the numbers of the log prove of its commas and points."""
    texts: list[str] = []
    for column in NUMBERS:
        position = log_position(sheet, column)
        texts += [sheet.cell(row, position) for row, _ in sheet.rows]
    position = log_position(sheet, "values")
    for row, _ in sheet.rows:
        texts += value_texts(sheet.cell(row, position))
    return decimal_marks(texts)
