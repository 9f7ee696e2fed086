"""Zones put into words: what each piece of ground holds at most, and why it is what it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.evidence import bags_above, describe
from hgmap.decide.model import FloorEvidence, Zone, ZoneName, Zones, highest_of
from hgmap.decide.ruling import FloorRuling, RoomRuling, tangible
from hgmap.decide.whose import bags_of, place_of
from hgmap.site.reading import Reading


def described(ruling: FloorRuling) -> Zones:
    """Return the zones of a ruling as they were ruled, one a name and room."""
    zones: list[Zone] = []
    for one in ruling.rooms:
        if one.whole is not None:
            zones.append(one.whole)
            continue
        zones += [
            piece_of(one, name, geometry, ruling.clear_at)
            for name, geometry in one.parts.items()
            if tangible([geometry], one.room)
        ]
    return gathered(ruling, zones)


def gathered(ruling: FloorRuling, zones: Iterable[Zone]) -> Zones:
    """Put the zones of a floor together, each with what its room's bags say."""
    evidence = ruling.evidence
    return Zones(
        evidence.floor, evidence.level, tuple(with_bags(list(zones), evidence)), ruling.contours,
        ruling.remediate_at, ruling.clear_at,
    )  # fmt: skip


def piece_of(ruling: RoomRuling, name: ZoneName, geometry: BaseGeometry, clear_at: float) -> Zone:
    """Describe a piece of a room's ground that is called ``name``."""
    room = ruling.room
    if ruling.cells is None:
        whole = ruling.whole
        if whole is not None and whole.name == name:
            return replace(whole, geometry=geometry)
        return Zone(name, room.id, room.name, geometry, None, highest_in(geometry, ruling), None,
                    ())  # fmt: skip
    estimate, probability = ruling.cells.highest(geometry)
    return Zone(
        name, room.id, room.name, geometry, estimate, highest_in(geometry, ruling), probability,
        _reasons(name, geometry, ruling, probability, clear_at),
    )  # fmt: skip


def highest_in(geometry: BaseGeometry, ruling: RoomRuling) -> Reading | None:
    """Return the highest reading that was used on a piece of ground."""
    return highest_of(
        item
        for item in ruling.items
        if (point := place_of(item, ruling.room)) is not None and geometry.distance(point) <= 0.01
    )


def with_bags(zones: Sequence[Zone], evidence: FloorEvidence) -> list[Zone]:
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


def _reasons(
    name: ZoneName,
    geometry: BaseGeometry,
    ruling: RoomRuling,
    highest_p: float | None,
    clear_at: float,
) -> tuple[str, ...]:
    reasons: list[str] = []
    if highest_p is None:
        reasons.append("no air way from any reading reaches this part")
        highest_p = 0.0
    if name == "remediate":
        reasons.append(f"probability above the level up to {highest_p:.2f}")
        if not any(item.role == "used" for item in ruling.items):
            reasons.append("estimated from other rooms only: measure here before working")
    elif name == "clear":
        reasons.append(f"probability above the level {_at_most(min(highest_p, clear_at))}")
    else:
        if _touches(geometry, ruling.doubtful):
            reasons.append(f"straddles the level: probability up to {highest_p:.2f}")
        reasons += [one.reason for one in ruling.guards if _touches(geometry, one.geometry)]
    return tuple(dict.fromkeys(reasons))


def _at_most(probability: float) -> str:
    """Say a bound of a probability: rounded up, and never as though it were nothing.

    Examples
    --------
    >>> _at_most(0.041), _at_most(0.05), _at_most(3e-9)
    ('at most 0.05', 'at most 0.05', 'less than 0.01')
    """
    if probability < 0.01:
        return "less than 0.01"
    return f"at most {math.ceil(100.0 * probability - 1e-9) / 100.0:.2f}"


def _touches(geometry: BaseGeometry, ground: BaseGeometry) -> bool:
    return bool(polygonal(geometry.intersection(ground)).area > 1e-6 * geometry.area)
