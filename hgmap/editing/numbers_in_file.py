"""Numbers written as their file writes them, so that no other number of it reads otherwise."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Final

from hgmap.editing.sheet import ReadingsSheet
from hgmap.errors import ReadingsError
from hgmap.site.intake.cells import guarded, number_cell
from hgmap.site.reading_context import NUMBERS
from hgmap.site.textfile import (
    AmbiguousNumberError,
    DecimalMarks,
    decimal_marks,
    parse_a_number,
    parse_number,
)

_SIGNED: Final = re.compile(r"([<>~≤≥\s]*)\+?(.*)", re.DOTALL)


def marks_of(sheet: ReadingsSheet) -> DecimalMarks:
    """Return what the numbers of a file prove of its commas and points, as its reader finds it."""
    positions = _positions(sheet)
    return decimal_marks(
        (cells[k].lstrip("<> ") for _, cells in sheet.rows for k in positions if k < len(cells)),
        commas=sheet.may_hold_commas,
    )


def number_text(number: float, marks: DecimalMarks) -> str:
    """Write a number with the file's decimal mark, never so that it could be of thousands."""
    text = number_cell(number)
    return text.replace(".", ",") if _comma(marks) else text


def typed_number(text: str, marks: DecimalMarks, *, where: str) -> str:
    """Return what a person typed as a number, with the file's decimal mark.

    What is no number stays as it is, behind a guard where a spreadsheet would run it.

    Raises
    ------
    ReadingsError
        If its comma or point may be a decimal mark or set thousands apart.
    """
    line = " ".join(text.split())
    match = _SIGNED.fullmatch(line)
    sign, bare = (match[1], match[2]) if match else ("", line)
    try:
        number = parse_number(bare, marks)
    except AmbiguousNumberError as error:
        raise ReadingsError(
            f"{text!r}: {error}", where=where, todo="write it without thousands, or add a zero"
        ) from None
    if number is None:
        return guarded(line)
    if _comma(marks):
        return sign + bare.replace(".", ",")
    # a comma that stays would prove a decimal comma for the whole file
    return sign + bare.replace(",", ".")


def check_other_numbers(
    before: ReadingsSheet, after: ReadingsSheet, edited: Collection[int], *, old: DecimalMarks
) -> None:
    """Refuse an edit that turns the numbers of other rows into others.

    One row may be the only proof of what the commas of a file mean.

    Raises
    ------
    ReadingsError
        Naming the first such number.
    """
    new = marks_of(after)
    if (bool(old.comma), bool(old.point)) == (bool(new.comma), bool(new.point)):
        return
    for row, cells in before.rows:
        if row in edited:
            continue
        for k in _positions(before):
            text = cells[k].lstrip("<> ") if k < len(cells) else ""
            if parse_a_number(text, old)[0] != parse_a_number(text, new)[0]:
                raise ReadingsError(
                    f"{text!r} would be read otherwise, for it is this edit that says what its "
                    "comma or point means",
                    where=f"{before.name}, row {row}",
                    todo="write that number with another digit first",
                )


def _comma(marks: DecimalMarks) -> bool:
    return bool(marks.comma) and not marks.point


def _positions(sheet: ReadingsSheet) -> list[int]:
    found = [sheet.position(name) for name in NUMBERS]
    return [one for one in found if one is not None]
