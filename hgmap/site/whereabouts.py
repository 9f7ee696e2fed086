"""Where a reading was taken: its floor, its room and place, its height band."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from shapely import Point, STRtree

from hgmap.site.building import Floor, HeightBand, Room

OUTSIDE_TOLERANCE_M: Final = 0.01
"""A place this far (m) outside its room is a rounding of the tape, not a mistake."""


@dataclass(frozen=True)
class RoomIndex:
    """The rooms of a floor by word and by place; made once, a floor may have thousands.

    ``by_word`` maps ids and names (case-folded) to rooms.
    """

    by_word: Mapping[str, Room]
    tree: STRtree

    @classmethod
    def of(cls, floor: Floor) -> RoomIndex:
        """Index a floor."""
        words = {key.casefold(): room for room in floor.rooms for key in (room.id, room.name)}
        return cls(words, STRtree([room.polygon for room in floor.rooms]))


def find_floor(
    text: str,
    floors_by_name: Mapping[str, Floor],
    lost_floors: frozenset[str],
    held: list[str],
    cautions: list[str],
) -> Floor | None:
    """Return the floor of this name or title; what stands against it goes into ``held``."""
    floors = {id(floor): floor for floor in floors_by_name.values()}
    if not text:
        if len(floors) == 1 and not lost_floors:
            cautions.append("floor not stated; the site has only one")
            return next(iter(floors.values()))
        held.append("no floor")
        return None
    key = text.casefold()
    if key in lost_floors:
        held.append(f"the plan of floor {text!r} could not be read")
        return None
    floor = floors_by_name.get(key)
    if floor is None:
        near = difflib.get_close_matches(key, floors_by_name, n=1)
        held.append(f"no floor {text!r}" + (f"; did you mean {near[0]!r}?" if near else ""))
    return floor


def find_place(
    name: str,
    x: float | None,
    y: float | None,
    floor: Floor | None,
    held: list[str],
    cautions: list[str],
    index: RoomIndex | None = None,
) -> tuple[str, float | None, float | None, str]:
    """Return room id, x, y (m) and where they come from; ``index`` is that of the floor."""
    if floor is None:
        return name, x, y, "given" if x is not None and y is not None else ""
    index = index or RoomIndex.of(floor)
    room = None
    if name:
        rooms = index.by_word
        room = rooms.get(name.casefold())
        if room is None:
            near = difflib.get_close_matches(name.casefold(), rooms, n=1)
            hint = f"; did you mean {rooms[near[0]].name!r}?" if near else ""
            held.append(f"no room {name!r} on floor {floor.name!r}{hint}")
            return name, x, y, "given" if x is not None and y is not None else ""
    if (x is None) != (y is None):
        held.append("x without y, or y without x")
        return room.id if room else "", None, None, ""
    if x is None or y is None:
        if room is None:
            held.append("neither a room nor coordinates")
            return "", None, None, ""
        centre = room.polygon.representative_point()
        cautions.append("no coordinates; placed at the room's representative point")
        return room.id, float(centre.x), float(centre.y), "room"
    point = Point(x, y)
    if room is not None:
        distance = room.polygon.distance(point)
        if distance > OUTSIDE_TOLERANCE_M:
            held.append(f"({x:g}, {y:g}) lies {distance:.2f} m outside room {room.name!r}")
        return room.id, x, y, "given"
    found = index.tree.query(point, predicate="dwithin", distance=OUTSIDE_TOLERANCE_M)
    near_rooms = [floor.rooms[k] for k in sorted(found)]
    if not near_rooms:
        held.append(f"({x:g}, {y:g}) lies in no room of floor {floor.name!r}")
        return "", x, y, "given"
    if len(near_rooms) > 1:
        cautions.append(
            f"stands on the line between {near_rooms[0].name!r} and {near_rooms[1].name!r}; "
            f"taken as in {near_rooms[0].name!r}"
        )
    return near_rooms[0].id, x, y, "given"


def find_band(height_m: float | None, bands: Sequence[HeightBand], held: list[str]) -> str:
    """Return the name of the height band, or an empty one and the reason in ``held``."""
    if height_m is None:
        if not any(reason.startswith("height") for reason in held):
            held.append("no height: a floor sweep and the breathing zone never share a map")
        return ""
    for band in bands:
        if band.holds(height_m):
            return band.name
    spans = ", ".join(f"{band.name} {band.from_m:g}-{band.to_m:g} m" for band in bands)
    held.append(f"height {height_m:g} m is in no height band ({spans})")
    return ""
