"""Places that could be read again: those with a reason of their own, and the ground in doubt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from scipy.special import ndtr

from hgmap.decide.candidates import (
    FROM_WALL_M,
    SMALLEST_PART_M2,
    Candidate,
    RoomCase,
    unread_words,
)
from hgmap.decide.contours import room_cells
from hgmap.decide.doubt_ground import DoubtGround
from hgmap.decide.exceedance import working_level
from hgmap.decide.how_to_read import repeats_of
from hgmap.decide.outlook import Offers
from hgmap.field.branch import READING_SD, one_reading_sd
from hgmap.field.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_OFFERS: Final = 180
MOST_REASONED: Final = 150
"""Places of the ground in doubt, and with a reason of their own, that are compared: the one are
laid out more widely where there are more, of the other those in the most ground in doubt."""

STEP_M: Final = 1.0
WIDEST_M: Final = 1e3

APART_M: Final = 1.0
"""No place is offered nearer than this (m) to one that belongs on the list anyway."""

TRUSTED: Final = 3.0
"""Factor by which the spread of one candidate may be put right at most."""


def offers_of(
    ground: DoubtGround,
    cases: Sequence[RoomCase],
    reasoned: Sequence[tuple[int, Candidate]],
    surface: Surface,
) -> tuple[list[tuple[int, Candidate]], Offers]:
    """Return the places that could be read, with their rooms, and what the choice needs of them.

    The covariance between places is that of the heaviest candidate; its variances are put right to
    those of the map, which is made of many.
    """
    posterior, variogram = surface.posterior, surface.variogram
    assert posterior is not None  # the caller has looked
    assert variogram is not None
    some = sorted(reasoned, key=lambda pair: (not pair[1].must, -cases[pair[0]].doubtful.area))
    places = [*some[:MOST_REASONED], *_laid_out(ground, cases, reasoned, surface)]
    xy = np.array([(one.x, one.y) for _, one in places], dtype=np.float64).reshape(-1, 2)
    room = np.array([index for index, _ in places], dtype=np.int64)
    if not len(xy):
        none = np.empty(0)
        return places, Offers(xy, room, np.empty((len(ground.xy), 0)), np.empty((0, 0)), none, none)
    joint = posterior.between(
        np.vstack([ground.xy, xy]), np.concatenate([ground.room, room]), xy, room
    )
    joint = np.where(np.isfinite(joint), joint, 0.0)
    to_cells, to_offers = joint[: len(ground.xy)], joint[len(ground.xy) :]
    to_offers = 0.5 * (to_offers + to_offers.T)
    mean, sd = _estimate_at(surface, xy, room)
    nugget, log = variogram.nugget, surface.scale == "log"
    own = np.minimum(one_reading_sd(mean, log=log) ** 2, nugget)
    fine = nugget - own if log else np.full(len(xy), nugget)
    right = _put_right(np.maximum(sd**2 - fine, 0.0), np.diag(to_offers))
    nearest = _nearest_offer(ground, xy, room)
    at_cells = np.where(nearest >= 0, right[nearest], 1.0)
    to_cells = to_cells * at_cells[:, None] * right
    to_cells[~ground.known] = 0.0
    repeats = np.array([repeats_of(cases[index], one)[0] for index, one in places])
    level = cases[0].evidence.level.concentration
    near = working_level(surface, (1.0 - 2.0 * READING_SD) * level)
    spread = np.sqrt(sd**2 + own)
    high = np.where(spread > 0, ndtr((mean - near) / np.maximum(spread, 1e-12)), mean > near)
    high[~np.isfinite(sd) | (sd == 0)] = 0.5
    return places, Offers(
        xy, room, to_cells, to_offers * right[:, None] * right, nugget - own + own / repeats, high
    )


def _put_right(of_map: Floats, of_candidate: Floats) -> Floats:
    """Return the factors of standard deviations from one candidate's to the map's."""
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.sqrt(of_map / of_candidate)
    return np.where(
        np.isfinite(factor) & (factor > 0), np.clip(factor, 1.0 / TRUSTED, TRUSTED), 1.0
    )


def _nearest_offer(ground: DoubtGround, xy: Floats, room: Ints) -> Ints:
    """Return the offer nearest to each cell in its room, -1 where it has none."""
    found = np.full(len(ground.xy), -1, dtype=np.int64)
    for index in np.unique(room):
        own, cells = np.flatnonzero(room == index), np.flatnonzero(ground.room == index)
        if len(cells):
            found[cells] = own[cdist(ground.xy[cells], xy[own]).argmin(axis=1)]
    return found


def _estimate_at(surface: Surface, xy: Floats, room: Ints) -> tuple[Floats, Floats]:
    """Return mean and sd in the cell of each place, else in the nearest of its room; 0: none."""
    raster = surface.raster
    row = np.floor((xy[:, 1] - raster.south_m) / raster.cell_m).astype(np.int64)
    column = np.floor((xy[:, 0] - raster.west_m) / raster.cell_m).astype(np.int64)
    row, column = np.clip(row, 0, raster.shape[0] - 1), np.clip(column, 0, raster.shape[1] - 1)
    for k in np.flatnonzero(raster.room_index[row, column] != room):
        rows = np.arange(max(0, row[k] - 3), min(raster.shape[0], row[k] + 4))
        columns = np.arange(max(0, column[k] - 3), min(raster.shape[1], column[k] + 4))
        own = np.argwhere(raster.room_index[np.ix_(rows, columns)] == room[k])
        if len(own):
            at = np.column_stack([raster.x[columns[own[:, 1]]], raster.y[rows[own[:, 0]]]])
            best = own[int(cdist(at, xy[[k]]).argmin())]
            row[k], column[k] = rows[best[0]], columns[best[1]]
    mean, sd = surface.mean[row, column], surface.sd[row, column]
    known = np.isfinite(mean) & np.isfinite(sd) & (raster.room_index[row, column] == room)
    return np.where(known, mean, 0.0), np.where(known, sd, 0.0)


def _laid_out(
    ground: DoubtGround,
    cases: Sequence[RoomCase],
    reasoned: Sequence[tuple[int, Candidate]],
    surface: Surface,
) -> list[tuple[int, Candidate]]:
    """Lay places over the ground in doubt, off the walls and not beside those that are listed."""
    taken: dict[int, list[tuple[float, float]]] = {}
    for index, one in reasoned:
        if one.must:
            taken.setdefault(index, []).append((one.x, one.y))
    free = []
    thin_m = np.inf if surface.variogram is None else surface.variogram.range_m / 2.0
    for case in cases:
        if case.doubtful.area < SMALLEST_PART_M2:
            continue
        xy = _off_the_walls(case, surface)
        here = taken.get(case.index, [])
        free.append((case, xy[cdist(xy, here).min(axis=1) >= APART_M] if here else xy))
    step = STEP_M
    while True:
        found = [(case, x, y) for case, xy in free for x, y in _one_a_square(xy, step)]
        if len(found) <= MOST_OFFERS or step > WIDEST_M:
            break
        step *= max(1.15, float(np.sqrt(len(found) / MOST_OFFERS)))
    return [
        (case.index, Candidate(x, y, _why_here(ground, case, x, y, thin_m)))
        for case, x, y in found[:MOST_OFFERS]
    ]


def _off_the_walls(case: RoomCase, surface: Surface) -> Floats:
    row, column = room_cells(surface.raster, case.index, case.room.polygon)
    xy = np.column_stack([surface.raster.x[column], surface.raster.y[row]])
    off = case.room.polygon.buffer(-FROM_WALL_M)
    if len(case.evidence.floor.walls):
        off = off.difference(shapely.union_all(case.evidence.floor.walls).buffer(FROM_WALL_M))
    keep = shapely.intersects_xy(off, *xy.T) & shapely.intersects_xy(case.doubtful, *xy.T)
    return np.asarray(xy[keep])


def _one_a_square(xy: Floats, step_m: float) -> Iterator[tuple[float, float]]:
    """Yield of each square of a net the place nearest to its middle."""
    if not len(xy):
        return
    square = np.floor(xy / step_m)
    order = np.argsort(np.hypot(*(xy - (square + 0.5) * step_m).T), kind="stable")
    _, first = np.unique(square[order], axis=0, return_index=True)
    for k in np.sort(order[first]):
        yield float(xy[k, 0]), float(xy[k, 1])


def _why_here(ground: DoubtGround, case: RoomCase, x: float, y: float, thin_m: float) -> list[str]:
    """Say what keeps the ground of a place in doubt; farther than ``thin_m`` (m) it is sparse."""
    own = np.flatnonzero(ground.room == case.index)
    if not len(own):
        return ["straddles the level"]
    k = own[int(cdist(ground.xy[own], [(x, y)]).argmin())]
    if not ground.read[k]:
        return [unread_words(case)]
    sparse = f"sparse: {ground.used_m[k]:.3g} m from the nearest reading in the room"
    if ground.used_m[k] > ground.far_m:
        return [sparse]
    if ground.excess[k] > -ground.quantiles()[1] * np.sqrt(ground.variance[k]):
        return ["straddles the level", *([sparse] if ground.used_m[k] > thin_m else [])]
    if ground.standing_m[k] <= 0.0:
        return ["in ground that a reading keeps until a person settles it"]
    guard = min(ground.standing_m[k], ground.answered_m[k].min(initial=np.inf))
    if ground.guarded(guard, ground.low_m[k]):
        return ["narrows the ground that a reading above the level, or one too near it, keeps"]
    return ["at a door away from ground above the level"]
