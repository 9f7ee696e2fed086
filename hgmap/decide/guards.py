"""Ground that may not be clear, whatever the estimate says, and why.

Three things keep ground out of ``clear``: a reading above the level (at any height), a reading
that is held or cannot see the level, and a room in which nothing counted. The first two guard the
ground around them: within ``guard_m``, and as far as no other reading of the room stands nearer.
Our rule, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.evidence import describe
from hgmap.decide.model import Evidence
from hgmap.site.model import Room

# shapely's circle has 64 sides with their ends on it: this much larger it holds the whole circle
ROUND_OUT: Final = 1.0 / math.cos(math.pi / 64)


@dataclass(frozen=True, slots=True)
class Guard:
    """Ground of one room that is not clear, and the reason in words."""

    geometry: BaseGeometry
    reason: str


def room_guards(room: Room, items: Sequence[Evidence], guard_m: float) -> list[Guard]:
    """Return the guards of one room.

    Parameters
    ----------
    room : Room
    items : sequence of Evidence
        All readings of the room, whatever their part.
    guard_m : float
        Least distance (m) that a reading guards.
    """
    if not any(item.role == "used" for item in items):
        return [Guard(room.polygon, _why_unread(items))]
    guards = []
    for item in items:
        reason = _why_guarded(item)
        if reason is None:
            continue
        place = place_of(item, room)
        if place is not None:
            guards.append(Guard(_ground(place, room, items, guard_m), reason))
        elif item.above or item.reading.concentration is None:
            guards.append(Guard(room.polygon, f"{reason}; its place in the room is not known"))
    return guards


def place_of(item: Evidence, room: Room) -> Point | None:
    """Return where a reading was taken in a room; None where that cannot be believed."""
    reading = item.reading
    if reading.x is None or reading.y is None:
        return None
    point = Point(reading.x, reading.y)
    # a place on the room's edge is in the room
    return point if room.polygon.distance(point) <= 0.01 else None


def _why_unread(items: Sequence[Evidence]) -> str:
    if not items:
        return "no reading in this room"
    roles = {item.role for item in items}
    if roles == {"other height"}:
        text = "no reading at this height in this room"
    elif roles == {"held"}:
        text = "every reading in this room is held"
    else:
        text = "no reading in this room counts for this map"
    above = [item for item in items if item.above]
    if above:
        text += f"; {above[0].reading.id} reads {describe(above[0].reading)}, above the level"
    return text


def _why_guarded(item: Evidence) -> str | None:
    reading = item.reading
    if item.role == "held":
        return f"{reading.id} is held ({item.reasons[0]})"
    if item.role == "cannot see the level":
        return f"{reading.id} cannot see the level ({item.reasons[-1]})"
    if item.above:
        height = f" at {reading.height_m:g} m" if reading.height_m is not None else ""
        verb = "is saturated at" if reading.qualifier == ">" else "reads"
        return f"{reading.id}{height} {verb} {describe(reading).removeprefix('>')}" + (
            "" if reading.qualifier == ">" else ", above the level"
        )
    return None


def _ground(place: Point, room: Room, items: Sequence[Evidence], guard_m: float) -> BaseGeometry:
    """Return the ground around a place: within ``guard_m``, or nearer to it than to any other."""
    ground = place.buffer(guard_m * ROUND_OUT)
    own = _to_the_millimetre(place)
    others = {
        _to_the_millimetre(point)
        for item in items
        if item.role == "used" and not item.above
        if (point := place_of(item, room)) is not None
    } - {own}
    cell: BaseGeometry = room.polygon
    if others:
        points = MultiPoint([own, *sorted(others)])
        cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=room.polygon))
        cell = next((one for one in cells if one.intersects(Point(own))), Polygon())
    return polygonal(shapely.union(ground, cell).intersection(room.polygon))


def _to_the_millimetre(place: Point) -> tuple[float, float]:
    # places nearer than any tape tells apart are one; between them there is no line to draw
    return round(place.x, 3), round(place.y, 3)
