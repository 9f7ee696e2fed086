"""Taped rooms put beside each other through the doors that they share."""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from shapely import Polygon

from hgmap.site.importers.schedule_layout import beside, laid_over_another
from hgmap.site.importers.tape import Corners
from hgmap.site.plan import OVERLAP_ALLOWED_M2

FACING_DEG: Final = 10.0
"""Two walls with one door face each other within this; ours, no source."""

DOORS_MEET_M: Final = 0.05
"""Two places for one door that differ by more (m) are told."""

OUTSIDE: Final = ("", "outside", "outdoors", "exterior")


@dataclass(frozen=True, slots=True)
class TapedDoor:
    """A door in wall ``wall`` of its room, from ``start_m`` after the corner where that begins."""

    row: int
    wall: int
    start_m: float
    width_m: float
    to: str
    thickness_m: float


@dataclass(frozen=True, slots=True)
class TapedRoom:
    """A room whose walls close.

    Attributes
    ----------
    corners : array of shape (n, 2)
        From its first corner (m), in the order they were walked.
    at : tuple of 2 float, or None
        Where its first corner stands (m), if the table says so.
    by_bearing : bool
        Whether its walls have bearings, so that it must not be turned.
    """

    row: int
    name: str
    id: str
    corners: Corners
    doors: tuple[TapedDoor, ...]
    at: tuple[float, float] | None
    by_bearing: bool


