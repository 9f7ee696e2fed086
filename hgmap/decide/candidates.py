"""Candidate places to measure again in one room, each with its reason in words."""

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

from hgmap.decide.contours import room_cells
from hgmap.decide.evidence import describe, over_words
from hgmap.decide.exceedance import excess_at, standardised_excess, working_level
from hgmap.decide.further import AS_WRITTEN, AT_FULL_WEIGHT, WITH_HELD
from hgmap.decide.model import Evidence, FloorEvidence, Zones
from hgmap.decide.whose import place_of
from hgmap.field.surface import Surface
from hgmap.site.building import Room

Floats = NDArray[np.float64]

# Our choices, common practice, no source.
PLACES_IN_A_ROOM: Final = 4
AREA_FOR_A_PLACE_M2: Final = 20.0
FROM_WALL_M: Final = 0.6
CELLS_IN_A_ROOM: Final = 1500
REPLICATE_PERCENT: Final = 25.0
SMALLEST_PART_M2: Final = 0.25


@dataclass
class Candidate:
    """A place (m) that a reading might settle, and what for.

    ``must``: it belongs on the list whatever it is expected to settle.
    """

    x: float
    y: float
    reasons: list[str]
    must: bool = False


@dataclass(frozen=True)
class Doubt:
    """The cells of one room that are in doubt, thinned; each stands for ``cell_m2``.

    ``excess`` is the estimate minus the level and ``variance`` that of the estimate (working
    scale).
    """

    xy: Floats
    excess: Floats
    variance: Floats
    cell_m2: float


@dataclass(frozen=True)
class RoomCase:
    """All that is known about one room: its readings, the estimate, and the ground in doubt.

    Farther than ``far_m`` from every reading of the room nothing is known.
    """

    room: Room
    index: int
    items: Sequence[Evidence]
    evidence: FloorEvidence
    surface: Surface | None
    zones: Zones
    doubtful: BaseGeometry
    far_m: float


def room_candidates(case: RoomCase) -> list[Candidate]:
    """Return the places of a room to measure again, those within a metre joined."""
    found = [
        *_from_readings(case),
        *_unread(case),
        *_without_surface(case),
        *_from_doubt(case),
        *_sparse(case),
    ]
    return _merge(found or [*_left_over(case)])


def _from_readings(case: RoomCase) -> Iterator[Candidate]:
    """Held readings, readings that cannot see the level, lone high ones, replicates.

    A lone high one is above the level, at this height or another, on ground that is not
    ``remediate``.
    """
    for item in case.items:
        place = place_of(item, case.room)
        reason = ""
        if place is None and not _named_here(item, case.room):
            continue  # it may be anywhere: there is no place to go back to
        if item.role == "held":
            reason = f"held reading {item.reading.id}: {item.reasons[0]}"
        elif item.role == "cannot see the level":
            reason = f"{item.reading.id} cannot see the level: {item.reasons[-1]}"
        elif item.reading.qualifier == ">":
            reason = f"{item.reading.id} is saturated: {describe(item.reading)}"
        elif item.above and place is not None and case.doubtful.distance(place) <= 0.01:
            height = item.reading.height_m
            at = "" if height is None else f" at {height:g} m"
            over = over_words(item.reading, case.evidence.level.concentration)
            reason = f"{item.reading.id}{at} reads {describe(item.reading)}, {over}"
        if reason:
            point = place or case.room.polygon.representative_point()
            yield Candidate(float(point.x), float(point.y), [reason], must=True)
    for point, text in _replicates_apart(case):
        yield Candidate(float(point.x), float(point.y), [text], must=True)


def _named_here(item: Evidence, room: Room) -> bool:
    named = item.reading.room.casefold()
    return named in (room.id.casefold(), room.name.casefold()) or item.reading.x is not None


def _replicates_apart(case: RoomCase) -> Iterator[tuple[Point, str]]:
    """Replicates whose relative percent difference, 200 |a - b| / (a + b), is above 25 %.

    Common practice, no source; differences below a tenth of the level do not count.
    """
    places: dict[tuple[float, float], list[Evidence]] = {}
    for item in case.items:
        point = place_of(item, case.room) if item.role == "used" else None
        if point is not None and item.reading.qualifier in ("", "up to"):
            places.setdefault((round(point.x, 2), round(point.y, 2)), []).append(item)
    for (x, y), group in places.items():
        values = [one.reading.concentration or 0.0 for one in group]
        low, high = min(values), max(values)
        if len(values) < 2 or high - low < 0.1 * case.evidence.level.concentration:
            continue
        percent = 200.0 * (high - low) / (high + low)
        if percent > REPLICATE_PERCENT:
            names = " and ".join(one.reading.id for one in group[:3])
            yield Point(x, y), f"replicates disagree: {names} differ by {percent:.0f} %"


def _unread(case: RoomCase) -> Iterator[Candidate]:
    if any(item.role == "used" for item in case.items):
        return
    point = case.room.polygon.representative_point()
    yield Candidate(float(point.x), float(point.y), [unread_words(case)], must=True)


def unread_words(case: RoomCase) -> str:
    """Say that no reading counts in a room."""
    return "room without a reading" + (" that counts here" if case.items else "")


