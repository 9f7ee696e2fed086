"""Places by tape from two walls of a room: ``left 1.2, bottom 0.8``."""

from __future__ import annotations

import math
import re
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from hgmap.site.building import Room

PLAN_DIRECTIONS: Final = {"right": 0.0, "top": 90.0, "left": 180.0, "bottom": 270.0}
"""Direction of each wall from the room's middle (degrees counter-clockwise from plan-right)."""

COMPASS: Final = {"n": 0.0, "north": 0.0, "e": 90.0, "east": 90.0, "s": 180.0, "south": 180.0,
                  "w": 270.0, "west": 270.0}  # fmt: skip
"""Degrees clockwise from north."""

FACES_WITHIN_DEG: Final = 44.0
"""A wall faces a direction that its outward normal is within this of; less than half a right
angle, so that no wall of a rectangle faces two (ours, no source)."""

STANDS_OUT_M: Final = 0.05
"""Stretches of one wall that lie farther apart than this (m), pillars and niches apart, are two
walls (ours, no source)."""

PILLAR_M: Final = 0.6
"""A stretch of wall shorter than this (m) is a pillar or a niche, not the wall that a tape is laid
from (ours, no source)."""

_OFFSET = re.compile(
    r"(?P<wall>[A-Za-z]+)\s*(?:wall)?\s*[:=]?\s*(?P<metres>\d+(?:[.,]\d+)?)\s*m?", re.IGNORECASE
)
_OFFSET_BEHIND = re.compile(
    r"(?P<metres>\d+(?:[.,]\d+)?)\s*m?\s*(?:from\s+)?(?:the\s+)?(?P<wall>[A-Za-z]+)\s*(?:wall)?",
    re.IGNORECASE,
)


class _Wall(NamedTuple):
    normal: NDArray[np.float64]  # outward, of length 1
    reach: float  # of the wall along the normal (m)
    length: float


def offset_place(text: str, room: Room, north_deg: float | None) -> tuple[float, float] | str:
    """Return the place (m, floor's frame) at given distances from two walls, or why there is none.

    Parameters
    ----------
    text : str
        Two walls and distances in metres: ``left 1.2, bottom 0.8``, ``N 1.2; E 0.8``,
        ``1.2 m from north wall and 0.8 m from east wall``.
    room : Room
        Its walls are the sides of its outline.
    north_deg : float or None
        Direction of north (degrees clockwise from plan-up); compass names need it.

    Examples
    --------
    >>> from shapely import box
    >>> x, y = offset_place("left 1.2; bottom 0.8", Room("A", "A", box(10, 20, 16, 24)), None)
    >>> round(x, 9), round(y, 9)
    (11.2, 20.8)
    """
    parts = [part.strip() for part in re.split(r";|,(?!\d)|\band\b", text) if part.strip()]
    if len(parts) != 2:
        return f"offsets {text!r} are not from two walls, as: left 1.2; bottom 0.8"
    lines = []
    for part in parts:
        found = _line(part, room, north_deg)
        if isinstance(found, str):
            return f"offsets {text!r}: {found}"
        lines.append(found)
    normals = np.array([normal for normal, _ in lines])
    if abs(np.linalg.det(normals)) < math.sin(math.radians(30)):
        return f"offsets {text!r}: the two walls face the same way or opposite ways"
    x, y = np.linalg.solve(normals, np.array([reach for _, reach in lines]))
    if not room.polygon.buffer(0.01).intersects(Point(x, y)):
        return f"offsets {text!r} lead to ({x:.2f}, {y:.2f}), outside room {room.name!r}"
    return float(x), float(y)


def _line(
    part: str, room: Room, north_deg: float | None
) -> tuple[NDArray[np.float64], float] | str:
    """Return normal and reach of the line that lies a distance inside a wall, or why not."""
    match = _OFFSET.fullmatch(part) or _OFFSET_BEHIND.fullmatch(part)
    if match is None:
        return f"{part!r} is not a wall and metres, as: left 1.2"
    name = match["wall"].casefold()
    if name in PLAN_DIRECTIONS:
        direction = PLAN_DIRECTIONS[name]
    elif name in COMPASS:
        if north_deg is None:
            return "nobody has said where north is on the plan; write left, right, top or bottom"
        direction = 90.0 - (COMPASS[name] + north_deg)
    else:
        return f"no wall is called {match['wall']!r}; write left, right, top, bottom, or N, E, S, W"
    wall = _facing(room, direction)
    if isinstance(wall, str):
        return wall.format(name=match["wall"])
    return wall.normal, wall.reach - float(match["metres"].replace(",", "."))


def _facing(room: Room, direction_deg: float) -> _Wall | str:
    """Return the one wall of a room that faces a direction, or a text with ``{name}``."""
    corners = np.asarray(room.polygon.normalize().exterior.coords)
    steps = np.diff(corners, axis=0)
    if not room.polygon.normalize().exterior.is_ccw:
        corners, steps = corners[::-1], np.diff(corners[::-1], axis=0)
    lengths = np.hypot(*steps.T)
    wanted = np.array(
        [math.cos(math.radians(direction_deg)), math.sin(math.radians(direction_deg))]
    )
    normals = np.column_stack([steps[:, 1], -steps[:, 0]]) / np.maximum(lengths, 1e-12)[:, None]
    faces = normals @ wanted >= math.cos(math.radians(FACES_WITHIN_DEG))
    walls = [
        _Wall(normals[k], float(normals[k] @ corners[k]), float(lengths[k]))
        for k in np.flatnonzero(faces & (lengths > 0))
    ]
    if not walls:
        return f"no wall of room {room.name!r} faces {{name}}"
    longest = max(walls, key=lambda one: one.length)
    rivals = [
        one
        for one in walls
        if one.length > PILLAR_M and abs(one.reach - longest.reach) > STANDS_OUT_M
    ]
    if rivals:
        return f"room {room.name!r} has several walls that face {{name}}; give x and y"
    return longest
