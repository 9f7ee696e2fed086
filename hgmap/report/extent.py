"""How far a floor reaches."""

from __future__ import annotations

import shapely

from hgmap.site.building import Floor


def extent(floor: Floor) -> tuple[float, float, float, float]:
    """Return west, south, east, north (m) of rooms and walls."""
    shapes = [*floor.walls, *(room.polygon for room in floor.rooms)]
    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(south), float(east), float(north)


def view_start(part: tuple[float, float], view: float, whole: tuple[float, float]) -> float:
    """Return where a view (m) begins that is centred on a part of a floor.

    It is not cut on one side while it has bare paper on the other.
    """
    if view >= whole[1] - whole[0]:
        return (whole[0] + whole[1] - view) / 2.0
    return min(max((part[0] + part[1] - view) / 2.0, whole[0]), whole[1] - view)
