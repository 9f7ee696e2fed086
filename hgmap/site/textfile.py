"""Text tables as people export them: byte-order marks, semicolons, decimal commas, latin-1."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from hgmap.errors import ReadingsError

DELIMITERS = (",", ";", "\t", "|")

MOST: Final = 1e12
"""No number of a survey is larger, in any unit."""

_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)


def printable(text: str) -> str:
    r"""Put a replacement character for each that could steer a terminal or turn a line around.

    Tabs and line ends stay.

    Examples
    --------
    >>> printable("a\x1b[31mb") == "a\ufffd[31mb"
    True
    """
    return _UNPRINTABLE.sub("\ufffd", text)


Row = tuple[int, tuple[str, ...]]
"""The line that a row begins on, as an editor counts, and its cells."""


@dataclass(frozen=True)
class TextTable:
    """A header and its rows, each with the line number that a person sees in an editor.

    The rows are split anew each time they are gone through: a file may have a million of them.
    ``remark`` says where quotation marks did not fit, so that each line was read by itself.
    """

    header: tuple[str, ...]
    header_line: int
    delimiter: str
    encoding: str
    remark: str
    data: bytes

    def __iter__(self) -> Iterator[Row]:
        rows = _rows(self.data, self.encoding, self.delimiter, one_by_one=bool(self.remark))
        next(rows)  # the header
        return rows

    @cached_property
    def may_hold_commas(self) -> bool:
        """Whether a cell could hold a comma, or points that set thousands apart."""
        return (
            self.delimiter != ","
            or b'"' in self.data
            or re.search(rb"\.\d{3}\.\d{3}", self.data) is not None
        )

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows at once."""
        return tuple(self)


def read_table(data: bytes, *, where: str) -> TextTable:
    """Split a delimited text file into rows.

    Raises
    ------
    ReadingsError
        If the file is empty, binary, or has no header.
    """
    encoding = text_encoding(data, where=where)
    first = next((line for line in _lines(data, encoding) if line.strip()), None)
    if first is None:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    delimiter = max(DELIMITERS, key=first.count)
    remark = _misfit(data, encoding, delimiter)
    header = next(_rows(data, encoding, delimiter, one_by_one=bool(remark)), None)
    if header is None:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    return TextTable(header[1], header[0], delimiter, encoding, remark, data)


def _lines(data: bytes, encoding: str) -> Iterator[str]:
    codec = "utf-8-sig" if encoding == "utf-8" else encoding
    for line in io.TextIOWrapper(io.BytesIO(data), codec, errors="replace", newline=""):
        yield printable(line)


def _misfit(data: bytes, encoding: str, delimiter: str) -> str:
    """Say where quotation marks do not fit; one that is never closed would swallow all after it."""
    plain = encoding == "utf-8" and b'"' not in data and b"\r" not in data.replace(b"\r\n", b"")
    longest = csv.field_size_limit()
    if plain and all(len(line) < longest for line in io.BytesIO(data)):
        return ""
    reader = csv.reader(_lines(data, encoding), delimiter=delimiter, strict=True)
    line = 1
    try:
        for _ in reader:
            line = reader.line_num + 1
    except csv.Error as error:
        return f"row {line}: {error}; each line was read by itself"
    return ""


def _rows(data: bytes, encoding: str, delimiter: str, *, one_by_one: bool) -> Iterator[Row]:
    split = _each_line if one_by_one else _by_quotes
    for number, cells in split(_lines(data, encoding), delimiter):
        stripped = tuple(map(str.strip, cells))
        if any(stripped):
            yield number, stripped


