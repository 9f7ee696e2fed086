"""Text tables as people export them: byte-order marks, semicolons, decimal commas, latin-1."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass

from hgmap.errors import ReadingsError

DELIMITERS = (",", ";", "\t", "|")

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


@dataclass(frozen=True, slots=True)
class TextTable:
    """A header and its rows, each with the line number that a person sees in an editor.

    ``remark`` says where quotation marks did not fit, so that each line was read by itself.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str
    encoding: str
    remark: str = ""


def read_table(data: bytes, *, where: str) -> TextTable:
    """Split a delimited text file into rows.

    Raises
    ------
    ReadingsError
        If the file is empty, binary, or has no header.
    """
    text, encoding = _decode(data, where=where)
    text = printable(text)
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), None)
    if first is None:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    delimiter = max(DELIMITERS, key=first.count)
    lines_read, remark = _split(text, delimiter)
    stripped = [(number, tuple(cell.strip() for cell in cells)) for number, cells in lines_read]
    rows = [(number, cells) for number, cells in stripped if any(cells)]
    if not rows:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    return TextTable(rows[0][1], tuple(rows[1:]), delimiter, encoding, remark)


def _split(text: str, delimiter: str) -> tuple[list[tuple[int, list[str]]], str]:
    """Split text into cells, each row with the number of its first line.

    A quotation mark that is never closed would swallow every row after it: then each line is
    read by itself, and the remark says so.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        lines = enumerate(io.StringIO(text, newline=""), start=1)
        return [
            (number, _cells(line, delimiter)) for number, line in lines
        ], f"row {start}: {error}; each line was read by itself"
    return rows, ""


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a cell beyond the limit of the csv module
        return [line]


def _decode(data: bytes, *, where: str) -> tuple[str, str]:
    if data.startswith((b"PK\x03\x04", b"%PDF", b"\x89PNG")) or b"\x00" in data[:4096]:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16", errors="replace"), "utf-16"
        raise ReadingsError("is not a text table", where=where, todo="export it as CSV")
    try:
        return data.decode("utf-8-sig"), "utf-8"
    except UnicodeDecodeError:
        # latin-1 never fails; cp1252 is what spreadsheets really write under that name
        return data.decode("cp1252", errors="replace"), "cp1252"


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


def decimal_marks(cells: Iterable[str]) -> DecimalMarks:
    """Find out from all numbers of a file what its commas and points mean.

    ``1,850`` proves nothing; ``12,5`` and ``0,410`` prove a decimal comma, and so does
    ``1.234.567``, whose points can only set thousands apart.

    Examples
    --------
    >>> decimal_marks(["1,850", "0,41", "3"])
    DecimalMarks(comma='0,41', point='')
    """
    comma = point = ""
    for cell in cells:
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


def _cleaned(text: str) -> str:
    return text.replace("\u00a0", "").replace("\u2212", "-").strip()


def _question(mark: str, marks: DecimalMarks) -> str:
    proofs = " and ".join(repr(text) for text in (marks.comma, marks.point) if text)
    seen = f"the file also writes {proofs}" if proofs else "no other number of the file says"
    name = "comma" if mark == "," else "point"
    return f"is the {name} a decimal mark or for thousands? {seen}"
