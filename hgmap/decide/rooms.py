"""One row a room: its average with its error, and the chance that some place is above the level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hgmap.decide.model import FloorEvidence, Zones, bounds_of, highest_of
from hgmap.decide.whose import items_by_room
from hgmap.field.rooms import RoomFigures
from hgmap.site.building import Room
from hgmap.site.reading import Reading


@dataclass(frozen=True, slots=True)
class RoomRow:
    """What is known of a whole room; concentrations in the computing unit, None where unknown.

    Attributes
    ----------
    room : Room
    readings : int
        Used readings taken in it.
    highest : Reading or None
        The highest of them, with its qualifier.
    average, standard_error : float or None
        Mean concentration over the room at the height of the map.
    low, high : float or None
        95 % interval of that mean.
    probability_anywhere : float or None
        That the air is above the level at some place of the room, from conditional simulation.
    """

    room: Room
    readings: int
    highest: Reading | None
    average: float | None = None
    standard_error: float | None = None
    low: float | None = None
    high: float | None = None
    probability_anywhere: float | None = None

    @property
    def highest_reading(self) -> float | None:
        """Its number (computing unit); for a non-detect that is its detection limit."""
        return None if self.highest is None else self.highest.concentration


def room_rows(
    evidence: FloorEvidence, zones: Zones, figures: RoomFigures | None
) -> tuple[RoomRow, ...]:
    """Return a row for every room of a floor.

    A room that is ``no data`` has no figures, whatever straight lines would give it. A reading
    above the level is a place above it: the probability is then 1. Nor is it less than that of the
    likeliest place, which allows for variation too fine to map where the simulation does not.
    """
    level = evidence.level.concentration
    above = None if figures is None else figures.probability_anywhere_above(level)
    rows = []
    items, zones_of = items_by_room(evidence), zones.by_room()
    for index, room in enumerate(evidence.floor.rooms):
        used = [item for item in items[index] if item.role == "used"]
        highest = highest_of(used)
        bare = RoomRow(room, len(used), highest)
        names = {zone.name for zone in zones_of.get(room.id, [])}
        if figures is None or above is None or names <= {"no data"}:
            rows.append(bare)
            continue
        if not np.isfinite(figures.average[index]):
            rows.append(bare)
            continue
        seen = any(item.above and bounds_of(item.reading)[0] > level for item in used)
        at_one_place = max(
            (zone.probability or 0.0 for zone in zones.zones if zone.room == room.id), default=0.0
        )
        rows.append(
            RoomRow(
                room,
                len(used),
                highest,
                float(figures.average[index]),
                float(figures.average_se[index]),
                float(figures.low[index]),
                float(figures.high[index]),
                1.0 if seen else max(float(above[index]), at_one_place),
            )
        )
    return tuple(rows)
