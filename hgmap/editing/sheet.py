"""A table of readings as somebody wrote it: what is not edited stays as it is, byte for byte.

Rows are told by the line that they begin on, as in ``Reading.where``. Every edit is read back by
the reader of the site's tables before it is given out: no other row may read otherwise than it did.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import zip_longest

from hgmap.errors import ReadingsError
from hgmap.site.readings import column_name
from hgmap.site.textfile import Row, printable, read_table

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")
_BOM = "\ufeff"


@dataclass(frozen=True)
class ReadingsSheet:
    """A table: its header, its rows of text, and the lines that they stand on.

    Attributes
    ----------
    name : str
        The file.
    header : tuple of str
        Titles as they are written.
    rows : tuple of (int, tuple of str)
        The line that each row begins on, and its cells; empty rows are left out.
    header_row : int
        The line of the header.
    delimiter : str
    codec : str
        The encoding, as Python names it.
    line_by_line : bool
        Whether quotation marks do not fit, so that every line is a row of its own.
    lines : tuple of str
        All lines with their ends; what the encoding does not know is kept as half characters.
    may_hold_commas : bool
        Whether a cell could hold a comma, or points that set thousands apart.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    header_row: int
    delimiter: str
    codec: str
    line_by_line: bool
    lines: tuple[str, ...]
    may_hold_commas: bool = True

    def to_bytes(self) -> bytes:
        """Return the file.

        Raises
        ------
        ReadingsError
            If its encoding has no room for a character that was written into it.
        """
        try:
            return "".join(self.lines).encode(self.codec, "surrogateescape")
        except UnicodeEncodeError as error:
            raise ReadingsError(
                f"{error.object[error.start]!r} cannot be written in the file's encoding "
                f"({self.codec})",
                where=self.name, todo="save the file as UTF-8, or write it otherwise",
            ) from None  # fmt: skip

    @cached_property
    def row_at(self) -> dict[int, tuple[str, ...]]:
        """Cells by the line that their row begins on."""
        return dict(self.rows)

    def position(self, column: str, name_of: Callable[[str], str] = column_name) -> int | None:
        """Return where a column of ours stands; None where the table has none."""
        for position, title in enumerate(self.header):
            if name_of(title) == column or title == column:
                return position
        return None

    def cell(self, row: int, position: int | None) -> str:
        """Return the text of a cell; empty where there is none."""
        cells = self.row_at[row]
        return cells[position] if position is not None and position < len(cells) else ""

    @cached_property
    def line_end(self) -> str:
        """How lines end in this file."""
        line = self.lines[self.header_row - 1]
        return line[len(line.rstrip("\r\n")) :] or "\n"

    @cached_property
    def quotes_all(self) -> bool:
        """Whether every cell stands in quotation marks, as its titles do."""
        pieces = _pieces(self.record(self.header_row)[0].lstrip(_BOM), self.delimiter)
        return all(one.startswith('"') for one in pieces)

    def record(self, row: int) -> tuple[str, int]:
        """Return the text of a row without its line end, and how many lines it takes."""
        first = row - 1
        count = 1
        if not self.line_by_line:
            reader = csv.reader(self.lines[first:], delimiter=self.delimiter, strict=True)
            next(reader)
            count = reader.line_num
        text = "".join(self.lines[first : first + count])
        return text.rstrip("\r\n") if count == 1 else _without_end(text), count


def read_sheet(data: bytes, *, name: str) -> ReadingsSheet:
    """Read a table so that it can be edited.

    Raises
    ------
    ReadingsError
        If the file is empty, binary, has no header, or cannot be written again as it is.
    """
    table = read_table(data, where=name)
    codec = table.encoding
    if codec == "utf-16":
        codec = "utf-16-le" if data.startswith(b"\xff\xfe") else "utf-16-be"
    try:
        text = data.decode(codec, "surrogateescape" if codec == "cp1252" else "strict")
    except UnicodeDecodeError:
        text = ""
    if text.encode(codec, "surrogateescape") != data:
        raise ReadingsError("is damaged text", where=name, todo="save it as UTF-8")
    return ReadingsSheet(
        name, table.header, table.rows, table.header_line, table.delimiter, codec,
        bool(table.remark), tuple(_LINE.findall(text)), table.may_hold_commas,
    )  # fmt: skip


def with_cells(sheet: ReadingsSheet, changes: Mapping[tuple[int, int], str]) -> ReadingsSheet:
    """Return the table with other texts in some cells.

    Parameters
    ----------
    sheet : ReadingsSheet
    changes : mapping of (row, position) to str
        ``row`` is the line that the row begins on.

    Raises
    ------
    ReadingsError
        If there is no such row, or another row would read otherwise.
    """
    by_row: dict[int, dict[int, str]] = {}
    for (row, position), text in changes.items():
        new = _one_line(text)
        if sheet.cell(_known(sheet, row), position) != new:
            by_row.setdefault(row, {})[position] = new
    if not by_row:
        return sheet
    lines = list(sheet.lines)
    expected = dict(sheet.rows)
    for row in sorted(by_row, reverse=True):
        expected[row] = _changed(sheet.row_at[row], by_row[row])
        _rewrite(sheet, lines, row, by_row[row])
    return _read_back(sheet, lines, [cells for cells in expected.values() if any(cells)])


