"""What was read at a source: readings in search of one, items in bags, saturated readings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from shapely import Point

from hgmap.decide.evidence import bags_above, describe
from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.decide.origin_model import Basis
from hgmap.decide.origin_peaks import ONE_PEAK_M
from hgmap.decide.whose import known_place
from hgmap.site.building import HeightBand
from hgmap.site.reading import Reading

AirAt = Callable[[int, float, float], float | None]
"""From room, x and y (m) to the estimate there (computing unit); None where there is none."""

LESS: Final = 0.75
"""A search reading below this share of the air of the map over it points at nothing there: more
than the errors of both can make (ours, no source)."""

_RANK: Final = {">": 2, "<": 0}


@dataclass(slots=True)
class Draft:
    """A place while it is made: what will be a :class:`LikelySource`.

    ``strength`` orders those of one basis; ``prominence`` is that of a peak of the estimate.
    """

    room: int
    x: float | None
    y: float | None
    basis: Basis
    strength: tuple[float, ...] = (0.0,)
    prominence: float = 0.0
    height_m: float | None = None
    readings: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)

    def near(self, other: Draft) -> bool:
        """Tell whether two are one place to look at: in one room, and not 2 m apart."""
        if self.room != other.room:
            return False
        if self.x is None or self.y is None or other.x is None or other.y is None:
            return False
        return bool(np.hypot(self.x - other.x, self.y - other.y) < ONE_PEAK_M)


def search_places(
    evidence: FloorEvidence, bands: Sequence[HeightBand], air_at: AirAt
) -> list[Draft]:
    """Return where a reading in search of a source is above the level, the highest first.

    Those of the kind, and those at a height that no person breathes at, where the map is of one
    that people do. One that reads less than the air of the map over the same place (:data:`LESS`)
    points at nothing there, and is left out; a saturated one is not. Each keeps the others that
    are within 2 m.
    """
    low = {one.name for one in bands if not one.breathing} - {evidence.band}
    found: list[Draft] = []
    for item in sorted(evidence.items, key=lambda one: _strength(one.reading), reverse=True):
        one = item.reading
        searched = one.kind == "source search" or (bool(one.band) and one.band in low)
        if not searched or not item.above or item.role in ("held", "off the map"):
            continue
        room = _room_of(item, evidence)
        if room is None:
            continue
        at = known_place(item, evidence.floor.rooms[room])
        if at is not None and one.qualifier != ">":
            air = air_at(room, at.x, at.y)
            if air is not None and (one.concentration or 0.0) < LESS * air:
                continue
        place = Draft(
            room,
            None if at is None else at.x,
            None if at is None else at.y,
            "search",
            _strength(one),
            readings=[one.id],
            height_m=one.height_m,
        )
        kept = next((other for other in found if place.near(other)), None)
        if kept is not None:
            kept.readings.append(one.id)
            continue
        place.reasons.append(
            f"read in search of a source: {one.id} {_reads(one, evidence)}"
            + (f", at {one.height_m:g} m" if one.height_m is not None else "")
        )
        found.append(place)
    return found


def item_places(evidence: FloorEvidence) -> list[Draft]:
    """Return the items whose bag is above the level, the highest first: each gives off vapour."""
    found = []
    for item in sorted(bags_above(evidence.items), key=lambda one: _strength(one.reading),
                       reverse=True):  # fmt: skip
        one = item.reading
        room = _room_of(item, evidence)
        if room is None or one.held:
            continue
        at = known_place(item, evidence.floor.rooms[room])
        found.append(
            Draft(
                room,
                None if at is None else at.x,
                None if at is None else at.y,
                "item",
                _strength(one),
                readings=[one.id],
                reasons=[
                    f"an item gives off vapour: bag headspace {one.id} {_reads(one, evidence)}"
                    + (f" ({one.note})" if one.note else ""),
                    "where it lay may give off vapour too",
                ],
            )
        )
    return found


def saturated_places(evidence: FloorEvidence) -> list[Draft]:
    """Return the places of saturated readings of the map: peaks whose height nobody knows."""
    found: list[Draft] = []
    rooms = {room.id: k for k, room in enumerate(evidence.floor.rooms)}
    for item in evidence.used:
        one = item.reading
        if one.qualifier != ">" or one.room not in rooms:
            continue
        at = known_place(item, evidence.floor.rooms[rooms[one.room]])
        if at is None:
            continue
        place = Draft(rooms[one.room], at.x, at.y, "estimate", readings=[one.id])
        kept = next((other for other in found if place.near(other)), None)
        if kept is not None:
            kept.readings.append(one.id)
        else:
            found.append(place)
    for place in found:
        place.reasons.append(
            f"saturated: {', '.join(place.readings[:3])}; how high it is there nobody knows"
        )
    return found


def _reads(one: Reading, evidence: FloorEvidence) -> str:
    """Say what a reading reads, and that it is above the level where its number is."""
    how = "is saturated at" if one.qualifier == ">" else "reads"
    over = (one.concentration or 0.0) > evidence.level.concentration
    return f"{how} {describe(one).removeprefix('>')}" + (", above the level" if over else "")


def _strength(one: Reading) -> tuple[float, float]:
    return one.concentration or 0.0, float(_RANK.get(one.qualifier, 1))


def _room_of(item: Evidence, evidence: FloorEvidence) -> int | None:
    """Return the position of a reading's room, by its id, its name or its place."""
    called = item.reading.room.casefold()
    rooms = evidence.floor.rooms
    for names in ([room.id for room in rooms], [room.name for room in rooms]):
        for k, name in enumerate(names):
            if called and name.casefold() == called:
                return k
    x, y = item.reading.x, item.reading.y
    if not called and x is not None and y is not None:
        return next((k for k, room in enumerate(rooms) if room.polygon.covers(Point(x, y))), None)
    return None
