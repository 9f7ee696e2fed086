"""The text of an EnergyPlus input file (IDF): objects of fields, ``!`` comments, ``;`` ends."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from hgmap.errors import PlanError
from hgmap.site.importers.names import one_line_text
from hgmap.site.plan import FARTHEST_M
from hgmap.site.textfile import printable

MOST_BYTES: Final = 64 * 2**20
"""A model of a hospital has one and a half million; ours, no source."""

LONGEST_FIELD: Final = 4000
MOST_FIELDS: Final = 20_000
"""Characters of a field and fields of an object: beyond them it is no IDF; ours, no source."""

SENTINELS: Final = ("", "autocalculate", "autosize")
"""What a number that is left to the program may be written as."""


@dataclass(frozen=True, slots=True)
class IdfObject:
    """One object: its class in small letters, its fields without the class, and its line."""

    kind: str
    fields: tuple[str, ...]
    line: int
    file: str

    def text(self, index: int) -> str:
        """Return a field, empty where the object ends before it."""
        return self.fields[index] if index < len(self.fields) else ""

    def number(self, index: int, *, otherwise: float = 0.0) -> float:
        """Return a number; ``otherwise`` where the field is empty or left to the program.

        Raises
        ------
        PlanError
            If it is no finite number.
        """
        text = self.text(index)
        if text.casefold() in SENTINELS:
            return otherwise
        value = number_or_none(text)
        if value is None or not abs(value) <= FARTHEST_M:
            raise PlanError(
                f"{one_line_text(text)!r} in field {index + 1} is no length or angle",
                where=self.where,
                todo="mend the object",
            )
        return value

    @property
    def name(self) -> str:
        """Its first field, in one line."""
        return one_line_text(self.text(0))

    @property
    def where(self) -> str:
        """How a message calls it."""
        called = f" {self.name!r}" if self.name else ""
        return f"{self.file}, line {self.line}, {self.kind}{called}"


def read_idf(data: bytes, *, file: str) -> dict[str, list[IdfObject]]:
    """Split an IDF into its objects, by class in small letters.

    Raises
    ------
    PlanError
        If it is no IDF, ends inside an object, or holds macros.

    Examples
    --------
    >>> read_idf(b"Zone, Lab, 0;  ! an object", file="a.idf")["zone"][0].fields
    ('Lab', '0')
    """
    text = _text(data, file=file)
    found: dict[str, list[IdfObject]] = defaultdict(list)
    for one in _objects(text, file=file):
        found[one.kind].append(one)
    if not found:
        raise PlanError("has no object", where=file, todo="save the model as IDF again")
    return dict(found)


def number_or_none(text: str) -> float | None:
    """Return a number as written, or None.

    Examples
    --------
    >>> number_or_none("-2.4390"), number_or_none("autocalculate"), number_or_none("1_0")
    (-2.439, None, None)
    """
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eEdD][+-]?\d+)?", text, re.ASCII):
        return None
    return float(text.replace("d", "e").replace("D", "e"))


def _text(data: bytes, *, file: str) -> str:
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES / 2**20:.0f} MiB", where=file, todo="is it an IDF?"
        )
    if not data.strip():
        raise PlanError("is empty", where=file, todo="save the model as IDF again")
    if data.startswith((b"PK\x03\x04", b"%PDF", b"\x1f\x8b")) or b"\x00" in data:
        raise PlanError("is no text, so no IDF", where=file, todo="save the model as IDF again")
    if data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        raise PlanError(
            "is a model in JSON (epJSON)", where=file, todo="convert it to IDF, which is read"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    return printable(text)


def _objects(text: str, *, file: str) -> Iterator[IdfObject]:
    """Go through the objects; an object may share a line with others or run over many."""
    fields: list[str] = []
    begun = ""
    first = 0
    # an editor counts these three line ends and no other
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if line.startswith("##"):
            raise PlanError(
                "holds macros (##)",
                where=f"{file}, line {number}",
                todo="expand them, and import the IDF that comes of it",
            )
        code = line.partition("!")[0]
        for piece, mark in re.findall(r"([^,;]*)([,;]|$)", code):
            begun = f"{begun} {piece.strip()}".strip()
            if len(begun) > LONGEST_FIELD or len(fields) > MOST_FIELDS:
                raise PlanError(
                    "an object without an end begins here",
                    where=f"{file}, line {first}",
                    todo="is it an IDF? save it again",
                )
            if begun and not first:
                first = number
            if mark == "":
                continue
            fields.append(begun)
            begun = ""
            if mark == ";":
                if fields[0]:
                    yield IdfObject(fields[0].casefold(), tuple(fields[1:]), first, file)
                fields, first = [], 0
    if fields or begun:
        raise PlanError(
            "the file ends inside an object that began here",
            where=f"{file}, line {first}",
            todo="it is cut short, or no IDF: save it again",
        )
