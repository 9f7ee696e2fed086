"""A readings file becomes readings; none of its rows is dropped.

What stands against a reading is kept in ``held``, in words, and the reading stays in every table
that hgmap writes.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

from hgmap.errors import ReadingsError
from hgmap.site.collector import collector_off
from hgmap.site.columns import known_columns
from hgmap.site.model import Problem
from hgmap.site.reading import OFF_MAP, Reading
from hgmap.site.reading_context import COLUMNS, NUMBERS, REQUIRED, ReadingContext
from hgmap.site.reading_rows import RowReader
from hgmap.site.textfile import decimal_marks, read_table

__all__ = ["ReadingContext", "hold_repeated_ids", "hold_repeats_off_the_map", "read_readings"]

ROWS_AT_ONCE: Final = 20_000


def read_readings(
    data: bytes, context: ReadingContext, *, where: str, round_name: str | None
) -> tuple[list[Reading], list[Problem]]:
    """Read one file.

    Parameters
    ----------
    data : bytes
        The file.
    context : ReadingContext
        The site.
    where : str
        Name of the file, for messages.
    round_name : str or None
        The round of a row that names none; None where several rounds share the file.

    Raises
    ------
    ReadingsError
        If the file as a whole cannot be read: no table, no rows, no ``value`` or ``unit`` column.
    """
    table = read_table(data, where=where)
    problems: list[Problem] = []
    if table.encoding not in ("utf-8", "utf-16"):
        problems.append(
            Problem("note", where, f"is not UTF-8; read as {table.encoding}", "look at the accents")
        )
    if table.remark:
        problems.append(Problem("note", where, table.remark, "look at the quotation marks"))
    index = known_columns(
        table, COLUMNS, REQUIRED, problems, where=where, name_of=column_name,
        todo="`hgmap import readings` takes other columns; ",
    )  # fmt: skip
    numbers = [index[name] for name in NUMBERS if name in index]
    marks = decimal_marks(
        (cells[i].lstrip("<> ") for _, cells in table for i in numbers if i < len(cells)),
        commas=table.may_hold_commas,
    )
    reader = RowReader(
        context,
        index,
        where=where,
        round_name=round_name,
        marks=marks,
        width=len(table.header),
        guarded=b"'" in data,
    )
    readings: list[Reading] = []
    rows = iter(table)
    with collector_off():
        while some := list(itertools.islice(rows, ROWS_AT_ONCE)):
            readings += reader.read(some)
    if not readings:
        raise ReadingsError("has a header but no row", where=where, todo="export it again")
    return readings, problems


def column_name(title: str) -> str:
    """Return our name of a column, as its title writes it: ``X_m`` is ``x``."""
    return title.casefold().removesuffix("_m").removesuffix("_c").removesuffix("_kpa").strip()


def hold_repeated_ids(readings: Sequence[Reading]) -> list[Reading]:
    """Hold readings of one round that share an id.

    Where the rows are the same in every respect the first one counts; where they differ nobody
    can tell which is right, and all are held.
    """
    ids: dict[str, set[str]] = {}
    for reading in readings:
        ids.setdefault(reading.round, set()).add(reading.id)
    if sum(map(len, ids.values())) == len(readings):
        return list(readings)
    groups: dict[tuple[str, str], list[int]] = {}
    for position, reading in enumerate(readings):
        groups.setdefault((reading.round, reading.id), []).append(position)
    result = list(readings)
    for (_, identifier), positions in groups.items():
        if len(positions) < 2:
            continue
        same = len({readings[i]._replace(where="") for i in positions}) == 1
        rows = ", ".join(readings[i].where for i in positions)
        for i in positions[1:] if same else positions:
            why = (
                f"id {identifier!r} repeats {readings[positions[0]].where}, the same row twice"
                if same
                else f"id {identifier!r} stands for different readings ({rows})"
            )
            result[i] = result[i]._replace(held=(*result[i].held, why))
    return result


def hold_repeats_off_the_map(readings: Sequence[Reading]) -> list[Reading]:
    """Hold duplicates of what says nothing about the air at a place: they say no more of it.

    A duplicate of a field blank is low wherever it is opened, and would clear the ground there.
    Held, not put off the map: it may be one of the air that names the wrong original.
    """
    kinds = {(one.round, one.id): one.kind for one in readings if one.kind in OFF_MAP}
    if not kinds:
        return list(readings)
    result = list(readings)
    for k, one in enumerate(readings):
        kind = kinds.get((one.round, one.duplicate_of)) if one.duplicate_of else None
        if kind is not None and one.on_map:
            why = f"repeats {one.duplicate_of}, of the kind {kind!r}: write that as its kind too"
            result[k] = one._replace(held=(*one.held, why))
    return result