@dataclass
class Placed:
    """Corners of every room on one plan, doors as lines (2, 2) with their rows, and notes.

    ``placed`` holds the rooms whose place beside others is known.
    """

    corners: list[Corners]
    doors: list[tuple[int, Corners]]
    placed: set[int]
    notes: list[tuple[int, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Link:
    """One door seen from both of its rooms, by their numbers."""

    one: int
    door: TapedDoor
    other: int
    back: TapedDoor

    def turned(self) -> _Link:
        return _Link(self.other, self.back, self.one, self.door)


def place_rooms(rooms: Sequence[TapedRoom], *, gap_m: float) -> Placed:
    """Place rooms that say where they are, then their neighbours through doors, then the others.

    Groups of rooms that nothing joins are laid out beside each other.
    """
    notes: list[tuple[int, str]] = []
    links = _links(rooms, notes)
    order = sorted(
        range(len(rooms)), key=lambda n: (rooms[n].at is None, not rooms[n].by_bearing, n)
    )
    found: dict[int, Corners] = {}
    groups: list[list[int]] = []
    known = [n for n in order if rooms[n].at is not None]
    shapes = {n: rooms[n].corners + np.array(rooms[n].at) for n in known}
    late = laid_over_another([Polygon(one) for one in shapes.values()])
    for n in [known[place] for place in sorted(late)]:
        notes.append((rooms[n].row, "overlaps a room above it: laid beside the others"))
        known.remove(n)
    found |= {n: shapes[n] for n in known}
    if known:
        groups.append(_spread(known, rooms, links, found, notes))
    for n in order:
        if n not in found:
            found[n] = rooms[n].corners
            groups.append(_spread([n], rooms, links, found, notes))
    _set_apart(groups, found, gap_m)
    corners = [found[n] for n in range(len(rooms))]
    placed = set(groups[0]) if len(groups) == 1 or known else set()
    doors, misses = _doors(rooms, links, corners, groups)
    return Placed(corners, doors, placed, [*notes, *misses])


def _links(rooms: Sequence[TapedRoom], notes: list[tuple[int, str]]) -> list[_Link]:
    """Match doors that two rooms say lead to each other, in the order they are written."""
    by_word = {word.casefold(): n for n, one in enumerate(rooms) for word in (one.id, one.name)}
    asked: dict[tuple[int, int], list[TapedDoor]] = {}
    for n, room in enumerate(rooms):
        for door in room.doors:
            if door.to.casefold() in OUTSIDE:
                continue
            other = by_word.get(door.to.casefold())
            if other is None or other == n:
                notes.append((door.row, f"a door to {door.to!r}, which is no room of the table"))
            else:
                asked.setdefault((n, other), []).append(door)
    links: list[_Link] = []
    for (n, other), doors in asked.items():
        back = asked.get((other, n), [])
        if n < other:
            links += [_Link(n, door, other, its) for door, its in zip(doors, back, strict=False)]
        notes += [
            (door.row, f"a door to {rooms[other].name!r}, which has none back: it joins nothing")
            for door in doors[len(back) :]
        ]
    return links


def _spread(
    begin: list[int],
    rooms: Sequence[TapedRoom],
    links: Sequence[_Link],
    found: dict[int, Corners],
    notes: list[tuple[int, str]],
) -> list[int]:
    """Place all rooms that doors lead to from these; return the whole group."""
    group = list(begin)
    shapes = [Polygon(found[n]) for n in begin]
    leading: dict[int, list[_Link]] = defaultdict(list)
    for link in links:
        leading[link.one].append(link)
        leading[link.other].append(link.turned())
    queue = deque(begin)
    while queue:
        here = queue.popleft()
        for link in leading[here]:
            if link.other in found:
                continue
            corners, complaint = _through(link, rooms, found[here])
            if not complaint:
                shape = Polygon(corners)
                over = np.flatnonzero(
                    shapely.area(shapely.intersection(shapes, shape)) > OVERLAP_ALLOWED_M2
                )
                if len(over):
                    complaint = f"it would lie over {rooms[group[over[0]]].name!r}"
            if complaint:
                notes.append(
                    (link.back.row, f"{rooms[link.other].name!r} is not placed through its door to "
                     f"{rooms[here].name!r}: {complaint}")
                )  # fmt: skip
                continue
            found[link.other] = corners
            group.append(link.other)
            shapes.append(Polygon(corners))
            queue.append(link.other)
    return group


def _through(link: _Link, rooms: Sequence[TapedRoom], here: Corners) -> tuple[Corners, str]:
    """Move a room so that its door meets the other's, a wall's thickness away."""
    middle, outward = _door_at(here, link.door)
    there = rooms[link.other].corners
    its_middle, its_outward = _door_at(there, link.back)
    turn = _angle(-outward) - _angle(its_outward)
    if rooms[link.other].by_bearing:
        off = abs((math.degrees(turn) + 180) % 360 - 180)
        if off > FACING_DEG:
            return (
                there,
                f"the bearings of the two walls are {off:.0f} degrees off facing each other",
            )
        turn = 0.0
    cos, sin = math.cos(turn), math.sin(turn)
    spin = np.array([[cos, sin], [-sin, cos]])
    thickness = max(link.door.thickness_m, link.back.thickness_m)
    return (there - its_middle) @ spin + middle + thickness * outward, ""


def _door_at(corners: Corners, door: TapedDoor) -> tuple[Corners, Corners]:
    """Return the middle of a door, and the direction out of its room."""
    line = _door_line(corners, door)
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    left = np.array([-along[1], along[0]])
    clockwise = Polygon(corners).exterior.is_ccw is False
    return line.mean(axis=0), left if clockwise else -left


def _door_line(corners: Corners, door: TapedDoor) -> Corners:
    start, end = corners[door.wall], corners[(door.wall + 1) % len(corners)]
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    first = min(door.start_m, length - door.width_m) if door.width_m < length else 0.0
    last = min(first + door.width_m, length)
    return np.array([start + along * first, start + along * last])


def _angle(direction: Corners) -> float:
    return math.atan2(direction[1], direction[0])


def _set_apart(groups: Sequence[Sequence[int]], found: dict[int, Corners], gap_m: float) -> None:
    """Lay groups beside the first one, which stays where it is."""
    later = groups[1:]
    boxes = [np.vstack([found[n] for n in group]) for group in later]
    lows = [one.min(axis=0) for one in boxes]
    sizes = [tuple(one.max(axis=0) - low) for one, low in zip(boxes, lows, strict=True)]
    standing = [Polygon(found[n]) for n in groups[0]]
    places = beside(standing, [(float(w), float(h)) for w, h in sizes], gap_m)
    for group, low, at in zip(later, lows, places, strict=True):
        for n in group:
            found[n] = found[n] - low + np.array(at)


def _doors(
    rooms: Sequence[TapedRoom],
    links: Sequence[_Link],
    corners: Sequence[Corners],
    groups: Sequence[Sequence[int]],
) -> tuple[list[tuple[int, Corners]], list[tuple[int, str]]]:
    """Draw a shared door once, in the middle of its wall, and every other one in its own."""
    of_group = {n: number for number, group in enumerate(groups) for n in group}
    drawn: list[tuple[int, Corners]] = []
    notes: list[tuple[int, str]] = []
    done: set[int] = set()
    for link in links:
        if of_group[link.one] != of_group[link.other]:
            continue
        line = _door_line(corners[link.one], link.door)
        middle, outward = _door_at(corners[link.one], link.door)
        its_middle, _ = _door_at(corners[link.other], link.back)
        thickness = max(link.door.thickness_m, link.back.thickness_m)
        miss = float(np.hypot(*(middle + thickness * outward - its_middle)))
        if miss > DOORS_MEET_M:
            notes.append(
                (link.back.row, f"the door between {rooms[link.one].name!r} and "
                 f"{rooms[link.other].name!r} misses itself by {miss:.2f} m")
            )  # fmt: skip
            if miss > link.door.width_m / 2:
                continue  # two doors then, each in its own wall
        drawn.append((link.door.row, line + outward * thickness / 2))
        done |= {link.door.row, link.back.row}
    drawn += [
        (door.row, _door_line(corners[n], door))
        for n, room in enumerate(rooms)
        for door in room.doors
        if door.row not in done
    ]
    return sorted(drawn, key=lambda one: one[0]), notes
