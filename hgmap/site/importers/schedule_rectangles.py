"""Rooms that are given by two sides, and perhaps by the place of a corner."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import box

from hgmap.errors import PlanError
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.schedule_cells import WORDS, Rows, Titles, metres
from hgmap.site.importers.schedule_layout import beside, laid_over_another
from hgmap.site.importers.schedule_model import ScheduledRoom, named, refuse_too_many
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Problem
from hgmap.site.plan import LONGEST_BUILDING_M
from hgmap.site.textfile import DecimalMarks, decimal_marks

SHORTEST_SIDE_M: Final = 0.3
LONGEST_SIDE_M: Final = 500.0
"""A side that is shorter or longer (m) is a slip, or in another unit. Ours, no source."""

AREA_AGREES: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Room:
    row: int
    name: str
    id: str
    storey: str
    length_m: float
    width_m: float
    at: tuple[float, float] | None


def are_rectangles(columns: Collection[str]) -> bool:
    """Tell whether titles are enough for rooms of two sides."""
    has = set(columns)
    sides = ({"length", "width"}, {"width", "depth"}, {"length", "depth"}, {"area"})
    return "name" in has and any(one <= has for one in sides)


def read_rectangles(
    rows: Rows, titles: Titles, problems: list[Problem], *, gap_m: float, where: str
) -> list[ScheduledRoom]:
    """Make a room of each row; a row that is none is told and left out."""
    own = _along_and_up(titles)
    numbers = [place for key, place in own.columns.items() if key not in WORDS]
    marks = decimal_marks(cells[n].strip() for _, cells in rows for n in numbers if n < len(cells))
    rooms: list[_Room] = []
    for number, cells in rows:
        texts = own.texts(cells)
        if not any(texts.values()):
            continue
        place = f"{where}, row {number}"
        try:
            room, notes = _room(number, texts, own.factors, marks)
        except PlanError as error:
            todo = error.todo or "mend the row and read the table again"
            problems.append(Problem("held", place, f"left out: {error.message}", todo))
            continue
        problems += [Problem("note", place, note) for note in notes]
        rooms.append(room)
    refuse_too_many(len(rooms), where=where)
    found: list[ScheduledRoom] = []
    for storey in dict.fromkeys(one.storey for one in rooms):
        on_it = [one for one in rooms if one.storey == storey]
        found += _placed(on_it, gap_m, problems, where=where)
    return found


def _along_and_up(titles: Titles) -> Titles:
    """Call the side along x length and the side along y width, whatever people call them."""
    has = titles.columns
    if "depth" not in has or {"length", "width"} <= set(has):
        sides = {key: key for key in has if key != "depth"}
    elif "length" in has:
        sides = {**{key: key for key in has if key != "depth"}, "width": "depth"}
    else:  # the width runs along x, the depth along y
        sides = {key: key for key in has if key not in ("width", "depth")}
        sides |= {"width": "depth"} | ({"length": "width"} if "width" in has else {})
    return Titles(
        titles.row,
        {ours: has[theirs] for ours, theirs in sides.items()},
        {ours: titles.factors[theirs] for ours, theirs in sides.items()},
    )


def _room(
    row: int, texts: Mapping[str, str], factors: Mapping[str, float], marks: DecimalMarks
) -> tuple[_Room, list[str]]:
    name = one_line_text(unguarded(texts["name"]))
    identifier = one_line_text(unguarded(texts.get("id", "")))
    if not (name or identifier):
        raise PlanError("it has no name")
    found = {
        key: metres(key, text, factors[key], marks)
        for key, text in texts.items()
        if key not in WORDS
    }
    notes = []
    length, width, area = (found.get(key) for key in ("length", "width", "area"))
    if length is None and width is None and area is not None:
        if not area > 0:
            raise PlanError(f"an area of {texts['area']}")
        length = width = math.sqrt(area)
        notes.append(f"{name or identifier!r} has an area only: drawn as a square")
    if length is None or width is None:
        raise PlanError(f"it has no {'length' if length is None else 'width'}")
    for side, key in ((length, "length"), (width, "width")):
        if not SHORTEST_SIDE_M <= side <= LONGEST_SIDE_M:
            raise PlanError(
                f"a {key} of {side:.4g} m",
                todo=f"{SHORTEST_SIDE_M:g} to {LONGEST_SIDE_M:g} m; is it in another unit?",
            )
    if area is not None and abs(length * width - area) > AREA_AGREES * max(length * width, area):
        notes.append(f"length by width is {length * width:.2f} m², the table says {area:.2f} m²")
    x, y = found.get("x"), found.get("y")
    at = (x, y) if x is not None and y is not None else None
    if at is not None and max(map(abs, at)) > LONGEST_BUILDING_M:
        raise PlanError(f"it lies at x {at[0]:.6g}, y {at[1]:.6g} m")
    if (x is None) != (y is None):
        notes.append("one of x and y alone gives no place: laid out in the rows")
    storey = one_line_text(unguarded(texts.get("storey", "")))
    return _Room(row, name, identifier, storey, length, width, at), notes


def _placed(
    rooms: Sequence[_Room], gap_m: float, problems: list[Problem], *, where: str
) -> list[ScheduledRoom]:
    names, ids = named([(one.row, one.name, one.id) for one in rooms], problems, where=where)
    known = [n for n, one in enumerate(rooms) if one.at is not None]
    shapes = {n: _rectangle(rooms[n], rooms[n].at or (0.0, 0.0)) for n in known}
    late = {known[n] for n in laid_over_another([shapes[n] for n in known])}
    overlapping = "overlaps a room above it: laid out in the rows"
    problems += [Problem("note", f"{where}, row {rooms[n].row}", overlapping) for n in sorted(late)]
    loose = [n for n, one in enumerate(rooms) if one.at is None or n in late]
    standing = [shape for n, shape in shapes.items() if n not in late]
    corners = beside(standing, [(rooms[n].length_m, rooms[n].width_m) for n in loose], gap_m)
    shapes |= {n: _rectangle(rooms[n], at) for n, at in zip(loose, corners, strict=True)}
    apart = set(loose)
    return [
        ScheduledRoom(one.row, names[n], ids[n], one.storey, shapes[n], placed=n not in apart)
        for n, one in enumerate(rooms)
    ]


def _rectangle(room: _Room, at: tuple[float, float]) -> shapely.Polygon:
    x, y = at
    return box(x, y, x + room.length_m, y + room.width_m, ccw=False)
