"""How far a floor reaches."""

from __future__ import annotations

import shapely

from hgmap.site.building import Floor


def extent(floor: Floor) -> tuple[float, float, float, float]:
    """Return west, south, east, north (m) of rooms and walls."""
    shapes = [*floor.walls, *(room.polygon for room in floor.rooms)]
    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(south), float(east), float(north)
