"""Zones: cells to polygons that tile each room, areas that add up, and the reason in words.

In this order, room by room:

1. no surface: a room with a reading above the level is ``remediate``, one with any reading
   ``resample``, the others ``no data``;
2. no opening and no reading at all: ``no data``; straight lines would paint it through its walls;
3. ``remediate`` where the probability of being above the level is at least ``remediate_at``;
4. ``resample`` where it is above ``clear_at``, wherever a guard stands, and before a door to
   ground to remediate;
5. ``clear`` is what is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import RoomWindow, area_above, lines_at, polygonal, room_window
from hgmap.decide.doorways import doorway_guards
from hgmap.decide.evidence import bags_above, describe
from hgmap.decide.exceedance import (
    exceedance_probability,
    excess_at,
    standardised_excess,
    working_level,
)
from hgmap.decide.guards import Guard, far_distance, room_guards
from hgmap.decide.model import Evidence, FloorEvidence, Zone, ZoneName, Zones, highest_of
from hgmap.decide.whose import bags_of, items_by_room, place_of
from hgmap.field.surface import Surface
from hgmap.site.building import Room
from hgmap.site.reading import Reading

Floats = NDArray[np.float64]

FARTHEST_FROM_A_CELL = 2.0
"""Ground farther than this (cells) from every cell of its room was not estimated: a passage that
holds no cell's centre. Our rule, no source."""


def make_zones(
    evidence: FloorEvidence,
    surface: Surface | None,
    *,
    remediate_at: float = 0.5,
    clear_at: float = 0.05,
    guard_m: float = 1.5,
    no_surface: str = "",
    nothing_clear: str = "",
    also: Sequence[tuple[str, Surface]] = (),
) -> Zones:
    """Rule on every square metre of a floor.

    Parameters
    ----------
    evidence : FloorEvidence
    surface : Surface or None
        None where none could be made; ``no_surface`` is then the reason.
    remediate_at, clear_at : float
        Probabilities of being above the level.
    guard_m : float
        Least distance (m) around a reading that keeps ground out of ``clear``.
    nothing_clear : str
        Why no ground of this floor may be clear: what would be is ``resample``.
    also : sequence of (str, Surface)
        Other estimates, each with the reason to give: in which measured errors lower no reading's
        weight, in which held readings count, and so on. Ground is clear only where it is so by
        each of them too: less trust in a high reading must not clear what is round it.
    """
    nothing_clear = nothing_clear or stray_reason(evidence)
    far_m = far_distance(evidence)
    joined = {room for opening in evidence.floor.openings for room in opening.rooms}
    rules = _Rules(evidence, remediate_at, clear_at, guard_m, far_m, nothing_clear)
    looks = _looks(evidence, surface, rules)
    others = [(why, one, _looks(evidence, one, rules)) for why, one in also]
    to_remediate = _to_remediate(looks, *(found for _, _, found in others))
    at_doors = doorway_guards(evidence.floor, to_remediate, guard_m=guard_m)
    zones: list[Zone] = []
    contours: list[LineString] = []
    for index, (room, items) in enumerate(
        zip(evidence.floor.rooms, items_by_room(evidence), strict=True)
    ):
        if surface is None:
            zones.append(_without_surface(room, items, no_surface))
        elif not items and room.id not in joined:
            reason = "no opening and no reading: nothing says what is in here"
            zones.append(Zone("no data", room.id, room.name, room.polygon, None, None, None,
                              (reason,)))  # fmt: skip
        else:
            made, lines = _room_zones(
                room,
                items,
                looks.get(index),
                surface,
                rules,
                [
                    *at_doors.get(index, []),
                    *(
                        guard
                        for why, one, found in others
                        for guard in _in_doubt(room, found.get(index), one, clear_at, why)
                    ),
                ],
            )
            zones += made
            contours += lines
    zones = _with_bags(zones, evidence)
    return Zones(evidence.floor, evidence.level, tuple(zones), tuple(contours), remediate_at,
                 clear_at)  # fmt: skip


