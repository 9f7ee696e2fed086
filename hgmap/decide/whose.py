"""Which room a reading speaks for, and where in it.

A reading that counts has one room. One that is held may have none, or two: the room that was
written down and the one that its coordinates lie in. Until a person has sorted that out it speaks
for each of them, so that no ground it may have been taken on is called clear.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Point

from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.site.building import Room

AT_THE_EDGE_M = 0.01
"""A place this far (m) outside a room is on its edge."""

IN_A_WALL_M = 0.6
"""A place in no room is beside every room that is no farther than this (m)."""


def room_items(evidence: FloorEvidence, room: Room) -> list[Evidence]:
    """Return the evidence that bears on a room.

    That is what names the room by its id, else by its name (a room that is named like another
    room's id does not take that room's readings); each held reading whose coordinates lie in this
    room or, where they lie in none, beside it or nearest to it; and each held reading that is above
    the level, or of unknown value, and says neither room nor place. What is off the map bears on no
    room.
    """
    place = next(k for k, one in enumerate(evidence.floor.rooms) if one is room)
    return items_by_room(evidence)[place]


def items_by_room(evidence: FloorEvidence) -> list[list[Evidence]]:
    """Return what bears on every room, in the order of the floor's rooms (:func:`room_items`)."""
    rooms = evidence.floor.rooms
    polygons = [room.polygon for room in rooms]
    by_id: dict[str, list[int]] = {}
    for k, room in enumerate(rooms):
        by_id.setdefault(room.id.casefold(), []).append(k)
    called = {key: list(places) for key, places in by_id.items()}
    for k, room in enumerate(rooms):
        name = room.name.casefold()
        if name not in by_id:
            called.setdefault(name, []).append(k)
    found: list[list[Evidence]] = [[] for _ in rooms]
    for item in evidence.items:
        if item.role == "off the map":
            continue
        reading = item.reading
        here = dict.fromkeys(called.get(reading.room.casefold(), []))
        if item.role == "held" and reading.x is not None and reading.y is not None:
            apart = shapely.distance(polygons, Point(reading.x, reading.y))
            # in a doorway or a wall it speaks for the rooms on both sides
            least = float(apart.min())
            near = AT_THE_EDGE_M if least <= AT_THE_EDGE_M else max(least, IN_A_WALL_M)
            here |= dict.fromkeys(int(k) for k in np.flatnonzero(apart <= near))
        elif item.role == "held" and not here and (item.above or reading.concentration is None):
            here = dict.fromkeys(range(len(rooms)))
        for k in here:
            found[k].append(item)
    return found


def bags_of(bags: Sequence[Evidence], room: Room) -> list[Evidence]:
    """Return those of some bags that were filled in a room, by its id, its name or their place."""
    called = (room.id.casefold(), room.name.casefold())
    return [
        item
        for item in bags
        if item.reading.room.casefold() in called
        or (not item.reading.room and place_of(item, room) is not None)
    ]


def place_of(item: Evidence, room: Room) -> Point | None:
    """Return where a reading was taken in a room; None where that is not known or not believed."""
    reading = item.reading
    if reading.x is None or reading.y is None:
        return None
    point = Point(reading.x, reading.y)
    return point if room.polygon.distance(point) <= AT_THE_EDGE_M else None


def known_place(item: Evidence, room: Room) -> Point | None:
    """Return the place of a reading that was written down, not made up from its room."""
    return None if item.reading.placed == "room" else place_of(item, room)
