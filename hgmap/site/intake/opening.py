"""Opening a delimited text: encoding, delimiter, rows with the line numbers of an editor."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

from hgmap.errors import ReadingsError
from hgmap.site.intake.synonyms import read_title
from hgmap.site.textfile import DELIMITERS, printable

LOOKED_AT: Final = 60
"""Lines that the delimiter and the header are looked for in."""

_BINARY: Final = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"\x1f\x8b", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a text document"),
)
OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_CONTROLS: Final = bytes(set(range(32)) - {9, 10, 12, 13, 26})
_SPACES: Final = re.compile(" {2,}")

Row = tuple[int, Sequence[str]]


@dataclass(frozen=True)
class Sheet:
    """A table as it stands in a file.

    Attributes
    ----------
    where : str
        Name of the file, and of the sheet.
    rows : callable
        Goes through all rows from the top, empty ones too: number in the file, stripped cells.
    notes : tuple of str
        What a person should know about how it was read.
    points_may_group : bool
        Whether it may come from where ``1.850`` is written for 1850: semicolons say so, and text
        in a workbook, where a number would have been one.
    ends_early : bool
        Whether a whole row may have fewer cells than the header: a workbook leaves the empty ones
        at its end out, and a line of text was cut off.
    covered : frozenset of (row, column)
        Empty cells below the first one of a merged range that holds a number or a time; the number
        of the row in the file, the column from 0.
    """

    where: str
    rows: Callable[[], Iterator[Row]]
    notes: tuple[str, ...] = ()
    points_may_group: bool = False
    ends_early: bool = False
    covered: frozenset[tuple[int, int]] = frozenset()

    def top(self, count: int = LOOKED_AT) -> list[Row]:
        """Return the first rows that are not empty."""
        return list(islice((row for row in self.rows() if any(row[1])), count))


def open_text(data: bytes, *, where: str) -> Sheet:
    """Open a delimited text.

    Raises
    ------
    ReadingsError
        If the file is empty or no text.
    """
    text, encoding = _decode(data, where=where)
    notes = [] if encoding == "UTF-8" else [f"read as {encoding}; look at the accents"]
    cleaned = printable(text)
    if cleaned != text:
        notes.append("control characters were replaced by \ufffd")
    text = cleaned.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    delimiter = _delimiter(text)
    if delimiter == "  ":
        text, delimiter = _SPACES.sub("\t", text), "\t"
        notes.append("columns are set apart by two spaces or more")
    complaint = _quotes(text, delimiter)
    if complaint:
        notes.append(f"{complaint}; each line was read by itself")
        return Sheet(where, lambda: _line_by_line(text, delimiter), tuple(notes),
                     delimiter == ";")  # fmt: skip
    return Sheet(where, lambda: _rows(text, delimiter), tuple(notes), delimiter == ";")


def _decode(data: bytes, *, where: str) -> tuple[str, str]:
    for signature, name in _BINARY:
        if data.startswith(signature):
            raise ReadingsError(f"is {name}, not a table", where=where, todo="export it as CSV")
    if data.startswith(OLD_WORKBOOK):
        raise ReadingsError(
            "is an old workbook or one with a password",
            where=where,
            todo="save it as XLSX without a password",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), "UTF-16"
    head = data[:65536]
    if head.count(0) > len(head) // 4:
        even, odd = head[::2].count(0), head[1::2].count(0)
        if min(even, odd) * 20 < max(even, odd):
            name = "utf-16-le" if odd > even else "utf-16-be"
            return data.decode(name, errors="replace"), "UTF-16"
    controls = len(head) - len(head.translate(None, _CONTROLS))
    if controls * 50 > len(head):
        raise ReadingsError("is not a text table", where=where, todo="export it as CSV")
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252"


def _lines(text: str) -> Iterator[str]:
    """Go through the lines, ends included; ``splitlines`` would also end one at U+2028."""
    start = 0
    while (end := text.find("\n", start)) >= 0:
        yield text[start : end + 1]
        start = end + 1
    if start < len(text):
        yield text[start:]


def _delimiter(text: str) -> str:
    """Return the delimiter that finds the best header, then the evenest rows."""
    sample = [line for line in islice(_lines(text), 4 * LOOKED_AT) if line.strip()][:LOOKED_AT]

    def merit(delimiter: str) -> tuple[float, float]:
        rows = [_cells(line, delimiter) for line in sample]
        named = max(sum(read_title(cell).ours is not None for cell in row[:200]) for row in rows)
        width, count = Counter(map(len, rows)).most_common(1)[0]
        return named, (width - 1) * count / len(rows)

    best = max(DELIMITERS, key=merit)
    if merit(best)[1] < 0.5:
        spaced = [_SPACES.sub("\t", line.strip()) for line in sample]
        if sum("\t" in line for line in spaced) * 2 > len(spaced):
            return "  "
    return best


def _rows(text: str, delimiter: str) -> Iterator[Row]:
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
    start = 1
    for cells in reader:
        yield start, [cell.strip() for cell in cells]
        start = reader.line_num + 1


def _quotes(text: str, delimiter: str) -> str:
    """Return what is wrong with the quotation marks; one never closed would swallow the rest."""
    if '"' not in text and len(text) <= csv.field_size_limit():
        return ""
    start = 1
    try:
        reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
        for _ in reader:
            start = reader.line_num + 1
    except csv.Error as error:
        return f"row {start}: {error}"
    return ""


def _line_by_line(text: str, delimiter: str) -> Iterator[Row]:
    for number, line in enumerate(_lines(text), start=1):
        yield number, [cell.strip() for cell in _cells(line, delimiter)]


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a cell beyond the limit of the csv module
        return line.rstrip("\n").split(delimiter)