def _with_bags(zones: Sequence[Zone], evidence: FloorEvidence) -> list[Zone]:
    """Name, in every zone of a room, the items of it whose headspace is above the level.

    They say nothing about the air of the room; whoever reads its ruling has to know of them.
    """
    bags = bags_above(evidence.items)
    if not bags:
        return list(zones)
    named = {
        room.id: tuple(
            f"an item in this room: bag headspace {item.reading.id} "
            f"{'is saturated at' if item.reading.qualifier == '>' else 'reads'} "
            f"{describe(item.reading).removeprefix('>')}, above the level"
            for item in bags_of(bags, room)
        )
        for room in evidence.floor.rooms
    }
    return [replace(zone, reasons=(*zone.reasons, *named[zone.room])) for zone in zones]


def stray_reason(evidence: FloorEvidence) -> str:
    """Say which held readings could have been taken anywhere, and are above the level or unread."""
    for item in evidence.strays:
        if item.above or item.reading.concentration is None:
            return (
                f"{item.reading.id} ({describe(item.reading)}) is held and may belong to this "
                f"floor: {item.reasons[0]}"
            )
    return ""


def _without_surface(
    room: Room, items: Sequence[Evidence], reason: str, *, why: str = "no surface: "
) -> Zone:
    above = [item for item in items if item.above and item.role != "held"]
    highest = highest_of(items)
    name: ZoneName = "no data"
    reasons: tuple[str, ...] = (f"{why}{reason}",)
    if above:
        name = "remediate"
        texts = [f"{item.reading.id} reads {describe(item.reading)}" for item in above]
        reasons = (*reasons, f"above the level: {', '.join(texts[:3])}")
    elif items:
        name = "resample"
        held = [item for item in items if item.role == "held"]
        text = f"{len(items)} reading(s), none known to be above the level"
        if held:
            text += f", {len(held)} of them held"
        reasons = (*reasons, text)
    return Zone(name, room.id, room.name, room.polygon, None, highest, None, reasons)


@dataclass(frozen=True)
class _Rules:
    """What every room is ruled by."""

    evidence: FloorEvidence
    remediate_at: float
    clear_at: float
    guard_m: float
    far_m: float
    nothing_clear: str


@dataclass(frozen=True)
class _Look:
    """A room as the surface shows it; ``excess`` is in doubt where nothing is known."""

    window: RoomWindow
    mean: Floats
    sd: Floats
    excess: Floats
    remediate: BaseGeometry

    @property
    def unknown(self) -> bool:
        """Whether nothing is known of any of its cells."""
        return not bool((np.isfinite(self.mean) & np.isfinite(self.sd)).any())


def _looks(evidence: FloorEvidence, surface: Surface | None, rules: _Rules) -> dict[int, _Look]:
    """Return the rooms that have cells, by their position."""
    if surface is None:
        return {}
    level = working_level(surface, evidence.level.concentration)
    freedom = surface.degrees_of_freedom
    at_least = excess_at(rules.remediate_at, freedom)
    in_doubt = (excess_at(rules.clear_at, freedom) + at_least) / 2.0
    found = {}
    for index, room in enumerate(evidence.floor.rooms):
        window = room_window(surface.raster, index, room.polygon)
        if window is None:
            continue
        mean, sd = window.take(surface.mean), window.take(surface.sd)
        known = np.isfinite(mean) & np.isfinite(sd)
        # a part of the room that no reading reaches is in doubt
        excess = np.where(known, standardised_excess(mean, sd, level), in_doubt)
        remediate = area_above(window, excess, at_least, room.polygon)
        found[index] = _Look(window, mean, sd, excess, remediate)
    return found


