"""From what was ruled to the pieces that are printed, each with its id and its reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.described import gathered, piece_of
from hgmap.decide.guards import Guard
from hgmap.decide.model import ZONE_NAMES, Zone, ZoneName, Zones
from hgmap.decide.nested import Parts, imposed, lies_under, nested_parts
from hgmap.decide.ruling import FloorRuling, RoomRuling, tangible
from hgmap.decide.taped import TapeRules, taped_parts
from hgmap.field.points import Check, never
from hgmap.site.building import Room

LETTERS: Final[Mapping[ZoneName, str]] = {
    "remediate": "R", "resample": "S", "clear": "C", "no data": "N",
}  # fmt: skip

_WORTH_SAYING_M2: Final = 0.05
_ALONG_A_WALL_M: Final = 0.02

_TO: Final[Mapping[ZoneName, str]] = {
    "remediate": "to remediate", "resample": "to resample", "clear": "clear", "no data": "no data",
}  # fmt: skip


@dataclass(frozen=True)
class Shaped:
    """The pieces of a floor at one level.

    ``ruled`` and ``cut`` are the parts of each room before and after they were cut, both under
    those of the higher levels.
    """

    zones: Zones
    ruled: tuple[Parts, ...]
    cut: tuple[Parts, ...]


def shaped_zones(
    ruling: FloorRuling,
    rules: TapeRules,
    *,
    higher: Shaped | None = None,
    purpose: str = "",
    check: Check = never,
) -> Shaped:
    """Cut a floor's ruling into pieces that a crew can tape off, or into whole rooms.

    Parameters
    ----------
    ruling : FloorRuling
    rules : TapeRules
    higher : Shaped, optional
        The next higher level, inside which the zones of this one lie.
    purpose : str
        What the level is for, in words.
    check : callable, optional
        Called room by room; raising inside it cancels.
    """
    zones: list[Zone] = []
    ruled: list[Parts] = []
    cuts: list[Parts] = []
    for index, room in enumerate(ruling.rooms):
        check()
        polygon, own = room.room.polygon, room.parts
        why: list[Guard] = []
        if higher is None:
            cut = taped_parts(polygon, own, rules)
        else:
            why = imposed(own, higher.ruled[index], higher.zones.level)
            own = nested_parts(polygon, own, higher.ruled[index])
            cut = taped_parts(polygon, own, rules)
            if not lies_under(polygon, cut, higher.cut[index]):
                # straight edges of two levels may cross: then this one is cut round the other
                cut = taped_parts(polygon, nested_parts(polygon, own, higher.cut[index]), rules)
        zones += _pieces(room, own, cut, why, rules, ruling.clear_at)
        ruled.append(own)
        cuts.append(cut)
    return Shaped(replace(gathered(ruling, zones), purpose=purpose), tuple(ruled), tuple(cuts))


def _pieces(
    ruling: RoomRuling,
    parts: Mapping[ZoneName, BaseGeometry],
    cut: Mapping[ZoneName, BaseGeometry],
    why: Sequence[Guard],
    rules: TapeRules,
    clear_at: float,
) -> list[Zone]:
    found = []
    for name in ZONE_NAMES:
        pieces = tangible(shapely.get_parts(cut.get(name, Polygon())), ruling.room)
        # the largest first; of equal ones the westernmost, so that an id means the same piece
        pieces.sort(key=lambda one: (-round(one.area, 3), *one.bounds))
        for number, piece in enumerate(pieces, start=1):
            zone = piece_of(ruling, name, piece, clear_at)
            own = shapely.intersection(piece, parts.get(name, Polygon())).area
            added = max(0.0, float(piece.area - own))
            said = [
                one.reason
                for one in why
                if polygonal(shapely.intersection(one.geometry, piece)).area > _WORTH_SAYING_M2
            ]
            said += _why_so_shaped(name, parts, added, rules, bare=not (zone.reasons or said))
            found.append(
                replace(
                    zone,
                    reasons=(*zone.reasons, *said),
                    id=f"{ruling.room.id}-{LETTERS[name]}{number}",
                    tape_m=tape_length(piece, ruling.room),
                    added_m2=added,
                )
            )
    return found


def tape_length(piece: BaseGeometry, room: Room) -> float:
    """Return the length (m) of a piece's edge that is not along a wall of its room."""
    walls = room.polygon.boundary.buffer(_ALONG_A_WALL_M, quad_segs=2)
    return float(shapely.difference(piece.boundary, walls).length)


def _why_so_shaped(
    name: ZoneName,
    parts: Mapping[ZoneName, BaseGeometry],
    added_m2: float,
    rules: TapeRules,
    *,
    bare: bool,
) -> list[str]:
    if added_m2 < _WORTH_SAYING_M2 and not bare:
        return []
    area = f"{added_m2:.1f}" if added_m2 >= _WORTH_SAYING_M2 else "under 0.1"
    if rules.whole_rooms:
        return [f"the whole room goes by the {parts[name].area:.1f} m² of it {_TO[name]}"]
    return [f"{area} m² added so that it can be taped off"]
