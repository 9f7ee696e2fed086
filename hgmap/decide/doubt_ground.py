"""The ground of a floor as the plan of further readings sees it: cells, and what guards them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.decide.contours import room_cells
from hgmap.decide.doorways import AT_THE_DOOR_M
from hgmap.decide.exceedance import excess_at, working_level
from hgmap.decide.guards import (
    disagreeing,
    is_answered,
    may_be_anything,
    says_too_little,
    why_guarded,
)
from hgmap.decide.model import Evidence, FloorEvidence, Zones
from hgmap.decide.whose import known_place, place_of
from hgmap.field.branch import one_reading_sd
from hgmap.field.surface import Surface
from hgmap.site.building import Floor, Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CELLS: Final = 1000
LEAST_CELLS: Final = 12
"""Cells of a floor that are looked at, and of each room at least: the plan needs no more."""

MOST_CELLS: Final = 4000


@dataclass(frozen=True)
class DoorSide:
    """A cell before ground that may be to remediate, and the cells that the door then keeps."""

    beyond: int
    before: Ints


@dataclass(frozen=True)
class DoubtGround:
    """Cells of a floor, each for an area of its room, and the guards as arrays over them.

    Attributes
    ----------
    xy, room, area_m2 : arrays of shape (m, 2), (m,) and (m,)
        Place (m), position of the room in the floor, and the area a cell stands for.
    known : array of shape (m,)
        False where no reading reaches: nothing is estimated there.
    excess, variance, least : arrays of shape (m,)
        Estimate minus level, its variance, and the one that no reading goes below (working scale).
    remediate_at, clear_at, freedom : float, float, int
        Probabilities of the zones, and the degrees of freedom that they are reckoned with.
    used_m, low_m : arrays of shape (m,)
        To the nearest reading of the room that counts, and to the nearest that counts and guards
        nothing (m); inf: there is none.
    read : array of shape (m,)
        Whether the room has a reading that counts.
    standing_m : array of shape (m,)
        To the nearest reading that guards its ground whatever is read later (m); 0 where a guard
        keeps the whole room.
    answered_m : array of shape (m, g)
        To each coarse non-detect, which guards its ground until its place is read again (m).
    answer_xy, answer_room : arrays of shape (g, 2) and (g,)
        Those places.
    doors : tuple of DoorSide
    guard_m, far_m : float
        As the zones were made with.
    """

    xy: Floats
    room: Ints
    area_m2: Floats
    known: Bools
    excess: Floats
    variance: Floats
    least: Floats
    remediate_at: float
    clear_at: float
    freedom: int
    used_m: Floats
    low_m: Floats
    read: Bools
    standing_m: Floats
    answered_m: Floats
    answer_xy: Floats
    answer_room: Ints
    doors: tuple[DoorSide, ...]
    guard_m: float
    far_m: float

    def quantiles(self, further: int = 0) -> tuple[float, float]:
        """Return the standardised excess below zero of remediate and clear, after more readings."""
        freedom = self.freedom + further
        return -excess_at(self.remediate_at, freedom), -excess_at(self.clear_at, freedom)

    def guarded(self, guard: Floats, low: Floats) -> Bools:
        """Tell which cells readings keep that lie at distances ``guard`` (m), low ones at ``low``.

        A low reading at the very place of one that guards takes no ground from it.
        """
        return np.asarray(_guarded(guard, low, self.guard_m))


def lay_doubt_ground(
    evidence: FloorEvidence,
    surface: Surface,
    zones: Zones,
    items: Sequence[Sequence[Evidence]],
    *,
    guard_m: float,
    far_m: float,
    as_ruled: bool = True,
) -> DoubtGround | None:
    """Lay the cells of a floor out; None where no room has one.

    Parameters
    ----------
    evidence, surface, zones
        Of one floor.
    items : sequence of sequences of Evidence
        Those of each room (:func:`hgmap.decide.whose.items_by_room`).
    guard_m, far_m : float
        As the zones were made with.
    as_ruled : bool
        Whether ground that is ``resample`` by no rule known here is in doubt; False where no ground
        of the floor may be clear.
    """
    rows, columns, room, area = _cells(surface, evidence.floor)
    if not len(rows):
        return None
    xy = np.column_stack([surface.raster.x[columns], surface.raster.y[rows]])
    mean, sd = surface.mean[rows, columns], surface.sd[rows, columns]
    known = np.isfinite(mean) & np.isfinite(sd)
    excess = np.where(known, mean - working_level(surface, evidence.level.concentration), 0.0)
    log = surface.scale == "log"
    least = np.where(known, one_reading_sd(np.where(known, mean, 0.0), log=log) ** 2, 0.0)
    guards = _Guards.of(evidence, items)
    apart = guards.distances(xy, room)
    used_m, low_m, standing_m, answered_m = apart
    doors = _doors(evidence.floor, xy, room, guard_m)
    plain = _unguarded(apart, guard_m, far_m)
    for side in doors:
        plain[side.before] = False
    clear_z = -excess_at(zones.clear_at, surface.degrees_of_freedom)
    remediate_z = -excess_at(zones.remediate_at, surface.degrees_of_freedom)
    if as_ruled:
        excess = _in_doubt_otherwise(
            excess, np.where(known, sd, 0.0), clear_z, remediate_z, xy, room, zones, plain=plain
        )
    read = np.array([any(one.role == "used" for one in here) for here in items])
    return DoubtGround(
        xy, room, area, known, excess, np.where(known, sd, 0.0) ** 2, least,
        zones.remediate_at, zones.clear_at, surface.degrees_of_freedom,
        used_m, low_m, read[room], standing_m, answered_m,
        guards.answer_xy, guards.answer_room, doors,
        guard_m, far_m,
    )  # fmt: skip


def _cells(surface: Surface, floor: Floor) -> tuple[Ints, Ints, Ints, Floats]:
    """Return rows, columns and rooms of the cells looked at, and the area each stands for (m²)."""
    total = max(1, int(surface.raster.inside.sum()))
    least = max(1, min(LEAST_CELLS, MOST_CELLS // max(1, len(floor.rooms))))
    found: list[tuple[Ints, Ints, Ints, Floats]] = []
    for index, one in enumerate(floor.rooms):
        row, column = room_cells(surface.raster, index, one.polygon)
        wanted = max(least, round(CELLS * len(row) / total))
        step = max(1, -(-len(row) // wanted))
        row, column = row[::step], column[::step]
        if len(row):
            area = np.full(len(row), one.area_m2 / len(row))
            found.append((row, column, np.full(len(row), index), area))
    if not found:
        empty = np.empty(0, dtype=np.int64)
        return empty, empty, empty, np.empty(0)
    row, column, room, area = (np.concatenate(part) for part in zip(*found, strict=True))
    return row, column, room, area


@dataclass(frozen=True)
class _Guards:
    """The readings of a floor by what they do to the ground about them."""

    used: tuple[Floats, Ints]
    low: tuple[Floats, Ints]
    standing: tuple[Floats, Ints]
    whole: Ints
    answer_xy: Floats
    answer_room: Ints

    @classmethod
    def of(cls, evidence: FloorEvidence, items: Sequence[Sequence[Evidence]]) -> _Guards:
        level = evidence.level.concentration
        used: list[tuple[float, float, int]] = []
        low, standing = used.copy(), used.copy()
        answers = used.copy()
        whole: set[int] = set()
        for k, (room, here) in enumerate(zip(evidence.floor.rooms, items, strict=True)):
            for item in here:
                place, guards = place_of(item, room), why_guarded(item, level) is not None
                if place is not None and item.role == "used":
                    used.append((place.x, place.y, k))
                    if not guards:
                        low.append((place.x, place.y, k))
                if not guards or is_answered(item, here, room, level):
                    continue
                known = known_place(item, room)
                # a reading to come lifts neither what is held nor a contradiction: a person does
                if known is None or may_be_anything(item):
                    whole.add(k)
                elif says_too_little(item):
                    answers.append((known.x, known.y, k))
                else:
                    standing.append((known.x, known.y, k))
            counted = [item for item in here if item.role == "used"]
            if disagreeing(counted, room):
                whole.add(k)
        return cls(
            _split(used), _split(low), _split(standing), np.array(sorted(whole), dtype=np.int64),
            *_split(answers),
        )  # fmt: skip

    def distances(self, xy: Floats, room: Ints) -> tuple[Floats, Floats, Floats, Floats]:
        """Return how far cells are from the nearest used, low and standing one, and each answer."""
        standing = _nearest(xy, room, *self.standing)
        standing[np.isin(room, self.whole)] = 0.0
        answered = np.where(
            room[:, None] == self.answer_room[None, :],
            cdist(xy, self.answer_xy),
            np.inf,
        )
        return (
            _nearest(xy, room, *self.used), _nearest(xy, room, *self.low), standing, answered
        )  # fmt: skip


def _split(places: Sequence[tuple[float, float, int]]) -> tuple[Floats, Ints]:
    table = np.array(places, dtype=np.float64).reshape(-1, 3)
    return table[:, :2], table[:, 2].astype(np.int64)


def _nearest(xy: Floats, room: Ints, places: Floats, rooms: Ints) -> Floats:
    """Return how far each cell is from the nearest place in its own room (m); inf: none."""
    found = np.full(len(xy), np.inf)
    for k in np.unique(rooms):
        here = room == k
        if here.any():
            found[here] = cdist(xy[here], places[rooms == k]).min(axis=1)
    return found


def _unguarded(apart: tuple[Floats, Floats, Floats, Floats], guard_m: float, far_m: float) -> Bools:
    """Tell which cells no reading's guard covers as things stand."""
    used_m, low_m, standing_m, answered_m = apart
    guard = np.minimum(standing_m, answered_m.min(axis=1, initial=np.inf))
    return np.asarray((used_m <= far_m) & ~_guarded(guard, low_m, guard_m))


