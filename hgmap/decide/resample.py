"""Places to measure again: where, at what height, why, and how much each is expected to settle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from shapely import Point
from shapely.geometry.base import BaseGeometry

from hgmap.decide.evidence import describe
from hgmap.decide.exceedance import excess_at, standardised_excess, working_level
from hgmap.decide.guards import place_of, room_guards
from hgmap.decide.model import Evidence, FloorEvidence, ResampleList, ResamplePlace, Zones
from hgmap.decide.settle import settled_probability
from hgmap.decide.zones import room_items
from hgmap.errors import EstimateError
from hgmap.field.posterior import Posterior
from hgmap.field.surface import Surface
from hgmap.site.model import HeightBand, Room

Floats = NDArray[np.float64]

# Our choices, common practice, no source.
PLACES_IN_A_ROOM: Final = 4
AREA_FOR_A_PLACE_M2: Final = 20.0
FROM_WALL_M: Final = 0.6
CELLS_IN_A_ROOM: Final = 1500
REPLICATE_PERCENT: Final = 25.0
SMALLEST_PART_M2: Final = 0.25


@dataclass
class _Candidate:
    room: Room
    index: int
    x: float
    y: float
    reasons: list[str]
    expected_m2: float = 0.0


@dataclass(frozen=True)
class _Doubt:
    """The cells of one room that are in doubt, thinned; each stands for ``cell_m2``."""

    xy: Floats
    excess: Floats
    variance: Floats
    cell_m2: float


def rank_resample(
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    *,
    bands: Sequence[HeightBand] = (),
    guard_m: float = 1.5,
) -> ResampleList:
    """Propose places and rank them by the area that each is expected to move out of doubt.

    With kriging, that area comes from the variance that a reading would leave
    (:func:`hgmap.decide.settle.settled_probability`), counted in the place's own room. Without a
    variance (IDW, no surface) the room's area in doubt is shared among its places.

    Parameters
    ----------
    evidence, surface, zones
        Of one floor.
    bands : sequence of HeightBand
        The site's, to say at which height to measure.
    guard_m : float
        As the zones were made with.
    """
    height = _height(evidence, bands)
    placed: list[_Candidate] = []
    for index, room in enumerate(evidence.floor.rooms):
        items = room_items(evidence, room)
        doubtful = shapely.union_all(
            [z.geometry for z in zones.zones if z.room == room.id and z.name in
             ("resample", "no data")]
        )  # fmt: skip
        candidates = _merge(
            [
                *_from_readings(room, index, items, evidence, doubtful),
                *_unread(room, index, items),
                *_without_surface(room, index, items, surface, doubtful),
                *_from_doubt(room, index, items, surface, evidence, zones, doubtful),
                *_sparse(room, index, items, surface, doubtful),
            ]
        )
        _expect(candidates, room, index, items, doubtful, surface, evidence, zones, guard_m)
        placed += candidates
    placed.sort(key=lambda one: (-one.expected_m2, one.room.name, one.x, one.y))
    return ResampleList(
        tuple(
            ResamplePlace(
                rank,
                evidence.floor.name,
                one.room.id,
                one.room.name,
                one.x,
                one.y,
                height,
                tuple(one.reasons),
                one.expected_m2,
            )
            for rank, one in enumerate(placed, start=1)
        )
    )


def _height(evidence: FloorEvidence, bands: Sequence[HeightBand]) -> float | None:
    heights = [i.reading.height_m for i in evidence.used if i.reading.height_m is not None]
    if heights:
        values, counts = np.unique(heights, return_counts=True)
        return float(values[counts.argmax()])
    band = next((one for one in bands if one.name == evidence.band), None)
    return None if band is None else round((band.from_m + band.to_m) / 2, 2)


def _from_readings(
    room: Room,
    index: int,
    items: Sequence[Evidence],
    evidence: FloorEvidence,
    doubtful: BaseGeometry,
) -> Iterator[_Candidate]:
    """Held readings, readings that cannot see the level, lone high ones, replicates.

    A lone high one is above the level, at this height or another, on ground that is not
    ``remediate``.
    """
    for item in items:
        place = place_of(item, room)
        reason = ""
        if item.role == "held":
            reason = f"held reading {item.reading.id}: {item.reasons[0]}"
        elif item.role == "cannot see the level":
            reason = f"{item.reading.id} cannot see the level: {item.reasons[-1]}"
        elif item.reading.qualifier == ">":
            reason = f"{item.reading.id} is saturated: {describe(item.reading)}"
        elif item.above and place is not None and doubtful.distance(place) <= 0.01:
            height = item.reading.height_m
            at = "" if height is None else f" at {height:g} m"
            reason = f"{item.reading.id}{at} reads {describe(item.reading)}, above the level"
        if reason:
            point = place or room.polygon.representative_point()
            yield _Candidate(room, index, float(point.x), float(point.y), [reason])
    for point, text in _disagreeing(room, items, evidence):
        yield _Candidate(room, index, float(point.x), float(point.y), [text])


def _disagreeing(
    room: Room, items: Sequence[Evidence], evidence: FloorEvidence
) -> Iterator[tuple[Point, str]]:
    """Replicates whose relative percent difference, 200 |a - b| / (a + b), is above 25 %.

    Common practice, no source; differences below a tenth of the level do not count.
    """
    places: dict[tuple[float, float], list[Evidence]] = {}
    for item in items:
        point = place_of(item, room) if item.role == "used" else None
        if point is not None and item.reading.qualifier == "":
            places.setdefault((round(point.x, 2), round(point.y, 2)), []).append(item)
    for (x, y), group in places.items():
        values = [one.reading.concentration or 0.0 for one in group]
        low, high = min(values), max(values)
        if len(values) < 2 or high - low < 0.1 * evidence.level.concentration:
            continue
        percent = 200.0 * (high - low) / (high + low)
        if percent > REPLICATE_PERCENT:
            names = " and ".join(one.reading.id for one in group[:3])
            yield Point(x, y), f"replicates disagree: {names} differ by {percent:.0f} %"


def _unread(room: Room, index: int, items: Sequence[Evidence]) -> Iterator[_Candidate]:
    if any(item.role == "used" for item in items):
        return
    point = room.polygon.representative_point()
    text = "room without a reading" + (" that counts here" if items else "")
    yield _Candidate(room, index, float(point.x), float(point.y), [text])


def _without_surface(
    room: Room,
    index: int,
    items: Sequence[Evidence],
    surface: Surface | None,
    doubtful: BaseGeometry,
) -> Iterator[_Candidate]:
    """Propose the place of a read room that is farthest from its readings."""
    points = [place_of(item, room) for item in items if item.role == "used"]
    taken = np.array([(p.x, p.y) for p in points if p is not None])
    if surface is not None or doubtful.is_empty or not len(taken):
        return
    west, south, east, north = room.polygon.bounds
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(west, east, 25),
                                           np.linspace(south, north, 25)))  # fmt: skip
    off_wall = room.polygon.buffer(-FROM_WALL_M)
    inside = shapely.intersects_xy(room.polygon if off_wall.is_empty else off_wall, x, y)
    middle = room.polygon.representative_point()
    free = np.vstack([np.column_stack([x, y])[inside], [(middle.x, middle.y)]])
    far = free[int(cdist(free, taken).min(axis=1).argmax())]
    text = "no surface of this floor: more readings are needed"
    yield _Candidate(room, index, float(far[0]), float(far[1]), [text])


def _from_doubt(
    room: Room,
    index: int,
    items: Sequence[Evidence],
    surface: Surface | None,
    evidence: FloorEvidence,
    zones: Zones,
    doubtful: BaseGeometry,
) -> Iterator[_Candidate]:
    """Spread places over the ground whose estimate straddles the level, the widest sd first."""
    if surface is None or not any(item.role == "used" for item in items):
        return
    doubt = _doubt(surface, index, evidence, doubtful)
    if doubt is None:
        return
    # ground that is only guarded does not straddle the level; its reading is measured again
    straddles = standardised_excess(doubt.excess, np.sqrt(doubt.variance), 0.0) > excess_at(
        zones.clear_at, surface.degrees_of_freedom
    )
    area = float(straddles.sum()) * doubt.cell_m2
    if area < SMALLEST_PART_M2:
        return
    count = int(np.clip(np.ceil(area / AREA_FOR_A_PLACE_M2), 1, PLACES_IN_A_ROOM))
    apart = max(1.0, 0.5 * np.sqrt(area / count))
    # a reading is taken in the air of the room, not against its wall
    from_wall = shapely.distance(shapely.points(doubt.xy), room.polygon.boundary)
    score = np.sqrt(doubt.variance) - 0.5 * np.abs(doubt.excess)
    free = from_wall >= min(FROM_WALL_M, from_wall[straddles].max())
    score = np.where(straddles & free, score, -np.inf)
    taken = np.empty((0, 2))
    for _ in range(count):
        if len(taken):
            score = np.where(cdist(doubt.xy, taken).min(axis=1) >= apart, score, -np.inf)
        best = int(np.argmax(score))
        if score[best] == -np.inf:
            return
        taken = np.vstack([taken, doubt.xy[best]])
        x, y = (float(value) for value in doubt.xy[best])
        yield _Candidate(room, index, x, y, ["straddles the level"])


def _sparse(
    room: Room,
    index: int,
    items: Sequence[Evidence],
    surface: Surface | None,
    doubtful: BaseGeometry,
) -> Iterator[_Candidate]:
    """Propose the far corner of a room where it is over half a range from every reading in it."""
    if surface is None or surface.variogram is None or doubtful.is_empty:
        return
    points = [place_of(item, room) for item in items if item.role == "used"]
    xy = np.array([(p.x, p.y) for p in points if p is not None])
    if not len(xy):
        return
    cells = _room_cells(surface, index)
    if not len(cells):
        return
    distance = cdist(cells, xy).min(axis=1)
    far = int(distance.argmax())
    if distance[far] > surface.variogram.range_m / 2 and doubtful.distance(Point(cells[far])) < 0.5:
        text = f"sparse: {distance[far]:.3g} m from the nearest reading in the room"
        yield _Candidate(room, index, float(cells[far][0]), float(cells[far][1]), [text])


def _room_cells(surface: Surface, index: int) -> Floats:
    row, column = np.nonzero(surface.raster.room_index == index)
    step = max(1, len(row) // CELLS_IN_A_ROOM)
    return np.column_stack([surface.raster.x[column[::step]], surface.raster.y[row[::step]]])


def _doubt(
    surface: Surface, index: int, evidence: FloorEvidence, doubtful: BaseGeometry
) -> _Doubt | None:
    row, column = np.nonzero(surface.raster.room_index == index)
    if not len(row):
        return None
    x, y = surface.raster.x[column], surface.raster.y[row]
    keep = np.flatnonzero(shapely.intersects_xy(doubtful, x, y))
    if not len(keep):
        return None
    step = max(1, -(-len(keep) // CELLS_IN_A_ROOM))
    chosen = keep[::step]
    level = working_level(surface, evidence.level.concentration)
    rc = row[chosen], column[chosen]
    return _Doubt(
        np.column_stack([x[chosen], y[chosen]]),
        surface.mean[rc] - level,
        surface.sd[rc] ** 2,
        surface.raster.cell_m**2 * len(keep) / len(chosen),
    )


def _merge(candidates: Sequence[_Candidate], nearer_m: float = 1.0) -> list[_Candidate]:
    """Join candidates of a room that stand within a metre: one visit answers both."""
    merged: list[_Candidate] = []
    for one in candidates:
        twin = next((m for m in merged if np.hypot(m.x - one.x, m.y - one.y) <= nearer_m), None)
        if twin is None:
            merged.append(one)
        else:
            twin.reasons += [reason for reason in one.reasons if reason not in twin.reasons]
    return merged


def _expect(
    candidates: Sequence[_Candidate],
    room: Room,
    index: int,
    items: Sequence[Evidence],
    doubtful: BaseGeometry,
    surface: Surface | None,
    evidence: FloorEvidence,
    zones: Zones,
    guard_m: float,
) -> None:
    """Fill in ``expected_m2``."""
    if not candidates or doubtful.is_empty:
        return
    doubt = None if surface is None else _doubt(surface, index, evidence, doubtful)
    posterior = _posterior(surface)
    if surface is None or surface.variogram is None or doubt is None or posterior is None:
        for one in candidates:
            one.expected_m2 = float(doubtful.area) / len(candidates)
        return
    guards = room_guards(room, items, guard_m)
    for one in candidates:
        place = np.array([[one.x, one.y]])
        settled = settled_probability(
            doubt.excess,
            doubt.variance,
            posterior.covariance(doubt.xy, place)[:, 0],
            float(posterior.variance(place)[0]),
            surface.variogram.nugget,
            remediate_at=zones.remediate_at,
            clear_at=zones.clear_at,
        )
        # a guard is lifted only by a reading on the ground that it guards
        standing = [g.geometry for g in guards if not g.geometry.covers(Point(one.x, one.y))]
        if standing:
            settled[shapely.intersects_xy(shapely.union_all(standing), *doubt.xy.T)] = 0.0
        one.expected_m2 = float(min(settled.sum() * doubt.cell_m2, doubtful.area))


def _posterior(surface: Surface | None) -> Posterior | None:
    if surface is None or surface.variogram is None:
        return None
    try:
        return Posterior(surface.xy, surface.variogram)
    except EstimateError:
        return None
