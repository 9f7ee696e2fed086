"""What lies at a place of the plan: the nearest reading, the room, the next place to measure."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely

from hgmap.decide.model import ResampleList, ResamplePlace
from hgmap.site.building import Floor, Room
from hgmap.site.reading import Reading


def reading_at(readings: Iterable[Reading], x: float, y: float, reach_m: float) -> Reading | None:
    """Return the nearest reading within a reach (m), or None; the last of several at one place."""
    placed = [one for one in readings if one.x is not None and one.y is not None]
    if not placed:
        return None
    apart = np.hypot([one.x - x for one in placed], [one.y - y for one in placed])  # type: ignore[operator]
    nearest = len(placed) - 1 - int(np.argmin(apart[::-1]))
    return placed[nearest] if apart[nearest] <= reach_m else None


def room_at(floor: Floor, x: float, y: float) -> Room | None:
    """Return the room that holds a place (m), or None."""
    point = shapely.Point(x, y)
    return next((room for room in floor.rooms if room.polygon.covers(point)), None)


def next_place_at(
    resample: ResampleList, floor: str, x: float, y: float, reach_m: float
) -> ResamplePlace | None:
    """Return the nearest place to measure again within a reach (m), or None."""
    near = [
        (float(np.hypot(one.x - x, one.y - y)), one.rank, one)
        for one in resample.places
        if one.floor == floor
    ]
    found = min(near, default=None)
    return found[2] if found is not None and found[0] <= reach_m else None
