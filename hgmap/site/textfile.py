"""Text tables as people export them: byte-order marks, semicolons, decimal commas, latin-1."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass

from hgmap.errors import ReadingsError

DELIMITERS = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True)
class TextTable:
    """A header and its rows, each with the line number that a person sees in an editor."""

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str
    encoding: str


def read_table(data: bytes, *, where: str) -> TextTable:
    """Split a delimited text file into rows.

    Raises
    ------
    ReadingsError
        If the file is empty, binary, or has no header.
    """
    text, encoding = _decode(data, where=where)
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), None)
    if first is None:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[tuple[int, tuple[str, ...]]] = []
    header: tuple[str, ...] | None = None
    while True:
        start = reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise ReadingsError(str(error), where=f"{where}, row {start}") from None
        if cells is None:
            break
        stripped = tuple(cell.strip() for cell in cells)
        if not any(stripped):
            continue
        if header is None:
            header = stripped
        else:
            rows.append((start, stripped))
    if header is None:
        raise ReadingsError("the file is empty", where=where, todo="export it again")
    return TextTable(header, tuple(rows), delimiter, encoding)


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


class AmbiguousNumberError(ValueError):
    """A comma could be a decimal mark or a thousands separator."""


def parse_number(text: str, *, decimal_comma: bool) -> float | None:
    """Read a number as written; None where it is not one.

    Parameters
    ----------
    text : str
        The cell.
    decimal_comma : bool
        The file separates its cells otherwise, so a comma inside a number is a decimal mark.

    Raises
    ------
    AmbiguousNumberError
        For ``1,234`` in a file that gives no hint.

    Examples
    --------
    >>> parse_number("0,41", decimal_comma=True)
    0.41
    >>> parse_number("n/a", decimal_comma=False) is None
    True
    """
    cleaned = text.replace("\u00a0", "").replace("\u2212", "-").strip()
    if _PLAIN.fullmatch(cleaned):
        return float(cleaned)
    if _COMMA.fullmatch(cleaned):
        if not decimal_comma and re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", cleaned):
            raise AmbiguousNumberError(cleaned)
        return float(cleaned.replace(",", "."))
    return None
