"""Rows of a readings file become readings: parsed, placed, and held where they cannot be trusted.

Every row becomes one :class:`~hgmap.site.reading.Reading`; none is dropped. What stands against a
reading is kept in ``held``, in words, and the reading stays in every table that hgmap writes.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from pathlib import PurePosixPath
from typing import Final

from hgmap.errors import HgmapError, ReadingsError
from hgmap.site.building import Floor, HeightBand
from hgmap.site.model import Medium, Problem
from hgmap.site.reading import Qualifier, Reading
from hgmap.site.textfile import (
    AmbiguousNumberError,
    DecimalMarks,
    TextTable,
    decimal_marks,
    parse_number,
    read_table,
)
from hgmap.site.units import saturated_concentration_ug_m3, to_computing
from hgmap.site.whereabouts import RoomIndex, find_band, find_floor, find_place

COLUMNS: Final = (
    "id", "floor", "room", "x", "y", "height", "time", "value", "unit", "qualifier", "round",
    "note", "temperature",
)  # fmt: skip
REQUIRED: Final = ("value", "unit")
NUMBERS: Final = ("x", "y", "height", "value", "temperature")

HOTTEST_ROOM_C: Final = 40.0
MOST_BULK_MG_KG: Final = 1e6


@dataclass(frozen=True)
class ReadingContext:
    """What a row is judged against.

    ``floors`` maps names and titles (case-folded) to floors; ``lost_floors`` are those whose plan
    could not be read. ``detection_limit`` (value, unit) is what a zero means, where the site says.
    """

    medium: Medium
    analyte: str
    floors: Mapping[str, Floor]
    lost_floors: frozenset[str]
    rounds: frozenset[str]
    bands: Sequence[HeightBand]
    detection_limit: tuple[float, str] | None
    default_height_m: float | None

    @cached_property
    def indices(self) -> dict[str, RoomIndex]:
        """The rooms of each floor, by the floor's name, to look up."""
        return {floor.name: RoomIndex.of(floor) for floor in self.floors.values()}


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
    index = _columns(table, problems, where=where)
    if not table.rows:
        raise ReadingsError("has a header but no row", where=where, todo="export it again")
    rows = [
        {name: cells[i] if i < len(cells) else "" for name, i in index.items()}
        for _, cells in table.rows
    ]
    marks = decimal_marks(row.get(name, "").lstrip("<> ") for row in rows for name in NUMBERS)
    readings = [
        _reading(
            row,
            context,
            where=f"{where}, row {number}",
            round_name=round_name,
            marks=marks,
            extra_cells=len(cells) > len(table.header) and any(cells[len(table.header) :]),
        )
        for row, (number, cells) in zip(rows, table.rows, strict=True)
    ]
    return readings, problems