def _without_surface(case: RoomCase) -> Iterator[Candidate]:
    """Propose the place of a read room that is farthest from its readings."""
    points = [place_of(item, case.room) for item in case.items if item.role == "used"]
    taken = np.array([(p.x, p.y) for p in points if p is not None])
    if case.surface is not None or case.doubtful.is_empty or not len(taken):
        return
    west, south, east, north = case.room.polygon.bounds
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(west, east, 25),
                                           np.linspace(south, north, 25)))  # fmt: skip
    off_wall = case.room.polygon.buffer(-FROM_WALL_M)
    inside = shapely.intersects_xy(case.room.polygon if off_wall.is_empty else off_wall, x, y)
    middle = case.room.polygon.representative_point()
    free = np.vstack([np.column_stack([x, y])[inside], [(middle.x, middle.y)]])
    far = free[int(cdist(free, taken).min(axis=1).argmax())]
    text = "no surface of this floor: more readings are needed"
    yield Candidate(float(far[0]), float(far[1]), [text])


def _from_doubt(case: RoomCase) -> Iterator[Candidate]:
    """Spread places over the ground whose estimate straddles the level, the widest sd first."""
    if case.surface is None or not any(item.role == "used" for item in case.items):
        return
    doubt = doubt_of(case)
    if doubt is None:
        return
    # ground that is only guarded does not straddle the level; its reading is measured again
    straddles = standardised_excess(doubt.excess, np.sqrt(doubt.variance), 0.0) > excess_at(
        case.zones.clear_at, case.surface.degrees_of_freedom
    )
    area = float(straddles.sum()) * doubt.cell_m2
    if area < SMALLEST_PART_M2:
        return
    count = int(np.clip(np.ceil(area / AREA_FOR_A_PLACE_M2), 1, PLACES_IN_A_ROOM))
    apart = max(1.0, 0.5 * np.sqrt(area / count))
    # a reading is taken in the air of the room, not against its wall
    from_wall = shapely.distance(shapely.points(doubt.xy), case.room.polygon.boundary)
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
        yield Candidate(x, y, ["straddles the level"])


def _sparse(case: RoomCase) -> Iterator[Candidate]:
    """Propose the far corner of a room, where no reading of it speaks for the ground."""
    points = [place_of(item, case.room) for item in case.items if item.role == "used"]
    xy = np.array([(p.x, p.y) for p in points if p is not None])
    if case.surface is None or not len(xy):
        return
    cells = _thinned_cells(case.surface, case)
    off_wall = case.room.polygon.buffer(-FROM_WALL_M)
    free = cells[shapely.intersects_xy(off_wall, *cells.T)] if len(cells) else cells
    cells = free if len(free) else cells
    if not len(cells):
        return
    distance = cdist(cells, xy).min(axis=1)
    far = int(distance.argmax())
    fit = case.surface.variogram
    thin = fit is not None and distance[far] > fit.range_m / 2
    in_doubt = case.doubtful.distance(Point(cells[far])) < 0.5
    if in_doubt and (thin or distance[far] > case.far_m - FROM_WALL_M):
        text = f"sparse: {distance[far]:.3g} m from the nearest reading in the room"
        yield Candidate(float(cells[far][0]), float(cells[far][1]), [text])


def _left_over(case: RoomCase) -> Iterator[Candidate]:
    """Propose the middle of ground that only less trust in some readings would clear."""
    said = {why for one in case.zones.zones if one.room == case.room.id for why in one.reasons}
    doubted: list[str] = [why for why in (AT_FULL_WEIGHT, WITH_HELD, AS_WRITTEN) if why in said]
    if doubted and case.doubtful.area >= SMALLEST_PART_M2:
        point = case.doubtful.representative_point()
        yield Candidate(float(point.x), float(point.y), doubted)


def _thinned_cells(surface: Surface, case: RoomCase) -> Floats:
    row, column = room_cells(surface.raster, case.index, case.room.polygon)
    step = max(1, len(row) // CELLS_IN_A_ROOM)
    return np.column_stack([surface.raster.x[column[::step]], surface.raster.y[row[::step]]])


def doubt_of(case: RoomCase) -> Doubt | None:
    """Return the cells of a room that are in doubt; None without a surface or such cells."""
    surface = case.surface
    if surface is None:
        return None
    row, column = room_cells(surface.raster, case.index, case.room.polygon)
    if not len(row):
        return None
    x, y = surface.raster.x[column], surface.raster.y[row]
    known = np.isfinite(surface.mean[row, column])
    keep = np.flatnonzero(known & shapely.intersects_xy(case.doubtful, x, y))
    if not len(keep):
        return None
    step = max(1, -(-len(keep) // CELLS_IN_A_ROOM))
    chosen = keep[::step]
    level = working_level(surface, case.evidence.level.concentration)
    rc = row[chosen], column[chosen]
    return Doubt(
        np.column_stack([x[chosen], y[chosen]]),
        surface.mean[rc] - level,
        surface.sd[rc] ** 2,
        surface.raster.cell_m**2 * len(keep) / len(chosen),
    )


def _merge(candidates: Sequence[Candidate], nearer_m: float = 1.0) -> list[Candidate]:
    """Join candidates of a room that stand within a metre: one visit answers both."""
    merged: list[Candidate] = []
    for one in candidates:
        twin = next((m for m in merged if np.hypot(m.x - one.x, m.y - one.y) <= nearer_m), None)
        if twin is None:
            merged.append(one)
        else:
            twin.must |= one.must
            twin.reasons += [reason for reason in one.reasons if reason not in twin.reasons]
    return merged
