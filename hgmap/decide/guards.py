"""Ground that may not be clear, whatever the estimate says, and why.

These keep ground out of ``clear``: a reading above the level (at any height) or within its own
error of it, a reading that is held or cannot see the level, ground far from every reading of its
room, a room in which nothing counted, and one whose replicates disagree across the level. A
reading guards the ground around it, within
``guard_m`` and as far as no other reading of the room stands nearer; the whole room where only
the room is known. Our rules, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.evidence import TOO_CLOSE, describe, limit_of, over_words
from hgmap.decide.model import APPROXIMATE, Evidence, FloorEvidence
from hgmap.decide.whose import AT_THE_EDGE_M, known_place, place_of
from hgmap.field.branch import READING_SD
from hgmap.site.building import Room

FAR_M: Final = 8.0

ANSWERS_M: Final = 1.0
"""A reading no farther than this (m) from a non-detect whose limit says too little replaces it."""

DISAGREE: Final = 2.0
"""Replicates across the level that differ by more than this factor keep their whole room."""

ONE_PLACE_M: Final = 0.05
"""Readings of a room nearer than this (m) are replicates, as in the estimate."""

# shapely's circle has 64 sides with their ends on it: this much larger it holds the whole circle
ROUND_OUT: Final = 1.0 / math.cos(math.pi / 64)


@dataclass(frozen=True, slots=True)
class Guard:
    """Ground of one room that is not clear, and the reason in words."""

    geometry: BaseGeometry
    reason: str


def room_guards(
    room: Room,
    items: Sequence[Evidence],
    *,
    level: float,
    guard_m: float,
    far_m: float = math.inf,
) -> list[Guard]:
    """Return the guards of one room.

    Parameters
    ----------
    room : Room
    items : sequence of Evidence
        All that bears on the room (:func:`hgmap.decide.whose.room_items`).
    level : float
        The action level (computing unit).
    guard_m : float
        Least distance (m) that a reading guards.
    far_m : float
        Ground farther than this (m) from every used reading of the room is not clear.
    """
    used = [item for item in items if item.role == "used"]
    if not used:
        return [Guard(room.polygon, _why_unread(items))]
    guards = []
    for item in items:
        reason = why_guarded(item, level)
        if reason is None:
            continue
        place = known_place(item, room)
        if is_answered(item, items, room, level):
            continue
        if place is None:
            guards.append(Guard(room.polygon, f"{reason}; its place in the room is not known"))
        elif may_be_anything(item):
            guards.append(Guard(room.polygon, f"{reason}: it may be far above the level"))
        else:
            guards.append(Guard(_ground(place, room, items, guard_m), reason))
    guards += [Guard(room.polygon, reason) for _, reason in disagreeing(used, room)]
    points = [point for item in used if (point := place_of(item, room)) is not None]
    if math.isfinite(far_m) and points:
        near = shapely.union_all([point.buffer(far_m) for point in points])
        far = polygonal(room.polygon.difference(near))
        if not far.is_empty:
            guards.append(Guard(far, f"farther than {far_m:.3g} m from every reading in this room"))
    return guards


def says_too_little(item: Evidence) -> bool:
    """Tell whether a reading guards only for want of a better one: a non-detect, not held.

    It says nothing of air above its limit, so a reading that sees the level answers it. One that is
    held, saturated or contradicted by its replicate may have met such air: a person settles those.
    """
    return item.role in ("used", "cannot see the level") and (
        item.reading.qualifier == "<" and not item.above
    )


def is_answered(item: Evidence, items: Sequence[Evidence], room: Room, level: float) -> bool:
    """Tell whether a reading that guards nothing was taken at the place of a coarse non-detect.

    Not behind a wall that the room goes round, not in a sweep for a source, which stood nowhere,
    and not before it: one without a time answers only one without a time. Our rule, no source.
    """
    place = known_place(item, room)
    if place is None or not says_too_little(item):
        return False
    for other in items:
        if other.role != "used" or other.reading.kind == "source search":
            continue
        at = known_place(other, room)
        if at is None or why_guarded(other, level) is not None:
            continue
        if not _one_place(at, place, room):
            continue
        before, after = item.reading.time, other.reading.time
        if before is None or (after is not None and _not_before(after, before)):
            return True
    return False


def _one_place(one: Point, other: Point, room: Room) -> bool:
    if one.distance(other) > ANSWERS_M:
        return False
    way = LineString([one, other])
    # either end may lie a little outside the room
    return bool(way.difference(room.polygon).length <= 2.0 * AT_THE_EDGE_M)


def _not_before(after: datetime, before: datetime) -> bool:
    try:
        return after >= before
    except TypeError:  # one of them with a time zone, the other without
        return False


def may_be_anything(item: Evidence) -> bool:
    """Tell whether a reading that makes no surface may be far above the level."""
    if item.role == "held":
        return item.above or item.reading.concentration is None
    return item.role == "cannot see the level" and item.reading.qualifier == ">"


def far_distance(evidence: FloorEvidence) -> float:
    """Return the distance (m) beyond which no reading of a room speaks for its ground.

    8 m, or three times the median distance from a reading to the next one where a survey is laid
    out more widely than a building. Our rule, no source.
    """
    held = [
        (item.reading.x, item.reading.y)
        for item in evidence.items
        if item.role == "held" and item.reading.x is not None and item.reading.y is not None
    ]
    # to hold readings makes a survey no wider
    with_held = np.concatenate([evidence.xy, np.array(held, dtype=np.float64).reshape(-1, 2)])
    return min(_far_between(evidence.xy), _far_between(with_held))


def _far_between(xy: NDArray[np.float64]) -> float:
    if len(xy) < 2:
        return FAR_M
    distance, _ = KDTree(xy).query(xy, k=2)
    return max(FAR_M, 3.0 * float(np.median(distance[:, 1])))


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


def why_guarded(item: Evidence, level: float) -> str | None:
    """Say why a reading guards the ground about it against a level; None: it does not."""
    reading = item.reading
    if item.role == "held":
        return f"{reading.id} is held ({item.reasons[0]})"
    if item.role == "cannot see the level":
        return f"{reading.id} cannot see the level ({item.reasons[-1]})"
    if item.above:
        height = f" at {reading.height_m:g} m" if reading.height_m is not None else ""
        verb = "is saturated at" if reading.qualifier == ">" else "reads"
        source = " (a source search)" if reading.kind == "source search" else ""
        return f"{reading.id}{source}{height} {verb} {describe(reading).removeprefix('>')}" + (
            "" if reading.qualifier == ">" else f", {over_words(reading, level)}"
        )
    if item.role != "used":
        return None
    if reading.qualifier == "<":
        if limit_of(reading) <= TOO_CLOSE * level:
            return None
        doubt = ", with its error," if reading.error else ","
        return (
            f"{reading.id} reads {describe(reading)}{doubt} a limit too close to the level to "
            "clear by"
        )
    # two standard deviations, at the level: the stated one of any reading and this one's own
    approximate = APPROXIMATE if reading.qualifier == "~" else 0.0
    near = (1.0 - 2.0 * math.hypot(READING_SD, reading.error / level, approximate)) * level
    if (item.as_written or reading.concentration or 0.0) > near:
        return f"{reading.id} reads {describe(reading)}, within its own error of the level"
    return None


def disagreeing(used: Sequence[Evidence], room: Room) -> list[tuple[Point, str]]:
    """Say where replicates disagree across the level: nobody knows which of them speaks true.

    The estimate takes their mean with a wide error, and would let the others overrule it.
    """
    places = [(item, place) for item in used if (place := place_of(item, room)) is not None]
    reasons = []
    for item, place in places:
        for other, there in places if item.above else ():
            high, low = item.reading.concentration or 0.0, other.reading.concentration or 0.0
            if other.above or high <= DISAGREE * low or place.distance(there) > ONE_PLACE_M:
                continue
            one, two = item.reading, other.reading
            text = (
                f"{one.id} reads {describe(one)} and {two.id} {describe(two)} at one place: which "
                "of them is right is not known"
            )
            reasons.append((place, text))
            break
    return reasons


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
