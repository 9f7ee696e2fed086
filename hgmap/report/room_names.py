"""Room names: as large as the room allows, clear of marks and lines; else outside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import PT_PER_MM, Dot, Frame, Item, Label, Pen, Stroke
from hgmap.report.labels import Paper, spots_in_room
from hgmap.report.palette import INK, PAPER
from hgmap.report.typeset import LINE_SPACING, fit, printable, width_pt, wrap
from hgmap.report.wanted import FARTHEST_PT, Box, Wanted

_NAME_SIZES_PT: Final = (8.0, 7.0, 6.0, 5.0, 4.5)
_OUTSIDE_PT: Final = 5.5
NAME_COLOUR: Final = "#33373b"
_LEADER: Final = Pen("#33373b", 0.4)

_FARTHEST_PT: Final = 110.0
"""From a room to its name: a longer leader crosses half of the plan."""

_FEW: Final = 3
"""So many may stand farther off."""

MOST_OUTSIDE: Final = 12
"""Names that may stand outside their rooms; more leaders than this hide the plan."""


def names_in_rooms(
    names: Sequence[str],
    rooms: Sequence[BaseGeometry],
    frame: Frame,
    paper: Paper,
) -> tuple[list[Item], list[int]]:
    """Set names in their rooms where there is free paper; return the positions of the others.

    ``rooms`` are the polygons on the paper (pt from the frame's corner).
    """
    items: list[Item] = []
    others = []
    for position, (name, room) in enumerate(zip(names, rooms, strict=True)):
        tries = _tries(printable(name), room)
        found = _spot(tries, room, paper, True) or _spot(tries, room, paper, False)
        if found is None:
            others.append(position)
        else:
            items.extend(_set(*found, frame, paper))
    return items, others


def names_outside(
    names: Sequence[str],
    rooms: Sequence[BaseGeometry],
    wanting: Sequence[int],
    frame: Frame,
    paper: Paper,
    ids: Sequence[str] = (),
) -> tuple[list[Item], list[Item], tuple[str, ...]]:
    """Set names that found no room beside the building with a leader, or in their rooms, cut.

    Where ``ids`` of all rooms are given, a room's id stands for a name that would be cut: two
    names may begin alike.

    Returns the names, the leaders, and the names that found no place at all, or only as an id.
    """
    items: list[Item] = []
    leaders: list[Item] = []
    unnamed = []
    farthest = FARTHEST_PT if len(wanting) <= _FEW else _FARTHEST_PT
    for number, position in enumerate(wanting):
        name, room = printable(names[position]), rooms[position]
        placed = number < MOST_OUTSIDE and _beside(
            name, room, frame, paper, items, leaders, farthest
        )
        if placed:
            continue
        if ids and _id_in_room(printable(ids[position]), room, frame, paper, items):
            known = ids[position] == names[position]
            unnamed += [] if known else [f"{ids[position]} is {names[position]}"]
            continue
        found = _spot(_cut(name, room), room, paper, False)
        if found is None:
            unnamed.append(names[position])
        else:
            items.extend(_set(*found, frame, paper))
    return items, leaders, tuple(unnamed)


def _id_in_room(
    short: str, room: BaseGeometry, frame: Frame, paper: Paper, items: list[Item]
) -> bool:
    found = _spot([((short,), size) for size in _NAME_SIZES_PT[2:]], room, paper, False)
    if found is not None:
        items.extend(_set(*found, frame, paper))
    return found is not None


def _tries(name: str, room: BaseGeometry) -> list[tuple[tuple[str, ...], float]]:
    """List the name in large letters, on two or three lines, and in small letters."""
    room_mm = _width_mm(room)
    tries: list[tuple[tuple[str, ...], float]] = []
    words = set(name.split())
    for size in _NAME_SIZES_PT:
        tries.append(((name,), size))
        for share in (0.9, 0.6):
            lines = wrap(name, size, max(room_mm * share, 1.0))
            whole = all(set(line.split()) <= words for line in lines)
            if 1 < len(lines) <= (2 if size > 6.0 else 4) and whole:
                tries.append((lines, size))
    return tries


def _cut(name: str, room: BaseGeometry) -> list[tuple[tuple[str, ...], float]]:
    """List the name cut short."""
    shorter = [fit(name, _NAME_SIZES_PT[-1], _width_mm(room) * share) for share in (0.9, 0.6)]
    return [((short,), _NAME_SIZES_PT[-1]) for short in shorter if len(short) >= 4]


def _width_mm(room: BaseGeometry) -> float:
    west, _, east, _ = room.bounds
    return float(east - west - 3.0) / PT_PER_MM


def _spot(
    tries: Sequence[tuple[tuple[str, ...], float]],
    room: BaseGeometry,
    paper: Paper,
    clear_of_lines: bool,
) -> tuple[tuple[str, ...], float, Box] | None:
    for lines, size in tries:
        width = max(width_pt(line, size) for line in lines) + 2.0
        height = size * (0.73 + LINE_SPACING * (len(lines) - 1)) + 0.25 * size + 1.0
        box = spots_in_room(room, width, height, paper, clear_of_lines=clear_of_lines)
        if box is not None:
            return lines, size, box
    return None


def _set(lines: tuple[str, ...], size: float, box: Box, frame: Frame, paper: Paper) -> list[Label]:
    """Take the box and return its lines."""
    paper.take(np.array(box), text=True)
    scale = frame.mm_per_m * PT_PER_MM
    middle, top = (box[0] + box[2]) / 2.0, box[3] - 0.5
    return [
        Label(
            frame.west_m + middle / scale,
            frame.south_m + (top - index * size * LINE_SPACING) / scale,
            line,
            size,
            NAME_COLOUR,
            across="centre",
            up="top",
            halo=PAPER,
        )
        for index, line in enumerate(lines)
    ]


def _beside(
    name: str,
    room: BaseGeometry,
    frame: Frame,
    paper: Paper,
    items: list[Item],
    leaders: list[Item],
    farthest: float,
) -> bool:
    """Set a name where no room is, with a leader that ends in its own room.

    A name in another room would be taken for that room's own.
    """
    point = _free_point(room, paper)
    size = _OUTSIDE_PT
    wide, high = width_pt(name, size) + 2.0, 0.95 * size + 1.0
    spot = paper.place(
        Wanted(
            point.x,
            point.y,
            wide,
            high,
            3.0,
            beside=False,
            over=True,
            anywhere=True,
            farthest=farthest,
            outside=True,
        )
    )
    if spot is None or spot.leader is None:
        return False
    scale = frame.mm_per_m * PT_PER_MM
    x, y = frame.west_m + point.x / scale, frame.south_m + point.y / scale
    end = (spot.leader[1][0] - point.x, spot.leader[1][1] - point.y)
    offset = (spot.centre[0] - point.x, spot.centre[1] - point.y)
    leaders += [
        Stroke(x, y, (0.0, 0.0), end, Pen(PAPER, 1.4)),
        Stroke(x, y, (0.0, 0.0), end, _LEADER),
        Dot(x, y, 2.2, "circle", INK, Pen(PAPER, 0.4)),
    ]
    items.append(
        Label(
            x,
            y,
            name,
            size,
            NAME_COLOUR,
            across="centre",
            up="middle",
            halo=PAPER,
            offset_pt=offset,
        )
    )
    return True


def _free_point(room: BaseGeometry, paper: Paper) -> shapely.Point:
    """Return a point of a room on which no mark and no text stands; near its middle if it can."""
    middle = room.representative_point()
    west, south, east, north = room.bounds
    x, y = (grid.ravel() for grid in np.meshgrid(np.linspace(west, east, 9)[1:-1],
                                                 np.linspace(south, north, 9)[1:-1]))  # fmt: skip
    x, y = np.append(middle.x, x), np.append(middle.y, y)
    held = shapely.contains_xy(room, x, y)
    held &= paper.free(np.column_stack([x - 1.5, y - 1.5, x + 1.5, y + 1.5]))
    if not held.any():
        return middle
    best = np.argmin(np.where(held, np.hypot(x - middle.x, y - middle.y), np.inf))
    return shapely.Point(x[best], y[best])
