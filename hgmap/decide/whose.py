"""Which room a reading speaks for, and where in it.

A reading that counts has one room. One that is held may have none, or two: the room that was
written down and the one that its coordinates lie in. Until a person has sorted that out it speaks
for each of them, so that no ground it may have been taken on is called clear.
"""

from __future__ import annotations

import shapely
from shapely import Point

from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.site.model import Room

AT_THE_EDGE_M = 0.01
"""A place this far (m) outside a room is on its edge."""


def room_items(evidence: FloorEvidence, room: Room) -> list[Evidence]:
    """Return the evidence that bears on a room.

    That is what names the room by its id, else by its name (a room that is named like another
    room's id does not take that room's readings); each held reading whose coordinates lie in this
    room or, where they lie in none, nearest to it; and each held reading that is above the level,
    or of unknown value, and says neither room nor place.
    """
    rooms = evidence.floor.rooms
    ids = {one.id.casefold() for one in rooms}
    names = ids | {one.name.casefold() for one in rooms}
    keys = {room.id.casefold()}
    if room.name.casefold() not in ids:
        keys.add(room.name.casefold())
    chosen = []
    for item in evidence.items:
        named = item.reading.room.casefold()
        if named in keys or (item.role == "held" and _may_be_here(item, evidence, room, names)):
            chosen.append(item)
    return chosen


def _may_be_here(item: Evidence, evidence: FloorEvidence, room: Room, names: set[str]) -> bool:
    reading = item.reading
    if reading.x is None or reading.y is None:
        homeless = reading.room.casefold() not in names
        return homeless and (item.above or reading.concentration is None)
    rooms = evidence.floor.rooms
    nearest = int(
        shapely.distance([r.polygon for r in rooms], Point(reading.x, reading.y)).argmin()
    )
    return rooms[nearest] is room


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
