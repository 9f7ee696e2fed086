"""Where a reading was taken: its floor, its room and place, its height band."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from shapely import Point, STRtree

from hgmap.site.building import Floor, HeightBand, Room
from hgmap.site.grids import grid_place
from hgmap.site.wall_offsets import offset_place

OUTSIDE_TOLERANCE_M: Final = 0.01
"""A place this far (m) outside its room is a rounding of the tape, not a mistake."""

BAND_TOLERANCE_M: Final = 0.03
"""A height this far (m) beside its band is a rounding of feet and inches (ours, no source)."""

SAME_PLACE_M: Final = 0.5
"""Two ways of naming one place may differ by this (m): a pace, not a mistake (ours, no source)."""


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
) -> Floor | None:
    """Return the floor of this name or title; what stands against it goes into ``held``."""
    floors = {id(floor): floor for floor in floors_by_name.values()}
    if not text:
        if len(floors) == 1 and not lost_floors:
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


class Clues(NamedTuple):
    """What a row says of its place: a room, coordinates (m), a grid place, offsets from walls."""

    room: str = ""
    x: float | None = None
    y: float | None = None
    grid: str = ""
    offsets: str = ""


class Place(NamedTuple):
    """Room id, coordinates (m) and where they come from, as in ``Reading``."""

    room: str
    x: float | None
    y: float | None
    source: Literal["", "given", "grid", "walls", "room"]


def find_place(
    clues: Clues,
    floor: Floor | None,
    held: list[str],
    cautions: list[str],
    index: RoomIndex | None = None,
    near: Sequence[int] | None = None,
) -> Place:
    """Find the place that a row means.

    Coordinates are taken before a grid place, that before offsets from walls, those before the
    room; where two of them are written and lie apart, the reading is held.

    Parameters
    ----------
    clues : Clues
    floor : Floor or None
    held, cautions : list of str
        What stands against the place, and what was assumed, is added to them.
    index : RoomIndex, optional
        That of the floor.
    near : sequence of int, optional
        Rooms of the floor within the tolerance of the coordinates, if they were looked up.
    """
    name, x, y, *_ = clues
    given: Literal["", "given"] = "given" if x is not None and y is not None else ""
    if floor is None:
        return Place(name, x, y, given)
    index = index or RoomIndex.of(floor)
    room = None
    if name:
        room = index.by_word.get(name.casefold())
        if room is None:
            hint = _nearest(name, index)
            held.append(f"no room {name!r} on floor {floor.name!r}{hint}")
            return Place(name, x, y, given)
    if (x is None) != (y is None):
        held.append("x without y, or y without x")
        return Place(room.id if room else "", None, None, "")
    source: Literal["given", "grid", "walls"] = "given"
    if clues.grid or clues.offsets:
        other = _by_grid_or_walls(clues, floor, room, held)
        if other is None:
            return Place(room.id if room else "", x, y, given)
        if x is None or y is None:
            (x, y), near = other, None
            source = "grid" if clues.grid else "walls"
        elif math.dist((x, y), other) > SAME_PLACE_M:
            held.append(
                f"({x:g}, {y:g}) and {clues.grid or clues.offsets!r} lie "
                f"{math.dist((x, y), other):.1f} m apart"
            )
    if x is None or y is None:
        if room is None:
            held.append("neither a room nor coordinates")
            return Place("", None, None, "")
        centre = room.polygon.representative_point()
        cautions.append("no coordinates; placed at the room's representative point")
        return Place(room.id, float(centre.x), float(centre.y), "room")
    return _in_its_room(room, x, y, source, floor, held, cautions, index, near)


def _nearest(name: str, index: RoomIndex) -> str:
    near = difflib.get_close_matches(name.casefold(), index.by_word, n=1)
    return f"; did you mean {index.by_word[near[0]].name!r}?" if near else ""


def _by_grid_or_walls(
    clues: Clues, floor: Floor, room: Room | None, held: list[str]
) -> tuple[float, float] | None:
    places: list[tuple[float, float]] = []
    if clues.offsets and room is None:
        held.append(f"offsets {clues.offsets!r}: from the walls of which room?")
        return None
    for found in (
        grid_place(clues.grid, floor.grids) if clues.grid else None,
        offset_place(clues.offsets, room, floor.north_deg) if clues.offsets and room else None,
    ):
        if isinstance(found, str):
            held.append(found)
            return None
        if found is not None:
            places.append(found)
    if math.dist(places[0], places[-1]) > SAME_PLACE_M:
        held.append(f"{clues.grid!r} and {clues.offsets!r} are not one place")
        return None
    return places[0]


def _in_its_room(
    room: Room | None,
    x: float,
    y: float,
    source: Literal["given", "grid", "walls"],
    floor: Floor,
    held: list[str],
    cautions: list[str],
    index: RoomIndex,
    near: Sequence[int] | None,
) -> Place:
    if near is None:
        found = index.tree.query(Point(x, y), predicate="dwithin", distance=OUTSIDE_TOLERANCE_M)
        near = sorted(found.tolist())
    rooms = [floor.rooms[k] for k in near]
    if room is not None:
        if not any(one is room for one in rooms):
            distance = room.polygon.distance(Point(x, y))
            held.append(f"({x:g}, {y:g}) lies {distance:.2f} m outside room {room.name!r}")
        return Place(room.id, x, y, source)
    if not rooms:
        held.append(f"({x:g}, {y:g}) lies in no room of floor {floor.name!r}")
        return Place("", x, y, source)
    if len(rooms) > 1:
        cautions.append(
            f"stands on the line between {rooms[0].name!r} and {rooms[1].name!r}; "
            f"taken as in {rooms[0].name!r}"
        )
    return Place(rooms[0].id, x, y, source)


def find_band(
    height_m: float | None,
    bands: Sequence[HeightBand],
    held: list[str],
    cautions: list[str],
) -> str:
    """Return the name of the height band, or an empty one and the reason in ``held``.

    A height beside one band only, by no more than :data:`BAND_TOLERANCE_M`, belongs to it, with a
    caution: 6 ft is 1.83 m, and nobody holds an inlet to the centimetre.
    """
    if height_m is None:
        if not any(reason.startswith("height") for reason in held):
            held.append("no height: a floor sweep and the breathing zone never share a map")
        return ""
    for band in bands:
        if band.holds(height_m):
            return band.name
    near = [
        band
        for band in bands
        if band.from_m - BAND_TOLERANCE_M <= height_m <= band.to_m + BAND_TOLERANCE_M
    ]
    if len(near) == 1:
        name, low, high = near[0].name, near[0].from_m, near[0].to_m
        cautions.append(f"height {height_m:g} m taken as in {name} ({low:g}-{high:g} m)")
        return name
    spans = ", ".join(f"{band.name} {band.from_m:g}-{band.to_m:g} m" for band in bands)
    held.append(f"height {height_m:g} m is in no height band ({spans})")
    return ""
