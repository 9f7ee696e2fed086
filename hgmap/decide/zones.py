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
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import RoomWindow, RoomWindows, area_above, lines_at, polygonal
from hgmap.decide.described import described
from hgmap.decide.doorways import doorway_guards
from hgmap.decide.evidence import describe
from hgmap.decide.exceedance import (
    exceedance_probability,
    excess_at,
    standardised_excess,
    working_level,
)
from hgmap.decide.guards import Guard, far_distance, room_guards
from hgmap.decide.model import Evidence, FloorEvidence, Zone, ZoneName, Zones, highest_of
from hgmap.decide.ruling import FloorRuling, RoomCells, RoomRuling, one_zone
from hgmap.decide.whose import items_by_room
from hgmap.field.points import Check, never
from hgmap.field.surface import Surface
from hgmap.site.building import Room

Floats = NDArray[np.float64]

FARTHEST_FROM_A_CELL = 2.0
"""Ground farther than this (cells) from every cell of its room was not estimated: a passage that
holds no cell's centre. Our rule, no source."""


def make_zones(evidence: FloorEvidence, surface: Surface | None, **rules: Any) -> Zones:
    """Rule on every square metre of a floor, one zone a name and room, as the contours run.

    Parameters are those of :func:`rule_floor`; what a crew can tape off is made of its ruling by
    :func:`hgmap.decide.shaped.shaped_zones`.
    """
    return described(rule_floor(evidence, surface, **rules))


def rule_floor(
    evidence: FloorEvidence,
    surface: Surface | None,
    *,
    remediate_at: float = 0.5,
    clear_at: float = 0.05,
    guard_m: float = 1.5,
    no_surface: str = "",
    nothing_clear: str = "",
    also: Sequence[tuple[str, Surface]] = (),
    windows: RoomWindows | None = None,
    check: Check = never,
) -> FloorRuling:
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
    windows : RoomWindows, optional
        Of this floor, kept from ruling to ruling.
    check : callable, optional
        Called room by room; raising inside it cancels.
    """
    windows = windows or RoomWindows()
    nothing_clear = nothing_clear or stray_reason(evidence)
    far_m = far_distance(evidence)
    joined = {room for opening in evidence.floor.openings for room in opening.rooms}
    rules = _Rules(evidence, remediate_at, clear_at, guard_m, far_m, nothing_clear)
    looks = _looks(evidence, surface, rules, windows, check)
    others = [(why, one, _looks(evidence, one, rules, windows, check)) for why, one in also]
    to_remediate = _to_remediate(looks, *(found for _, _, found in others))
    at_doors = doorway_guards(evidence.floor, to_remediate, guard_m=guard_m)
    ruled: list[RoomRuling] = []
    contours: list[LineString] = []
    for index, (room, items) in enumerate(
        zip(evidence.floor.rooms, items_by_room(evidence), strict=True)
    ):
        check()
        if surface is None:
            ruled.append(one_zone(room, items, _without_surface(room, items, no_surface)))
        elif not items and room.id not in joined:
            reason = "no opening and no reading: nothing says what is in here"
            zone = Zone("no data", room.id, room.name, room.polygon, None, None, None, (reason,))
            ruled.append(one_zone(room, items, zone))
        else:
            made, lines = _room_ruling(
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
            ruled.append(made)
            contours += lines
    return FloorRuling(evidence, tuple(ruled), tuple(contours), remediate_at, clear_at)


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


def _looks(
    evidence: FloorEvidence,
    surface: Surface | None,
    rules: _Rules,
    windows: RoomWindows,
    check: Check,
) -> dict[int, _Look]:
    """Return the rooms that have cells, by their position."""
    if surface is None:
        return {}
    level = working_level(surface, evidence.level.concentration)
    freedom = surface.degrees_of_freedom
    at_least = excess_at(rules.remediate_at, freedom)
    in_doubt = (excess_at(rules.clear_at, freedom) + at_least) / 2.0
    found = {}
    for index, room in enumerate(evidence.floor.rooms):
        check()
        window = windows.of(surface.raster, index, room.polygon)
        if window is None:
            continue
        mean, sd = window.take(surface.mean), window.take(surface.sd)
        known = np.isfinite(mean) & np.isfinite(sd)
        # a part of the room that no reading reaches is in doubt
        excess = np.where(known, standardised_excess(mean, sd, level), in_doubt)
        remediate = area_above(window, excess, at_least, room.polygon)
        found[index] = _Look(window, mean, sd, excess, remediate)
    return found


def _room_ruling(
    room: Room,
    items: Sequence[Evidence],
    look: _Look | None,
    surface: Surface,
    rules: _Rules,
    further: Sequence[Guard],
) -> tuple[RoomRuling, list[LineString]]:
    level_in_force, clear_at = rules.evidence.level.concentration, rules.clear_at
    if look is None:
        reason = f"the room is too narrow for cells of {surface.raster.cell_m:g} m"
        bare = _without_surface(room, items, reason, why="")
        bare = replace(bare, name="resample" if bare.name == "no data" else bare.name)
        return one_zone(room, items, bare), []
    if look.unknown:
        reason = "no air way from any reading reaches this room"
        name: ZoneName = "resample" if items else "no data"
        zone = Zone(name, room.id, room.name, room.polygon, None, None, None, (reason,))
        return one_zone(room, items, zone), []
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
    estimate = np.exp(mean) if surface.scale == "log" else mean
    cells = RoomCells(
        window.x, window.y, window.own, estimate,
        exceedance_probability(mean, sd, level, degrees_of_freedom=freedom),
    )  # fmt: skip
    ruling = RoomRuling(room, tuple(items), parts, cells, doubtful, tuple(guards))
    return ruling, lines_at(window, mean, level, room.polygon)


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