def _columns(table: TextTable, problems: list[Problem], *, where: str) -> dict[str, int]:
    index: dict[str, int] = {}
    for position, title in enumerate(table.header):
        name = title.casefold().removesuffix("_m").removesuffix("_c").strip()
        if name in index:
            raise ReadingsError(
                f"column {title!r} stands twice", where=f"{where}, row 1", todo="keep one"
            )
        if name in COLUMNS:
            index[name] = position
        elif title:
            near = difflib.get_close_matches(name, COLUMNS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else ""
            problems.append(Problem("note", where, f"column {title!r} is not read", hint))
    missing = [name for name in REQUIRED if name not in index]
    if missing:
        raise ReadingsError(
            f"no column {' and no column '.join(repr(name) for name in missing)}",
            where=f"{where}, row 1",
            todo=f"known columns: {', '.join(COLUMNS)}",
        )
    return index


def _reading(
    row: Mapping[str, str],
    context: ReadingContext,
    *,
    where: str,
    round_name: str | None,
    marks: DecimalMarks,
    extra_cells: bool,
) -> Reading:
    held: list[str] = []
    cautions: list[str] = []
    if extra_cells:
        held.append("the row has more cells than the header; a comma inside a number?")

    def number(name: str) -> float | None:
        text = row.get(name, "")
        if not text:
            return None
        try:
            parsed = parse_number(text, marks)
        except AmbiguousNumberError as error:
            held.append(f"{name} {text!r}: {error}")
            return None
        if parsed is None:
            held.append(f"{name} {text!r} is not a number")
        elif abs(parsed) > 1e12:
            held.append(f"{name} {text!r} is beyond any measurement")
            return None
        return parsed

    temperature_c = number("temperature")
    qualifier, value_text = _qualifier(row, held)
    row = {**row, "value": value_text}
    value = number("value")
    value, unit, qualifier = _zero(value, row.get("unit", ""), qualifier, context, held, cautions)
    concentration = _concentration(value, unit, qualifier, temperature_c, context, held)
    time = _time(row.get("time", ""), held)
    round_name = _round(row.get("round", ""), round_name, context, held)
    floor = find_floor(row.get("floor", ""), context.floors, context.lost_floors, held, cautions)
    x, y = number("x"), number("y")
    room, x, y, placed = find_place(
        row.get("room", ""), x, y, floor, held, cautions,
        context.indices[floor.name] if floor else None,
    )  # fmt: skip
    height = number("height")
    if height is None and not row.get("height") and context.default_height_m is not None:
        height = context.default_height_m
        cautions.append(f"height not stated; taken as {height:g} m as site.toml says")
    band = find_band(height, context.bands, held) if context.medium == "air" else ""
    return Reading(
        id=row.get("id", "") or _made_up_id(where),
        round=round_name,
        floor=floor.name if floor else row.get("floor", ""),
        room=room,
        x=x,
        y=y,
        height_m=height,
        time=time,
        value=value,
        unit=unit,
        qualifier=qualifier,
        note=row.get("note", ""),
        concentration=concentration,
        band=band,
        placed=placed,  # type: ignore[arg-type]
        where=where,
        temperature_c=temperature_c,
        held=tuple(held),
        cautions=tuple(cautions),
    )


def _made_up_id(where: str) -> str:
    # with the file's name: row 5 of one file is not row 5 of another
    file, row = where.rsplit(", ", 1)
    return f"{PurePosixPath(file).stem}-{row.replace(' ', '-')}"


def _qualifier(row: Mapping[str, str], held: list[str]) -> tuple[Qualifier, str]:
    """Return the qualifier, which may stand in the value cell, and the rest of that cell."""
    text = row.get("qualifier", "")
    value = row.get("value", "")
    inside = value[:1] if value[:1] in "<>" and value else ""
    if inside and text and text != inside:
        held.append(f"qualifier {text!r} and value {value!r} disagree")
    sign = inside or text
    if sign not in ("", "<", ">"):
        held.append(f"qualifier {sign!r} is not < or >")
        sign = ""
    return sign, value[len(inside) :].strip()  # type: ignore[return-value]


def _zero(
    value: float | None,
    unit: str,
    qualifier: Qualifier,
    context: ReadingContext,
    held: list[str],
    cautions: list[str],
) -> tuple[float | None, str, Qualifier]:
    """Zero is not a concentration: it is a non-detect, and needs its detection limit."""
    if value != 0:
        return value, unit, qualifier
    if context.detection_limit is None or qualifier == ">":
        held.append(
            "a reading of zero is a non-detect: write < and the detection limit, "
            "or state [readings] detection_limit in site.toml"
        )
        return value, unit, qualifier
    limit, limit_unit = context.detection_limit
    cautions.append(f"zero read as a non-detect, < {limit:g} {limit_unit} as site.toml says")
    return limit, limit_unit, "<"


def _concentration(
    value: float | None,
    unit: str,
    qualifier: Qualifier,
    temperature_c: float | None,
    context: ReadingContext,
    held: list[str],
) -> float | None:
    if value is None:
        if not held:
            held.append("no value")
        return None
    if not unit:
        held.append("no unit")
        return None
    if value < 0:
        held.append(f"a concentration of {value:g} {unit} cannot be")
        return None
    try:
        concentration = to_computing(value, unit, context.medium, temperature_c=temperature_c)
    except HgmapError as error:
        held.append(str(error))
        return None
    if context.medium == "bulk" and concentration > MOST_BULK_MG_KG:
        held.append(f"{value:g} {unit} is more than the whole sample")
    if context.medium == "air" and "mercury" in context.analyte.casefold():
        most = saturated_concentration_ug_m3(HOTTEST_ROOM_C)
        if concentration > most:
            held.append(
                f"{value:g} {unit} is above the saturated concentration at "
                f"{HOTTEST_ROOM_C:g} °C ({most:,.0f} µg/m³): a wrong unit or a slip"
            )
    return concentration


def _time(text: str, held: list[str]) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        held.append(f"time {text!r} is not a date (write 2026-03-02T09:30)")
        return None


def _round(text: str, default: str | None, context: ReadingContext, held: list[str]) -> str:
    if text:
        if text not in context.rounds:
            held.append(f"round {text!r} is not in site.toml")
        return text
    if default is None:
        held.append("no round, and several rounds share this file")
    return default or ""


def hold_repeated_ids(readings: Sequence[Reading]) -> list[Reading]:
    """Hold readings of one round that share an id.

    Where the rows are the same in every respect the first one counts; where they differ nobody
    can tell which is right, and all are held.
    """
    groups: dict[tuple[str, str], list[int]] = {}
    for position, reading in enumerate(readings):
        groups.setdefault((reading.round, reading.id), []).append(position)
    result = list(readings)
    for (_, identifier), positions in groups.items():
        if len(positions) < 2:
            continue
        same = len({replace(readings[i], where="") for i in positions}) == 1
        rows = ", ".join(readings[i].where for i in positions)
        for i in positions[1:] if same else positions:
            why = (
                f"id {identifier!r} repeats {readings[positions[0]].where}, the same row twice"
                if same
                else f"id {identifier!r} stands for different readings ({rows})"
            )
            result[i] = replace(result[i], held=(*result[i].held, why))
    return result
