"""Places to measure again: where, at what height, why, and how much each is expected to settle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Point

from hgmap.decide.candidates import Candidate, RoomCase, doubt_of, room_candidates
from hgmap.decide.guards import far_distance, room_guards
from hgmap.decide.model import FloorEvidence, ResampleList, ResamplePlace, Zones
from hgmap.decide.settle import settled_probability
from hgmap.decide.whose import items_by_room
from hgmap.field.surface import Surface
from hgmap.site.building import HeightBand, Room


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
    placed: list[tuple[Room, Candidate]] = []
    items, zones_of, far_m = items_by_room(evidence), zones.by_room(), far_distance(evidence)
    for index, room in enumerate(evidence.floor.rooms):
        doubtful = shapely.union_all(
            [zone.geometry for zone in zones_of.get(room.id, [])
             if zone.name in ("resample", "no data")]
        )  # fmt: skip
        case = RoomCase(room, index, items[index], evidence, surface, zones, doubtful, far_m)
        candidates = room_candidates(case)
        _expect(candidates, case, guard_m)
        placed += [(room, one) for one in candidates]
    placed.sort(key=lambda pair: (-pair[1].expected_m2, pair[0].name, pair[1].x, pair[1].y))
    return ResampleList(
        tuple(
            ResamplePlace(
                rank,
                evidence.floor.name,
                room.id,
                room.name,
                one.x,
                one.y,
                height,
                tuple(one.reasons),
                one.expected_m2,
            )
            for rank, (room, one) in enumerate(placed, start=1)
        )
    )


def _height(evidence: FloorEvidence, bands: Sequence[HeightBand]) -> float | None:
    heights = [i.reading.height_m for i in evidence.used if i.reading.height_m is not None]
    if heights:
        values, counts = np.unique(heights, return_counts=True)
        return float(values[counts.argmax()])
    band = next((one for one in bands if one.name == evidence.band), None)
    return None if band is None else round((band.from_m + band.to_m) / 2, 2)


def _expect(candidates: Sequence[Candidate], case: RoomCase, guard_m: float) -> None:
    """Fill in ``expected_m2``."""
    if not candidates or case.doubtful.is_empty:
        return
    surface, doubt = case.surface, doubt_of(case)
    posterior = None if surface is None else surface.posterior
    if surface is None or surface.variogram is None or doubt is None or posterior is None:
        for one in candidates:
            one.expected_m2 = float(case.doubtful.area) / len(candidates)
        return
    guards = room_guards(
        case.room,
        case.items,
        level=case.evidence.level.concentration,
        guard_m=guard_m,
        far_m=case.far_m,
    )
    for one in candidates:
        place = np.array([[one.x, one.y]])
        settled = settled_probability(
            doubt.excess,
            doubt.variance,
            posterior.covariance(doubt.xy, place, case.index)[:, 0],
            float(posterior.variance(place, case.index)[0]),
            surface.variogram.nugget,
            remediate_at=case.zones.remediate_at,
            clear_at=case.zones.clear_at,
        )
        # a guard is lifted only by a reading on the ground that it guards
        standing = [g.geometry for g in guards if not g.geometry.covers(Point(one.x, one.y))]
        if standing:
            settled[shapely.intersects_xy(shapely.union_all(standing), *doubt.xy.T)] = 0.0
        one.expected_m2 = float(min(settled.sum() * doubt.cell_m2, case.doubtful.area))