def _by_quotes(lines: Iterator[str], delimiter: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    start = 1
    for cells in reader:
        yield start, cells
        start = reader.line_num + 1


def _each_line(lines: Iterator[str], delimiter: str) -> Iterator[tuple[int, list[str]]]:
    for number, line in enumerate(lines, start=1):
        try:
            yield number, next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:  # a cell beyond the limit of the csv module
            yield number, [line]


def text_encoding(data: bytes, *, where: str) -> str:
    """Return the encoding that a table is read in: utf-8, utf-16 or cp1252.

    Raises
    ------
    ReadingsError
        If it is no text.
    """
    if data.startswith((b"PK\x03\x04", b"%PDF", b"\x89PNG")) or b"\x00" in data[:4096]:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return "utf-16"
        raise ReadingsError("is not a text table", where=where, todo="export it as CSV")
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # latin-1 never fails; cp1252 is what spreadsheets really write under that name
        return "cp1252"
    return "utf-8"


_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d*,\d+([eE][+-]?\d+)?")
# groups of three behind one to three digits; nobody groups a number that starts with a zero
_GROUPS = re.compile(r"[+-]?[1-9]\d{0,2}([.,])\d{3}(?:\1\d{3})*")


class AmbiguousNumberError(ValueError):
    """A comma or a point could be a decimal mark or set thousands apart."""


@dataclass(frozen=True, slots=True)
class DecimalMarks:
    """The first number of a file that proves a decimal comma, and a decimal point; else empty."""

    comma: str = ""
    point: str = ""


def decimal_marks(cells: Iterable[str], *, commas: bool = True) -> DecimalMarks:
    """Find out from all numbers of a file what its commas and points mean.

    ``commas`` is False where no cell can hold a comma, or points that set thousands apart: then
    the first decimal point says it all.

    ``1,850`` proves nothing; ``12,5`` and ``0,410`` prove a decimal comma, and so does
    ``1.234.567``, whose points can only set thousands apart.

    Examples
    --------
    >>> decimal_marks(["1,850", "0,41", "3"])
    DecimalMarks(comma='0,41', point='')
    """
    comma = point = ""
    for cell in cells:
        if point and not commas:
            break
        # most cells prove nothing new: they are passed by quickly, for there may be millions
        if "," not in cell and (point or "." not in cell) and cell.count(".") < 2:
            continue
        text = _cleaned(cell)
        groups = _GROUPS.fullmatch(text)
        if groups is not None:
            if text.count(groups[1]) > 1:
                comma = comma or (text if groups[1] == "." else "")
                point = point or (text if groups[1] == "," else "")
        elif _COMMA.fullmatch(text):
            comma = comma or text
        elif "." in text and _PLAIN.fullmatch(text):
            point = point or text
    return DecimalMarks(comma, point)


def parse_number(text: str, marks: DecimalMarks) -> float | None:
    """Read a number as written; None where it is not one.

    Parameters
    ----------
    text : str
        The cell.
    marks : DecimalMarks
        What the other numbers of its file prove.

    Raises
    ------
    AmbiguousNumberError
        For ``1,850`` unless the file proves a decimal comma and no decimal point, for ``1.850``
        where it proves a decimal comma, and for more than one group of three.

    Examples
    --------
    >>> parse_number("1,850", DecimalMarks(comma="0,41"))
    1.85
    >>> parse_number("0,410", DecimalMarks())
    0.41
    >>> parse_number("n/a", DecimalMarks()) is None
    True
    """
    cleaned = _cleaned(text)
    groups = _GROUPS.fullmatch(cleaned)
    if groups is not None:
        mark = groups[1]
        plain = marks.comma and not marks.point if mark == "," else not marks.comma
        if not plain or cleaned.count(mark) > 1:
            raise AmbiguousNumberError(_question(mark, marks))
    if _PLAIN.fullmatch(cleaned):
        return float(cleaned)
    return float(cleaned.replace(",", ".")) if _COMMA.fullmatch(cleaned) else None


def parse_a_number(text: str, marks: DecimalMarks) -> tuple[float | None, str]:
    """Read a cell that should hold a number: the number, or None and what is wrong with it.

    An empty cell is None, and nothing is wrong with it.
    """
    if not text:
        return None, ""
    # the plain case first: digits and one point, in a file whose points cannot set thousands
    if not marks.comma and text.isascii() and text.replace(".", "", 1).isdigit():
        value: float | None = float(text)
    else:
        try:
            value = parse_number(text, marks)
        except AmbiguousNumberError as error:
            return None, f": {error}"
    if value is None:
        return None, " is not a number"
    if abs(value) > MOST:
        return None, " is beyond any measurement"
    return value, ""


def _cleaned(text: str) -> str:
    return text.replace("\u00a0", "").replace("\u2212", "-").strip()


def _question(mark: str, marks: DecimalMarks) -> str:
    proofs = " and ".join(repr(text) for text in (marks.comma, marks.point) if text)
    seen = f"the file also writes {proofs}" if proofs else "no other number of the file says"
    name = "comma" if mark == "," else "point"
    return f"is the {name} a decimal mark or for thousands? {seen}"