def _guarded(guard: Floats, low: Floats, guard_m: float) -> Bools:
    return np.asarray((guard <= guard_m) | (np.isfinite(guard) & (guard <= low)))


def _in_doubt_otherwise(
    excess: Floats,
    sd: Floats,
    clear_z: float,
    remediate_z: float,
    xy: Floats,
    room: Ints,
    zones: Zones,
    *,
    plain: Bools,
) -> Floats:
    """Move the excess of cells that only another count of the readings keeps in doubt.

    What that estimate says is not at hand here: they are taken for half way into doubt. Our rule,
    no source.
    """
    excess = excess.copy()
    by_room = zones.by_room()
    for k, one in enumerate(zones.floor.rooms):
        ground = [z.geometry for z in by_room.get(one.id, []) if z.name == "resample"]
        here = np.flatnonzero((room == k) & plain & (excess < -clear_z * sd))
        if ground and len(here):
            kept = here[shapely.intersects_xy(shapely.union_all(ground), *xy[here].T)]
            excess[kept] = -0.5 * (clear_z + remediate_z) * sd[kept]
    return excess


def _doors(floor: Floor, xy: Floats, room: Ints, guard_m: float) -> tuple[DoorSide, ...]:
    """Return both sides of every opening that would guard (see ``doorways.doorway_guards``)."""
    position = {one.id: k for k, one in enumerate(floor.rooms)}
    sides = []
    points = shapely.points(xy)
    for opening in floor.openings:
        if opening.state == "sealed" or len(opening.rooms) != 2:
            continue
        first, second = (position.get(one) for one in opening.rooms)
        if first is None or second is None:
            continue
        for here, there in ((first, second), (second, first)):
            own, behind = np.flatnonzero(room == here), np.flatnonzero(room == there)
            if not len(own) or not len(behind):
                continue
            away = shapely.distance(points[behind], opening.line)
            nearest = int(away.argmin())
            before = own[shapely.distance(points[own], opening.line) <= guard_m]
            if away[nearest] <= AT_THE_DOOR_M + _step(floor.rooms[there], len(behind)) and len(
                before
            ):
                sides.append(DoorSide(int(behind[nearest]), before))
    return tuple(sides)


def _step(room: Room, cells: int) -> float:
    return math.sqrt(room.area_m2 / cells)
