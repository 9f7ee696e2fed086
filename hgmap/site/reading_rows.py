"""Rows become readings: parsed, placed, and held where they cannot be trusted.

A file may have a million rows: cells that were seen before are not parsed again, and the rooms of
many places are looked up together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import PurePosixPath
from typing import Final, NamedTuple

import numpy as np
import shapely

from hgmap.site.building import Floor
from hgmap.site.reading import Reading
from hgmap.site.reading_context import COLUMNS, ReadingContext
from hgmap.site.reading_setting import Setting, SettingCells, SettingReader
from hgmap.site.reading_value import ReadValue, ValueCells, ValueReader
from hgmap.site.textfile import DecimalMarks, Row, parse_a_number
from hgmap.site.whereabouts import OUTSIDE_TOLERANCE_M, Clues, Place, find_place

MOST_REMEMBERED: Final = 200_000

Texts = tuple[str, ...]
Number = tuple[float | None, str]

NOTHING: Final[Number] = (None, "")


class _Head(NamedTuple):
    """What a row shares with others, and its coordinates (m), before its room is looked up."""

    setting: Setting
    x: Number
    y: Number


class RowReader:
    """Reads the rows of one file.

    Parameters
    ----------
    context : ReadingContext
    index : mapping
        Position of each column that the file has.
    where : str
        Name of the file.
    round_name : str or None
        The round of a row that names none.
    marks : DecimalMarks
    width : int
        Cells of the header.
    """

    def __init__(
        self,
        context: ReadingContext,
        index: Mapping[str, int],
        *,
        where: str,
        round_name: str | None,
        marks: DecimalMarks,
        width: int,
    ) -> None:
        self._context = context
        # a column that the file does not have is the empty cell at the end of each padded row
        self._at = {name: index.get(name, -1) for name in COLUMNS}
        self._where = where
        self._stem = PurePosixPath(where).stem
        self._marks = marks
        self._width = width
        self._setting = SettingReader(context, marks, round_name)
        self._value = ValueReader(context, marks)
        self._numbers: dict[str, Number] = {"": NOTHING}
        self._same: dict[str, str] = {}

    def read(self, rows: Sequence[Row]) -> list[Reading]:
        """Read some rows, in their order."""
        width = self._width
        padded = [
            (*cells, "") if len(cells) == width
            else (*cells[:width], *[""] * (width - len(cells)), "")
            for _, cells in rows
        ]  # fmt: skip
        heads = [self._head(cells) for cells in padded]
        near = self._rooms_near(heads)
        readings = []
        for k, (number, cells) in enumerate(rows):
            extra = len(cells) > width and any(cells[width:])
            readings.append(self._reading(number, padded[k], heads[k], near.get(k, ()), extra))
        return readings

    def _head(self, cells: Texts) -> _Head:
        at = self._at
        setting = self._setting(
            SettingCells(
                cells[at["floor"]], cells[at["kind"]], cells[at["height"]], cells[at["round"]],
                cells[at["instrument"]],
            )
        )  # fmt: skip
        return _Head(setting, self._number(cells[at["x"]]), self._number(cells[at["y"]]))

    def _number(self, text: str) -> Number:
        """Return a number, or None and what is wrong with its cell (nothing where it is empty)."""
        found = self._numbers.get(text)
        if found is None:
            found = parse_a_number(text, self._marks)
            if len(self._numbers) < MOST_REMEMBERED:
                self._numbers[text] = found
        return found

    def _rooms_near(self, heads: Sequence[_Head]) -> dict[int, Sequence[int]]:
        """Return, for each row with coordinates, the rooms of its floor that it may stand in."""
        rows: dict[str, list[int]] = {}
        for k, (setting, (x, _), (y, _)) in enumerate(heads):
            if setting.floor is not None and x is not None and y is not None:
                rows.setdefault(setting.floor.name, []).append(k)
        near: dict[int, list[int]] = {}
        for name, of_floor in rows.items():
            places = shapely.points([(heads[k].x[0], heads[k].y[0]) for k in of_floor])
            which, rooms = self._context.indices[name].tree.query(
                places, predicate="dwithin", distance=OUTSIDE_TOLERANCE_M
            )
            order = np.lexsort((rooms, which))
            for k, room in zip(which[order].tolist(), rooms[order].tolist(), strict=True):
                near.setdefault(of_floor[k], []).append(room)
        return near  # type: ignore[return-value]

    def _reading(
        self, row: int, cells: Texts, head: _Head, near: Sequence[int], extra: bool
    ) -> Reading:
        at, setting = self._at, head.setting
        held, cautions = setting.held, setting.cautions
        if extra:
            held += ("the row has more cells than the header; a comma inside a number?",)
        temperature_c, trouble = self._number(cells[at["temperature"]])
        if trouble:
            held += (f"temperature {cells[at['temperature']]!r}{trouble}",)
        value = self._measured(cells, setting)
        text = cells[at["time"]]
        time = None
        if text:
            try:
                time = datetime.fromisoformat(text)
            except ValueError:
                held += (f"time {text!r} is not a date (write 2026-03-02T09:30)",)
        place, place_held, place_cautions = self._place(cells, head, near)
        return Reading(
            cells[at["id"]] or f"{self._stem}-row-{row}",
            setting.round,
            setting.floor_name,
            place.room,
            place.x,
            place.y,
            setting.height_m,
            time,
            value.value,
            value.unit,
            value.qualifier,
            self._shared(cells[at["note"]]),
            value.concentration,
            "" if value.medium else setting.band,
            place.source,
            f"{self._where}, row {row}",
            temperature_c,
            held + value.held + place_held,
            cautions + value.cautions + place_cautions,
            value.low,
            value.concentration_low,
            setting.kind,
            value.medium,
            setting.instrument,
            cells[at["duplicate_of"]],
        )

    def _measured(self, cells: Texts, setting: Setting) -> ReadValue:
        at = self._at
        unit = cells[at["unit"]]
        temperature = pressure = ""
        if "p" in unit or "P" in unit:  # parts per billion; no other unit needs the air's state
            temperature, pressure = cells[at["temperature"]], cells[at["pressure"]]
        return self._value(
            ValueCells(
                cells[at["value"]], unit, cells[at["qualifier"]], cells[at["low"]],
                cells[at["detection_limit"]], temperature, pressure, setting.kind, setting.round,
            )
        )  # fmt: skip

    def _place(self, cells: Texts, head: _Head, near: Sequence[int]) -> tuple[Place, Texts, Texts]:
        at, (setting, x, y) = self._at, head
        room, grid, offsets = cells[at["room"]], cells[at["grid"]], cells[at["offsets"]]
        if len(near) == 1 and not (grid or offsets):
            found = self._plain(setting.floor, room, near[0])
            if found:
                return Place(found, x[0], y[0], "given"), (), ()
        held: list[str] = []
        cautions: list[str] = []
        for name, (_, trouble) in (("x", x), ("y", y)):
            if trouble:
                held.append(f"{name} {cells[at[name]]!r}{trouble}")
        index = self._context.indices[setting.floor.name] if setting.floor else None
        clues = Clues(room, x[0], y[0], grid, offsets)
        place = find_place(clues, setting.floor, held, cautions, index, near)
        return place, () if setting.nowhere else tuple(held), tuple(cautions)

    def _plain(self, floor: Floor | None, room: str, near: int) -> str:
        """Return the room's id where the place lies in the room that is named, if one is."""
        assert floor is not None
        found = floor.rooms[near]
        if not room or room == found.id:
            return found.id
        named = self._context.indices[floor.name].by_word.get(room.casefold())
        return found.id if named is found else ""

    def _shared(self, text: str) -> str:
        """Return one object for equal texts."""
        if not text:
            return ""
        if len(self._same) > MOST_REMEMBERED:
            self._same.clear()
        return self._same.setdefault(text, text)
