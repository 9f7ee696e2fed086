"""Invented floors: a corridor with rooms on both sides, drawn by a seeded generator.

Lengths are whole decimetres until the rooms are drawn. Sizes are common practice, no source.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely import LineString, box

from hgmap.site.building import Floor, Opening, OpeningState, Room

WALL_M: Final = 0.15
CORRIDOR: Final = "corridor"
STATES: Final[tuple[OpeningState, ...]] = ("open", "closed", "sealed")
SHARES: Final = (0.65, 0.30, 0.05)
"""How many doors are open, closed and sealed."""


@dataclass(frozen=True)
class _Slot:
    """A room up to the middle of its walls (dm)."""

    id: str
    west: int
    south: int
    east: int
    north: int


@dataclass(frozen=True)
class _Door:
    """A door in the line ``at`` (dm): x of a wall that runs north, y of one that runs east."""

    rooms: tuple[str, str]
    runs_north: bool
    at: int
    start: int
    end: int
    state: OpeningState


def random_floor(random: np.random.Generator, name: str, *, hall: bool = False) -> Floor:
    """Draw a corridor and 6 to 14 rooms, with thin or thick walls, doors and partitions.

    Thin: rooms share edges. Thick: they stand 0.15 m apart, and only openings join them. A back
    room is reached through the room in front of it. ``hall``: one large room lies south of the
    corridor, and 2 to 5 north of it.
    """
    inset = 0.5 * WALL_M if random.random() < 0.5 else 0.0
    rows = _hall_rows(random) if hall else _rows(random)
    corridor, slots = rows[0][0], [slot for row in rows[1:] for slot in row]
    doors = _doors(random, corridor, rows[1:])
    walls = [
        wall
        for slot in slots
        if (wall := _partition(random, slot, doors, inset)) is not None
    ]  # fmt: skip
    rooms = tuple(
        Room(
            slot.id,
            slot.id if slot.id == CORRIDOR else f"Room {slot.id}",
            box(slot.west / 10 + inset, slot.south / 10 + inset,
                slot.east / 10 - inset, slot.north / 10 - inset),
        )
        for slot in (corridor, *slots)
    )  # fmt: skip
    openings = [
        Opening(f"D{number}", _line(door.runs_north, door.at, door.start, door.end), door.state,
                door.rooms)
        for number, door in enumerate(doors, start=1)
    ]  # fmt: skip
    middle = (corridor.south + corridor.north) // 2
    openings += [
        Opening(f"outside {side}", _line(True, at, middle - 6, middle + 6), "open", (CORRIDOR,))
        for side, at in (("west", corridor.west), ("east", corridor.east))
    ]
    return Floor(name, f"Invented floor {name}", rooms, tuple(walls), tuple(openings))


def _rows(random: np.random.Generator) -> list[list[_Slot]]:
    """Return the corridor, the row south of it and the row north, back rooms after their fronts."""
    count = int(random.integers(6, 15))
    backs = int(random.binomial(count // 3, 0.4))
    south = (count - backs + int(random.integers(0, 2))) // 2
    columns = (south, count - backs - south)
    length = round(max(columns) * random.uniform(32, 52))
    wide = int(random.integers(18, 31))
    split = random.choice(count - backs, size=backs, replace=False)
    rows: list[list[_Slot]] = [[]]
    depths: list[int] = []
    for side, columns_here in enumerate(columns):
        ours = {int(k) - side * south for k in split if (k >= south) == (side == 1)}
        depth = int(random.integers(62, 90) if ours else random.integers(36, 75))
        depths.append(depth)
        share = random.dirichlet(np.full(columns_here, 4.0))
        edges = np.concatenate([[0.0], np.cumsum(24 + (length - 24 * columns_here) * share)])
        edges = edges.round().astype(int)
        edges[-1] = length
        row: list[_Slot] = []
        for k in range(columns_here):
            front = round(depth * random.uniform(0.45, 0.65)) if k in ours else depth
            parts = [("", 0, front), ("b", front, depth)] if k in ours else [("", 0, depth)]
            for suffix, near, far in parts:
                south_m, north_m = (
                    (depths[0] - far, depths[0] - near)
                    if side == 0
                    else (depths[0] + wide + near, depths[0] + wide + far)
                )
                identifier = f"{'SN'[side]}{k + 1}{suffix}"
                row.append(
                    _Slot(identifier, int(edges[k]), south_m, int(edges[k + 1]), north_m)
                )  # fmt: skip
        rows.append(row)
    rows[0] = [_Slot(CORRIDOR, 0, depths[0], length, depths[0] + wide)]
    return rows


def _hall_rows(random: np.random.Generator) -> list[list[_Slot]]:
    """Return the corridor, a hall of 130 to 350 m² south of it and a few rooms north."""
    length, deep = int(random.integers(140, 221)), int(random.integers(95, 161))
    wide, depth = int(random.integers(18, 31)), int(random.integers(36, 75))
    count = int(random.integers(2, 6))
    edges = np.linspace(0, length, count + 1).round().astype(int)
    low = deep + wide
    return [
        [_Slot(CORRIDOR, 0, deep, length, low)],
        [_Slot("S1", 0, 0, length, deep)],
        [
            _Slot(f"N{k + 1}", int(edges[k]), low, int(edges[k + 1]), low + depth)
            for k in range(count)
        ],
    ]


def _doors(
    random: np.random.Generator, corridor: _Slot, rows: list[list[_Slot]]
) -> list[_Door]:  # fmt: skip
    doors = []
    for row in rows:
        fronts = [slot for slot in row if not slot.id.endswith("b")]
        for slot in row:
            if slot.id.endswith("b"):
                front = next(one for one in fronts if one.id == slot.id[:-1])
                doors.append(_door(random, slot, front))
            else:
                doors.append(_door(random, slot, corridor))
        for left, right in itertools.pairwise(fronts):
            if random.random() < 0.25:
                doors.append(_door(random, left, right))
    return doors


def _door(random: np.random.Generator, a: _Slot, b: _Slot) -> _Door:
    """Put a door of 0.8 to 1.6 m into the wall that two rooms share, off its corners."""
    runs_north = a.east == b.west
    if runs_north:
        at, low, high = a.east, max(a.south, b.south), min(a.north, b.north)
    else:
        at = a.north if a.north == b.south else a.south
        low, high = max(a.west, b.west), min(a.east, b.east)
    width = int(random.integers(8, 17))
    start = int(random.integers(low + 3, high - 3 - width + 1))
    state = STATES[int(random.choice(3, p=SHARES))]
    return _Door((a.id, b.id), runs_north, at, start, start + width, state)


def _partition(
    random: np.random.Generator, slot: _Slot, doors: list[_Door], inset: float
) -> LineString | None:
    """Draw, in one large room of three, a wall across it that leaves a gap of 0.8 to 1.6 m."""
    wide, deep = slot.east - slot.west, slot.north - slot.south
    if min(wide, deep) < 36 or random.random() > 0.35:
        return None
    x = slot.west + round(wide * random.uniform(0.35, 0.65))
    length = deep - int(random.integers(8, 17))
    from_south = bool(random.random() < 0.5)
    foot = slot.south if from_south else slot.north
    if any(
        slot.id in door.rooms and not door.runs_north and door.at == foot
        and door.start - 2 <= x <= door.end + 2
        for door in doors
    ):  # fmt: skip
        return None
    start, end = sorted((foot / 10, (foot + (length if from_south else -length)) / 10))
    # the foot stands on the room's own edge, not in the middle of the wall
    start, end = (start + inset, end) if from_south else (start, end - inset)
    return LineString([(x / 10, start), (x / 10, end)])


def _line(runs_north: bool, at: int, start: int, end: int) -> LineString:
    ends = [(at, start), (at, end)] if runs_north else [(start, at), (end, at)]
    return LineString([(x / 10, y / 10) for x, y in ends])
