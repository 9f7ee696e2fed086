"""Hot spots on the real plan: the chance to find one, and how large a one could have hidden.

A hot spot of radius r is all ground within a walk of r from its middle, which lies anywhere in the
rooms with equal chance; walls cut it (:mod:`hgmap.decide.design.gaps` says what a walk passes). A
place finds it when it lies in it, so the chance is the share of the ground within a walk of r of a
place: exact but for the step of the cells.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.design.gaps import Ground, nearest_sample, share_found
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.points_on import grid_points
from hgmap.errors import EstimateError
from hgmap.field.raster import as_rooms

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WITH_PROBABILITY: Final = 0.95


@dataclass(frozen=True, slots=True)
class RoomChance:
    """The chance that a hot spot with its middle in this room is found.

    Attributes
    ----------
    room, room_name : str
        Id and name.
    area_m2 : float
    places : float
        Places in the room; over several layouts of a grid, their mean.
    probability : float
        0 to 1.
    lowest : float
        That of the worst layout of the grid; of places that are given, the same.
    """

    room: str
    room_name: str
    area_m2: float
    places: float
    probability: float
    lowest: float


@dataclass(frozen=True, slots=True)
class RoomGap:
    """How good a survey was in one room.

    Attributes
    ----------
    room, room_name : str
        Id and name.
    area_m2 : float
    readings : int
        Readings in the room.
    radius_m : float
        A hot spot of this radius with its middle in the room would have been found with the asked
        probability; infinite where nobody read.
    farthest_m : float
        Longest walk from any cell of the room to its nearest reading: every hot spot of this
        radius would have been found.
    says : str
        In words.
    """

    room: str
    room_name: str
    area_m2: float
    readings: int
    radius_m: float
    farthest_m: float
    says: str


@dataclass(frozen=True)
class SurveyGaps:
    """How good a survey was: a map and one row a room.

    Attributes
    ----------
    radius_m : array of shape (ny, nx)
        Radius of the smallest hot spot with its middle in this cell that the readings would have
        found (m): the walk to the nearest. NaN outside; inf in rooms without a reading.
    rows : tuple of RoomGap
        In the order of the floor's rooms.
    probability : float
        The one that ``rows`` hold for.
    cell_m : float
        Step of the cells (m); a radius may be half a diagonal of it too small.
    """

    radius_m: Floats
    rows: tuple[RoomGap, ...]
    probability: float
    cell_m: float


def chance_of_places(
    ground: Ground,
    xy: Floats,
    radius_m: float,
    *,
    room: Ints | None = None,
    aspect: float = 1.0,
) -> tuple[RoomChance, ...]:
    """Return each room's chance that these places find a hot spot of this size.

    An ellipse lies in any direction with equal chance; its chance is the mean over 36 of them.

    Parameters
    ----------
    ground : Ground
    xy : array of shape (n, 2), m
    radius_m : float
    room : array of shape (n,), optional
        Positions in ``floor.rooms``; default: from the plan.
    aspect : float
        Semi-minor over semi-major axis, ``radius_m`` being the latter; 1: a circle.

    Raises
    ------
    EstimateError
        If the radius is not above 0, or a place is not on the floor.
    """
    _check_radius(radius_m)
    rooms = as_rooms(ground.floor, xy, room, name="room")
    count = np.bincount(rooms, minlength=len(ground.floor.rooms))
    if aspect != 1:
        share = np.zeros(len(ground.floor.rooms))
        for index, cells in enumerate(ground.cells_by_room()):
            if count[index]:
                share[index] = share_found(
                    ground, index, xy[rooms == index], cells, radius_m, aspect
                )
        return _rows(ground, count.astype(np.float64), share, share)
    share = _shares(ground, nearest_sample(ground, xy, rooms), radius_m)
    return _rows(ground, count.astype(np.float64), share, share)


def chance_of_grid(
    ground: Ground,
    grid: GridShape,
    *,
    spacing_m: float,
    radius_m: float,
    layouts: int = 20,
    seed: int = 0,
    angle_deg: float = 0.0,
) -> tuple[RoomChance, ...]:
    """Return each room's chance that a grid laid over the floor at random finds a hot spot.

    The bare grid is simulated: points that fall in walls are lost, no room is given one. The mean
    over ``layouts`` seeded offsets is the probability; the worst of them is ``lowest``.

    Parameters
    ----------
    ground : Ground
    grid : {"square", "triangular", "rectangle"}
    spacing_m, radius_m : float
    layouts, seed : int
    angle_deg : float
        Direction of the grid's first step, counter-clockwise from plan-right.

    Raises
    ------
    EstimateError
        If a length is not above 0, there is no layout, or the grid makes too many points.
    """
    _check_radius(radius_m)
    if layouts < 1:
        raise EstimateError(f"{layouts} layouts cannot be simulated", todo="give 1 or more")
    random = np.random.default_rng(seed)
    shares, counts = [], []
    for _ in range(layouts):
        offset = random.random(2)
        xy, rooms = grid_points(
            ground.floor, grid, spacing_m=spacing_m, offset=offset, angle_deg=angle_deg
        )
        shares.append(_shares(ground, nearest_sample(ground, xy, rooms), radius_m))
        counts.append(np.bincount(rooms, minlength=len(ground.floor.rooms)))
    every = np.array(shares)
    return _rows(ground, np.mean(counts, axis=0), every.mean(axis=0), every.min(axis=0))


def survey_gaps(
    ground: Ground,
    xy: Floats,
    *,
    room: Ints | None = None,
    probability: float = WITH_PROBABILITY,
) -> SurveyGaps:
    """Return how large a hot spot these readings would have found, by cell and by room.

    A room's radius is the ``probability`` quantile over its cells of the walk to the nearest
    reading: a hot spot so large, with its middle anywhere in the room, holds a reading with that
    probability. In a room without a reading of its own it is infinite, whatever was read beyond
    its door.

    Parameters
    ----------
    ground : Ground
    xy : array of shape (n, 2), m
        Places of the readings that count, of one round and height. One that is held, or that
        cannot see the level, finds nothing: leave it out.
    room : array of shape (n,), optional
        Positions in ``floor.rooms``; default: from the plan.
    probability : float
        Above 0 and at most 1.

    Raises
    ------
    EstimateError
        If the probability is out of range, or a place is not on the floor.
    """
    if not 0 < probability <= 1:
        raise EstimateError(
            f"a probability of {probability:g} cannot be asked for",
            todo="give one above 0, at most 1",
        )
    floor = ground.floor
    rooms = as_rooms(floor, xy, room, name="room")
    gap = nearest_sample(ground, xy, rooms)
    count = np.bincount(rooms, minlength=len(floor.rooms))
    gap[count[ground.room] == 0] = np.inf
    rows = []
    for index, cells in enumerate(ground.cells_by_room()):
        own = gap[cells]
        # not between two cells: the share must be reached, not nearly
        radius = float(np.quantile(own, probability, method="inverted_cdf"))
        one, farthest = floor.rooms[index], float(own.max())
        says = _in_words(int(count[index]), radius, probability)
        rows.append(
            RoomGap(one.id, one.name, one.area_m2, int(count[index]), radius, farthest, says)
        )
    return SurveyGaps(
        ground.raster.spread(gap[: ground.on_raster]),
        tuple(rows),
        probability,
        ground.raster.cell_m,
    )


def _in_words(count: int, radius: float, probability: float) -> str:
    if not count:
        return "no reading in this room: a hot spot of any size would have been missed"
    if math.isinf(radius):
        return f"{count} readings, but part of the room is walled off from every one of them"
    readings = "1 reading" if count == 1 else f"{count} readings"
    # up, never down: the words must not promise more than the number
    metres = math.ceil(radius * 10) / 10
    return (
        f"{readings} would have found a hot spot of {metres:.1f} m radius with "
        f"{probability * 100:.3g} % probability; a smaller one may have been missed"
    )


def _shares(ground: Ground, gap: Floats, radius_m: float) -> Floats:
    found = (gap <= radius_m).astype(np.float64)
    size = len(ground.floor.rooms)
    return np.asarray(
        np.bincount(ground.room, found, minlength=size) / np.bincount(ground.room, minlength=size)
    )


def _rows(
    ground: Ground, count: Sequence[float] | Floats, share: Floats, lowest: Floats
) -> tuple[RoomChance, ...]:
    return tuple(
        RoomChance(one.id, one.name, one.area_m2, float(n), float(p), float(low))
        for one, n, p, low in zip(ground.floor.rooms, count, share, lowest, strict=True)
    )


def _check_radius(radius_m: float) -> None:
    if not (math.isfinite(radius_m) and radius_m > 0):
        raise EstimateError(f"a radius of {radius_m:g} m cannot be used", todo="give one above 0")


def floor_chance(rows: Sequence[RoomChance]) -> float:
    """Return the chance for a hot spot anywhere on the floor: the rooms by their area."""
    return float(np.average([r.probability for r in rows], weights=[r.area_m2 for r in rows]))