def with_columns(sheet: ReadingsSheet, titles: Sequence[str]) -> ReadingsSheet:
    """Return the table with columns added at its right end; rows need no cells for them.

    Raises
    ------
    ReadingsError
        If a row has more cells than the header: they would get a title that is not theirs.
    """
    width = len(sheet.header)
    for row, cells in sheet.rows:
        if any(cells[width:]):
            raise ReadingsError(
                "the row has more cells than the header", where=f"{sheet.name}, row {row}",
                todo="mend it before a column is added",
            )  # fmt: skip
    lines = list(sheet.lines)
    added = {width + k: title for k, title in enumerate(titles)}
    _rewrite(sheet, lines, sheet.header_row, added)
    return _read_back(sheet, lines, [cells for _, cells in sheet.rows])


def with_rows(sheet: ReadingsSheet, rows: Iterable[Sequence[str]]) -> ReadingsSheet:
    """Return the table with rows at its end, in the file's own way of writing."""
    lines = list(sheet.lines)
    new = [tuple(_one_line(text) for text in cells) for cells in rows]
    if lines and not lines[-1].endswith(("\r", "\n")):
        lines[-1] += sheet.line_end
    for cells in new:
        quoted = [_quoted(text, sheet, was_quoted=False) for text in cells]
        lines.append(sheet.delimiter.join(quoted) + sheet.line_end)
    return _read_back(sheet, lines, [*(cells for _, cells in sheet.rows), *new])


def without_rows(
    sheet: ReadingsSheet, rows: Iterable[int], *, keep_numbers: bool = False
) -> ReadingsSheet:
    """Return the table without some rows; ``keep_numbers`` leaves empty lines in their place."""
    gone = {_known(sheet, row) for row in rows}
    lines = list(sheet.lines)
    for row in sorted(gone, reverse=True):
        count = sheet.record(row)[1]
        lines[row - 1 : row - 1 + count] = [sheet.line_end] * count if keep_numbers else []
    return _read_back(sheet, lines, [cells for row, cells in sheet.rows if row not in gone])


def _one_line(text: str) -> str:
    """Return a new text as it will be read: of one line, so that later rows keep their numbers."""
    return " ".join(printable(text).splitlines()).strip()


def _known(sheet: ReadingsSheet, row: int) -> int:
    if row not in sheet.row_at:
        raise ReadingsError("no such row", where=f"{sheet.name}, row {row}", todo="read it again")
    return row


def _changed(cells: Sequence[str], changes: Mapping[int, str]) -> tuple[str, ...]:
    width = max(len(cells), *(position + 1 for position in changes))
    return tuple(changes.get(k, cells[k] if k < len(cells) else "") for k in range(width))


def _rewrite(sheet: ReadingsSheet, lines: list[str], row: int, changes: Mapping[int, str]) -> None:
    """Put other texts into a row; its other cells stay as they are, and it keeps its lines."""
    text, count = sheet.record(row)
    mark = _BOM if row == 1 and text.startswith(_BOM) else ""
    pieces = _pieces(text.removeprefix(mark), sheet.delimiter)
    pieces += [""] * (max(changes) + 1 - len(pieces))
    for position, new in changes.items():
        pieces[position] = _quoted(new, sheet, was_quoted=pieces[position].startswith('"'))
    last = lines[row - 2 + count]
    end = last[len(last.rstrip("\r\n")) :]
    whole = _LINE.findall(mark + sheet.delimiter.join(pieces) + end)
    # later rows keep their numbers, for those without an id are called by them
    lines[row - 1 : row - 1 + count] = [*whole, *[sheet.line_end] * (count - len(whole))]


def _quoted(text: str, sheet: ReadingsSheet, *, was_quoted: bool) -> str:
    needed = any(one in text for one in (sheet.delimiter, '"', "\r", "\n"))
    if needed or was_quoted or (sheet.quotes_all and text):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text


def _pieces(text: str, delimiter: str) -> list[str]:
    """Split a row into its cells as they are written, quotation marks and all."""
    pieces: list[str] = []
    start, k, quoted, fresh = 0, 0, False, True
    while k < len(text):
        one = text[k]
        if quoted:
            if one == '"':
                if text[k + 1 : k + 2] == '"':
                    k += 1
                else:
                    quoted = False
        elif one == delimiter:
            pieces.append(text[start:k])
            start, fresh = k + 1, True
            k += 1
            continue
        elif one == '"' and fresh:
            quoted = True
        fresh = False
        k += 1
    pieces.append(text[start:])
    return pieces


def _without_end(text: str) -> str:
    """Take one line end off."""
    for end in ("\r\n", "\n", "\r"):
        if text.endswith(end):
            return text[: -len(end)]
    return text


def _read_back(
    sheet: ReadingsSheet, lines: Sequence[str], expected: Sequence[tuple[str, ...]]
) -> ReadingsSheet:
    """Return the table that some lines make; every row has to be what it is meant to be."""
    made = ReadingsSheet(
        sheet.name, (), (), sheet.header_row, sheet.delimiter, sheet.codec, False, tuple(lines)
    )
    data = made.to_bytes()
    new = read_sheet(data, name=sheet.name)
    alike = new.delimiter == sheet.delimiter and all(
        one == other or (one is not None and other is not None and _trimmed(one) == _trimmed(other))
        for one, other in zip_longest((cells for _, cells in new.rows), expected)
    )
    if not alike:
        raise ReadingsError(
            "cannot be changed here without another row reading otherwise", where=sheet.name,
            todo="mend the quotation marks and the encoding of the file",
        )  # fmt: skip
    return new


def _trimmed(cells: Sequence[str]) -> tuple[str, ...]:
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return tuple(cells[:end])
