"""Editing readings where they were written down: a cell, a row, a place. Pure: files to files."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Final, NamedTuple

from shapely import Point

from hgmap.editing.numbers_in_file import check_other_numbers, marks_of, number_text, typed_number
from hgmap.editing.round_settings import edit_round
from hgmap.editing.sheet import (
    ReadingsSheet,
    read_sheet,
    with_cells,
    with_columns,
    without_rows,
)
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import table_of
from hgmap.errors import ReadingsError, SiteError
from hgmap.site.building import Floor, Room
from hgmap.site.intake.cells import guarded, unguarded
from hgmap.site.plan import read_plan
from hgmap.site.reading import Reading
from hgmap.site.reading_context import COLUMNS, NUMBERS
from hgmap.site.store import plain_name
from hgmap.site.textfile import DecimalMarks
from hgmap.site.whereabouts import OUTSIDE_TOLERANCE_M

_WHERE: Final = re.compile(r"(.+), row (\d+)", re.DOTALL)
PLACE_DIGITS: Final = 3
"""A place is written to the millimetre."""


class Location(NamedTuple):
    """Where a reading was written down: the file, and the line that its row begins on."""

    name: str
    row: int


def locate(files: SiteFiles, where: str) -> Location:
    """Return the file and row of ``Reading.where``.

    Raises
    ------
    ReadingsError
        If there is no such file.
    """
    match = _WHERE.fullmatch(where)
    if match is None:
        raise ReadingsError("is no file and row", where=where)
    name = plain_name(match[1], where=where)
    files.data(name)
    return Location(name, int(match[2]))


def check_rows(files: SiteFiles, expected: Mapping[Location, Collection[str]]) -> None:
    """Refuse to go on where a row is not the reading that somebody saw there.

    Rows move up as soon as one above them is deleted, or a step is taken back.

    Parameters
    ----------
    files : SiteFiles
    expected : mapping of Location to collection of str
        The ids that the reading of a row may have; a made-up one stands for an empty cell.

    Raises
    ------
    ReadingsError
        Naming the first row that is another reading by now.
    """
    sheets: dict[str, ReadingsSheet] = {}
    for (name, row), ids in expected.items():
        if name not in sheets:
            sheets[name] = read_sheet(files.data(name), name=name)
        sheet = sheets[name]
        made_up = f"{PurePosixPath(name).stem}-row-{row}"
        there = row in sheet.row_at
        found = there and (unguarded(sheet.cell(row, sheet.position("id"))) or made_up)
        if found not in ids:
            raise ReadingsError(
                f"the row is not reading {next(iter(ids), '')!r} any more; nothing was changed",
                where=f"{name}, row {row}", todo="look at the table again, then do it once more",
            )  # fmt: skip


def set_cells(files: SiteFiles, name: str, changes: Mapping[tuple[int, str], str]) -> SiteFiles:
    """Write other texts into some cells.

    Parameters
    ----------
    files : SiteFiles
    name : str
        A readings file.
    changes : mapping of (row, column) to str
        ``column`` is one of ours (``"x"``) or a title of the file; one of ours that the file does
        not have is added. Numbers are written with the file's decimal mark.

    Raises
    ------
    ReadingsError
        If there is no such row or column, or another row would read otherwise.
    """
    name = plain_name(name, where=name)
    sheet = read_sheet(files.data(name), name=name)
    after = _set(sheet, changes)
    return files.with_file(name, after.to_bytes())


def _set(sheet: ReadingsSheet, changes: Mapping[tuple[int, str], str]) -> ReadingsSheet:
    marks = marks_of(sheet)
    texts = {
        (row, column): cell_text(column, text, marks, where=f"{sheet.name}, row {row}")
        for (row, column), text in changes.items()
    }
    after = with_our_columns(sheet, [column for (_, column), text in texts.items() if text])
    cells = {}
    for (row, column), text in texts.items():
        position = after.position(column)
        if position is not None:
            cells[row, position] = text
    after = with_cells(after, cells)
    check_other_numbers(sheet, after, {row for row, _ in cells}, old=marks)
    return after


def cell_text(column: str, text: str, marks: DecimalMarks, *, where: str) -> str:
    """Return what is written for a text that a person typed into a column."""
    if column in NUMBERS:
        return typed_number(text, marks, where=f"{where}, {column}")
    return guarded(text)


def with_our_columns(sheet: ReadingsSheet, columns: Iterable[str]) -> ReadingsSheet:
    """Return the table with those of our columns that it does not have and needs now.

    Raises
    ------
    ReadingsError
        If one is neither ours nor in the table.
    """
    missing = [one for one in dict.fromkeys(columns) if sheet.position(one) is None]
    strange = [one for one in missing if one not in COLUMNS]
    if strange:
        raise ReadingsError(
            f"no column {strange[0]!r}", where=f"{sheet.name}, row {sheet.header_row}",
            todo=f"columns of ours: {', '.join(COLUMNS)}",
        )  # fmt: skip
    return with_columns(sheet, missing) if missing else sheet


def delete_rows(files: SiteFiles, locations: Iterable[Location]) -> SiteFiles:
    """Take rows away; a file without any row left is no longer listed under its rounds.

    Readings without an id are called by their row: where one stands below, the rows taken away
    leave empty lines, so that it keeps its name.

    Raises
    ------
    ReadingsError
        If there is no such row, or another one would read otherwise.
    """
    by_file: dict[str, list[int]] = {}
    for name, row in locations:
        by_file.setdefault(plain_name(name, where=name), []).append(row)
    for name, rows in by_file.items():
        sheet = read_sheet(files.data(name), name=name)
        position = sheet.position("id")
        nameless = any(not sheet.cell(row, position) for row, _ in sheet.rows if row > min(rows))
        after = without_rows(sheet, rows, keep_numbers=nameless)
        check_other_numbers(sheet, after, rows, old=marks_of(sheet))
        files = files.with_file(name, after.to_bytes())
        if after.rows:
            continue
        for one in table_of(files).rounds:
            kept = [file for file in one.readings if plain_or_as_is(file) != name]
            if len(kept) < len(one.readings):
                files = edit_round(files, one.name, readings=kept)
    return files


def move_reading(
    files: SiteFiles, reading: Reading, x: float, y: float, *, floor: Floor | None = None
) -> SiteFiles:
    """Put a reading at another place of its floor.

    The place is written to the millimetre; a grid place and offsets from walls are cleared, for
    they name the old place. A room that is written becomes the one that the new place lies in, or
    is cleared where it lies in none.

    Parameters
    ----------
    files : SiteFiles
    reading : Reading
    x, y : float
        In the floor's frame (m).
    floor : Floor, optional
        Its floor, if it was read already.

    Raises
    ------
    ReadingsError
        If its row is not there, or cannot be changed.
    """
    name, row = locate(files, reading.where)
    check_rows(files, {Location(name, row): (reading.id,)})
    sheet = read_sheet(files.data(name), name=name)
    x, y = round(x, PLACE_DIGITS), round(y, PLACE_DIGITS)
    marks = marks_of(sheet)
    changes = {(row, "x"): number_text(x, marks), (row, "y"): number_text(y, marks)}
    changes |= {(row, one): "" for one in ("grid", "offsets")}
    room = unguarded(sheet.cell(row, sheet.position("room")))
    if room:
        rooms = floor.rooms if floor else _rooms(files, reading.floor)
        changes[row, "room"] = _room_at(rooms, room, x, y)
    return files.with_file(name, _set(sheet, changes).to_bytes())


def _rooms(files: SiteFiles, floor: str) -> tuple[Room, ...]:
    for one in table_of(files).floors:
        if one.name == floor:
            try:
                return read_plan(files.data(one.plan), where=one.plan, floor=floor).rooms
            except SiteError:
                break
    return ()


def _room_at(rooms: Sequence[Room], written: str, x: float, y: float) -> str:
    """Return how the room at a place is written: the same where it still holds, else as it was."""
    place = Point(x, y)
    near = [one for one in rooms if one.polygon.distance(place) <= OUTSIDE_TOLERANCE_M]
    word = written.casefold()
    if any(word in (one.id.casefold(), one.name.casefold()) for one in near):
        return written
    if not near:
        return "" if rooms else written
    by_id = any(word == one.id.casefold() for one in rooms)
    return near[0].id if by_id else near[0].name


def plain_or_as_is(name: str) -> str:
    """Return a file's plain name; one that lies outside the folder is no file of ours."""
    try:
        return plain_name(name, where=name)
    except SiteError:
        return name
