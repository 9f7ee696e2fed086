"""Rows become readings: parsed, placed, and held where they cannot be trusted.

A file may have a million rows: they are read by columns, cells that were seen before are not
parsed again, and the rooms of many places are looked up together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import partial
from itertools import repeat
from pathlib import PurePosixPath
from typing import Any, Final

import numpy as np
import shapely

from hgmap.site.building import Floor, Room
from hgmap.site.intake.cells import unguarded
from hgmap.site.intake.dates import parse_time
from hgmap.site.intake.kinds import may_speak_of_a_kind, why_unsure
from hgmap.site.memo import Memo
from hgmap.site.reading import Reading
from hgmap.site.reading_context import COLUMNS, ReadingContext
from hgmap.site.reading_setting import Setting, SettingCells, SettingReader
from hgmap.site.reading_value import ReadValue, ValueCells, ValueReader
from hgmap.site.textfile import DecimalMarks, Row, parse_a_number
from hgmap.site.whereabouts import OUTSIDE_TOLERANCE_M, Clues, Place, find_place

Texts = tuple[str, ...]
Number = tuple[float | None, str]
Columns = Mapping[str, Sequence[str]]
Placed = tuple[Place, Texts, Texts]

TEXTS: Final = ("id", "floor", "room", "round", "note", "instrument", "duplicate_of", "offsets")
MANY_CELLS: Final = "the row has more cells than the header; a comma inside a number?"


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
    guarded : bool
        Whether texts may stand behind an apostrophe, so that no spreadsheet runs them.
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
        guarded: bool = True,
    ) -> None:
        self._context = context
        self._index = index
        self._where = where
        self._stem = PurePosixPath(where).stem
        self._width = width
        self._guarded = guarded
        settings = SettingReader(context, marks, round_name)
        values = ValueReader(context, marks)
        self._settings = Memo[Texts, Setting](
            lambda cells: settings.read(SettingCells._make(cells))
        )
        self._values = Memo[Texts, ReadValue](lambda cells: values.read(ValueCells._make(cells)))
        self._numbers = Memo[str, Number](lambda text: parse_a_number(text, marks))
        self._times = Memo[str, "tuple[datetime | None, Texts]"](_time)
        self._rooms = Memo["tuple[str, str]", "Room | None"](self._room)
        self._notes = Memo[str, str](lambda text: why_unsure("", text))
        self._same = Memo[str, str](lambda text: text)

    def read(self, rows: Sequence[Row]) -> list[Reading]:
        """Read some rows, in their order."""
        columns = self._columns(rows)
        settings = _each(self._settings, columns, "floor", "kind", "height", "round", "instrument")
        values = self._measured(columns, settings)
        places = self._places(columns, settings)
        temperatures = [self._numbers[text] for text in columns["temperature"]]
        times = [self._times[text] for text in columns["time"]]
        width = self._width
        held = [
            one.held + value.held + late[1] + place[1] if not (trouble[1] or len(cells) > width)
            else one.held + value.held + late[1] + place[1] + _of_row(cells, width, trouble, text)
            for one, value, late, place, trouble, (_, cells), text in zip(
                settings, values, times, places, temperatures, rows, columns["temperature"],
                strict=True,
            )
        ]  # fmt: skip
        for k, why in self._unsure(columns):
            held[k] = (*held[k], why)
        made: dict[str, Iterable[Any]] = {
            "id": [
                text or f"{self._stem}-row-{number}"
                for text, (number, _) in zip(columns["id"], rows, strict=True)
            ],
            "round": [one.round for one in settings],
            "floor": [one.floor_name for one in settings],
            "room": [place.room for place, _, _ in places],
            "x": [place.x for place, _, _ in places],
            "y": [place.y for place, _, _ in places],
            "height_m": [one.height_m for one in settings],
            "time": [time for time, _ in times],
            "value": [one.value for one in values],
            "unit": [one.unit for one in values],
            "qualifier": [one.qualifier for one in values],
            "note": [self._same[text] for text in columns["note"]],
            "concentration": [one.concentration for one in values],
            "band": [
                "" if value.medium else one.band
                for one, value in zip(settings, values, strict=True)
            ],
            "placed": [place.source for place, _, _ in places],
            "where": [f"{self._where}, row {number}" for number, _ in rows],
            "temperature_c": [number for number, _ in temperatures],
            "held": held,
            "cautions": [
                one.cautions + value.cautions + cautions
                for one, value, (_, _, cautions) in zip(settings, values, places, strict=True)
            ],
            "low": [one.low for one in values],
            "concentration_low": [one.concentration_low for one in values],
            "kind": [one.kind for one in settings],
            "medium": [one.medium for one in values],
            "instrument": [one.instrument for one in settings],
            "duplicate_of": columns["duplicate_of"],
            "error": [0.0] * len(rows),
            "findings": [()] * len(rows),
        }
        # as Reading(...) does, in half the time
        new = partial(tuple.__new__, Reading)
        return list(map(new, zip(*(made[name] for name in Reading._fields), strict=True)))

    def _unsure(self, columns: Columns) -> list[tuple[int, str]]:
        """Return rows without a kind whose id or note speaks of one, and what to say of them."""
        if not any(may_speak_of_a_kind("\n".join(columns[name])) for name in ("id", "note")):
            return []
        found = [
            (k, why_unsure(text, "") or self._notes[note])
            for k, (text, note, kind, repeated) in enumerate(
                zip(columns["id"], columns["note"], columns["kind"], columns["duplicate_of"],
                    strict=True)
            )
            if not (kind or repeated)
        ]  # fmt: skip
        return [one for one in found if one[1]]

    def _columns(self, rows: Sequence[Row]) -> dict[str, Sequence[str]]:
        """Turn rows into columns; one that the file does not have is empty cells."""
        width = self._width
        whole = [
            cells if len(cells) == width
            else (*cells[:width], *[""] * (width - len(cells)))
            for _, cells in rows
        ]  # fmt: skip
        turned = list(zip(*whole, strict=True))
        empty = [""] * len(rows)
        columns: dict[str, Sequence[str]] = {
            name: turned[self._index[name]] if name in self._index else empty for name in COLUMNS
        }
        if self._guarded:
            for name in TEXTS:
                columns[name] = [unguarded(text) for text in columns[name]]
        return columns

    def _measured(self, columns: Columns, settings: Sequence[Setting]) -> list[ReadValue]:
        units = columns["unit"]
        air: dict[str, Iterable[str]] = {"temperature": repeat(""), "pressure": repeat("")}
        if any("pp" in unit.casefold() for unit in set(units)):
            # parts per billion; no other unit needs the state of the air
            air = {name: columns[name] for name in air}
        cells = zip(
            columns["value"], units, columns["qualifier"], columns["low"],
            columns["detection_limit"], *air.values(), [one.kind for one in settings],
            [one.round for one in settings], strict=False,
        )  # fmt: skip
        return list(map(self._values.__getitem__, cells))

    def _places(self, columns: Columns, settings: Sequence[Setting]) -> list[Placed]:
        xs = [self._numbers[text] for text in columns["x"]]
        ys = [self._numbers[text] for text in columns["y"]]
        floors = [one.floor for one in settings]
        near = self._rooms_near(floors, xs, ys)
        rooms = columns["room"]
        placed: list[Placed] = []
        for k, (floor, x, y, some, room) in enumerate(
            zip(floors, xs, ys, near, rooms, strict=True)
        ):
            if floor is not None and len(some) == 1:
                found = floor.rooms[some[0]]
                plain = not room or self._rooms[floor.name, room] is found
                if plain and not (columns["grid"][k] or columns["offsets"][k]):
                    placed.append((Place(found.id, x[0], y[0], "given"), (), ()))
                    continue
            placed.append(self._hard_place(columns, k, settings[k], x, y, some))
        return placed

    def _rooms_near(
        self, floors: Sequence[Floor | None], xs: Sequence[Number], ys: Sequence[Number]
    ) -> list[Sequence[int]]:
        """Return, for each row with coordinates, the rooms of its floor that it may stand in."""
        rows: dict[str, list[int]] = {}
        for k, (floor, x, y) in enumerate(zip(floors, xs, ys, strict=True)):
            if floor is not None and x[0] is not None and y[0] is not None:
                rows.setdefault(floor.name, []).append(k)
        near: list[Sequence[int]] = [()] * len(floors)
        for name, of_floor in rows.items():
            places = shapely.points([xs[k][0] for k in of_floor], [ys[k][0] for k in of_floor])
            which, rooms = self._context.indices[name].tree.query(
                places, predicate="dwithin", distance=OUTSIDE_TOLERANCE_M
            )
            order = np.lexsort((rooms, which))
            for k, room in zip(which[order].tolist(), rooms[order].tolist(), strict=True):
                near[of_floor[k]] = (*near[of_floor[k]], room)
        return near

    def _room(self, key: tuple[str, str]) -> Room | None:
        floor, word = key
        return self._context.indices[floor].by_word.get(word.casefold())

    def _hard_place(
        self,
        columns: Columns,
        k: int,
        setting: Setting,
        x: Number,
        y: Number,
        near: Sequence[int],
    ) -> Placed:
        held: list[str] = []
        cautions: list[str] = []
        for name, (_, trouble) in (("x", x), ("y", y)):
            if trouble:
                held.append(f"{name} {columns[name][k]!r}{trouble}")
        index = self._context.indices[setting.floor.name] if setting.floor else None
        clues = Clues(columns["room"][k], x[0], y[0], columns["grid"][k], columns["offsets"][k])
        place = find_place(clues, setting.floor, held, cautions, index, near)
        return place, () if setting.nowhere else tuple(held), tuple(cautions)


def _each(known: Memo[Texts, Setting], columns: Columns, *names: str) -> list[Setting]:
    return list(map(known.__getitem__, zip(*(columns[name] for name in names), strict=True)))


def _of_row(cells: Texts, width: int, temperature: Number, text: str) -> Texts:
    """Say what is wrong with a row as a whole, and with its temperature."""
    extra = (MANY_CELLS,) if any(cells[width:]) else ()
    return extra + ((f"temperature {text!r}{temperature[1]}",) if temperature[1] else ())


def _time(text: str) -> tuple[datetime | None, Texts]:
    if not text:
        return None, ()
    found = parse_time(text, None)
    return (None, (found,)) if isinstance(found, str) else (found, ())