def _room_zones(
    room: Room,
    items: Sequence[Evidence],
    look: _Look | None,
    surface: Surface,
    rules: _Rules,
    further: Sequence[Guard],
) -> tuple[list[Zone], list[LineString]]:
    level_in_force, clear_at = rules.evidence.level.concentration, rules.clear_at
    if look is None:
        reason = f"the room is too narrow for cells of {surface.raster.cell_m:g} m"
        bare = _without_surface(room, items, reason, why="")
        return [replace(bare, name="resample" if bare.name == "no data" else bare.name)], []
    if look.unknown:
        reason = "no air way from any reading reaches this room"
        name: ZoneName = "resample" if items else "no data"
        return [Zone(name, room.id, room.name, room.polygon, None, None, None, (reason,))], []
    window, mean, sd, remediate = look.window, look.mean, look.sd, look.remediate
    level, freedom = working_level(surface, level_in_force), surface.degrees_of_freedom
    doubtful = area_above(window, look.excess, excess_at(clear_at, freedom), room.polygon)
    guards = room_guards(
        room, items, level=level_in_force, guard_m=rules.guard_m, far_m=rules.far_m
    )
    guards += further
    beyond = area_above(window, window.cells_away, FARTHEST_FROM_A_CELL, room.polygon)
    if not beyond.is_empty:
        guards.append(Guard(beyond, f"too narrow for cells of {surface.raster.cell_m:g} m"))
    if rules.nothing_clear:
        guards.append(Guard(room.polygon, rules.nothing_clear))
    guarded = shapely.union_all([guard.geometry for guard in guards])
    kept_from_clear = shapely.union_all([remediate, doubtful, guarded])
    parts: dict[ZoneName, BaseGeometry] = {
        "remediate": remediate,
        "resample": polygonal(kept_from_clear.intersection(room.polygon).difference(remediate)),
        "clear": polygonal(room.polygon.difference(kept_from_clear)),
    }
    probability = exceedance_probability(mean, sd, level, degrees_of_freedom=freedom)
    estimate = np.exp(mean) if surface.scale == "log" else mean
    own_x, own_y = np.meshgrid(window.x, window.y)
    zones = []
    for name, geometry in parts.items():
        if geometry.area <= 1e-9 * room.polygon.area:
            continue
        inside = window.own & shapely.intersects_xy(geometry, own_x, own_y)
        if not inside.any():
            # smaller than a cell: its nearest cell speaks for it
            point = geometry.representative_point()
            nearest = np.argmin((own_x - point.x) ** 2 + (own_y - point.y) ** 2)
            inside = np.zeros_like(window.own)
            inside.flat[nearest] = True
        highest_p = _highest(probability[inside])
        zones.append(
            Zone(
                name,
                room.id,
                room.name,
                geometry,
                _highest(estimate[inside]),
                _highest_reading(geometry, items, room),
                highest_p,
                _reasons(name, geometry, doubtful, guards, highest_p, clear_at, items),
            )
        )
    return zones, lines_at(window, mean, level, room.polygon)


def _to_remediate(*estimates: Mapping[int, _Look]) -> dict[int, BaseGeometry]:
    """Return the ground of each room that is to remediate by any of some estimates."""
    found: dict[int, BaseGeometry] = {}
    for looks in estimates:
        for index, look in looks.items():
            if not look.remediate.is_empty:
                known = found.get(index)
                found[index] = look.remediate if known is None else known.union(look.remediate)
    return found


def _in_doubt(
    room: Room, look: _Look | None, surface: Surface, clear_at: float, why: str
) -> list[Guard]:
    """Return the ground of a room that is in doubt by another estimate."""
    if look is None:
        return []
    least = excess_at(clear_at, surface.degrees_of_freedom)
    ground = area_above(look.window, look.excess, least, room.polygon)
    return [] if ground.is_empty else [Guard(ground, why)]


def _highest(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else None


def _highest_reading(
    geometry: BaseGeometry, items: Sequence[Evidence], room: Room
) -> Reading | None:
    return highest_of(
        item
        for item in items
        if (point := place_of(item, room)) is not None and geometry.distance(point) <= 0.01
    )


def _reasons(
    name: ZoneName,
    geometry: BaseGeometry,
    doubtful: BaseGeometry,
    guards: Sequence[Guard],
    highest_p: float | None,
    clear_at: float,
    items: Sequence[Evidence],
) -> tuple[str, ...]:
    reasons: list[str] = []
    if highest_p is None:
        reasons.append("no air way from any reading reaches this part")
        highest_p = 0.0
    if name == "remediate":
        reasons.append(f"probability above the level up to {highest_p:.2f}")
        if not any(item.role == "used" for item in items):
            reasons.append("estimated from other rooms only: measure here before working")
    elif name == "clear":
        reasons.append(f"probability above the level at most {min(highest_p, clear_at):.2f}")
    else:
        if polygonal(geometry.intersection(doubtful)).area > 1e-6 * geometry.area:
            reasons.append(f"straddles the level: probability up to {highest_p:.2f}")
        reasons += [
            guard.reason
            for guard in guards
            if polygonal(geometry.intersection(guard.geometry)).area > 1e-6 * geometry.area
        ]
    return tuple(dict.fromkeys(reasons))
