"""The points of a regular grid that fall on a floor, and the direction the building lies in."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from hgmap.decide.design.lattice import GridShape, steps_of
from hgmap.errors import EstimateError
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_POINTS: Final = 200_000
"""Points of one grid above which it is refused."""


def building_angle_deg(floor: Floor) -> float:
    """Return the direction of the building's walls, -45 to 45 degrees from plan-right.

    The mean direction of the rooms' edges, each weighted by its length, where a quarter turn makes
    no difference: the mean of four times the angle (Mardia and Jupp 2000, Directional Statistics,
    section 2.2: axial data).
    """
    along = across = 0.0
    for room in floor.rooms:
        edge = np.diff(shapely.get_coordinates(room.polygon.exterior), axis=0)
        length, angle = np.hypot(*edge.T), np.arctan2(edge[:, 1], edge[:, 0])
        along += float(length @ np.cos(4 * angle))
        across += float(length @ np.sin(4 * angle))
    if math.hypot(along, across) < 1e-9:
        return 0.0  # a round building lies in no direction
    return math.degrees(math.atan2(across, along)) / 4


def grid_points(
    floor: Floor,
    grid: GridShape,
    *,
    spacing_m: float,
    offset: ArrayLike = (0.0, 0.0),
    angle_deg: float = 0.0,
) -> tuple[Floats, Ints]:
    """Return the points (m) of a grid that fall in rooms, and the positions of those rooms.

    Row by row along the grid's first step.

    Parameters
    ----------
    floor : Floor
    grid : {"square", "triangular", "rectangle"}
    spacing_m : float
        Of a rectangle the short side.
    offset : array_like of shape (2,)
        Of one point from the south-west corner of the floor's bounds, in steps of the grid.
    angle_deg : float
        Direction of the first step, counter-clockwise from plan-right.

    Raises
    ------
    EstimateError
        If the spacing is not above 0, the offset is not two numbers, or the grid makes more than
        200 000 points.
    """
    start = np.asarray(offset, dtype=np.float64)
    if start.shape != (2,) or not np.isfinite(start).all():
        raise EstimateError("the offset of a grid is not two numbers", todo="give two, in steps")
    if not (math.isfinite(spacing_m) and spacing_m > 0):
        raise EstimateError(f"a spacing of {spacing_m:g} m cannot be used", todo="give one above 0")
    turn = math.radians(angle_deg)
    rotation = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    steps = steps_of(grid) * spacing_m @ rotation
    west, south, east, north = floor.bounds
    corner = np.array([[west, south], [east, south], [east, north], [west, north]])
    # where the corners of the floor lie, counted in steps
    counted = (corner - corner[0]) @ np.linalg.inv(steps) - start
    low, high = np.floor(counted.min(axis=0)), np.ceil(counted.max(axis=0))
    if not float(np.prod(high - low + 1)) <= MOST_POINTS:
        raise EstimateError(
            f"a spacing of {spacing_m:g} m makes more than {MOST_POINTS} points",
            where=f"floor {floor.name!r}",
            todo="give a wider one",
        )
    j, i = np.meshgrid(
        np.arange(low[1], high[1] + 1), np.arange(low[0], high[0] + 1), indexing="ij"
    )
    xy = corner[0] + (np.column_stack([i.ravel(), j.ravel()]) + start) @ steps
    room = np.full(len(xy), -1, dtype=np.int64)
    for index, one in enumerate(floor.rooms):
        room[(room < 0) & shapely.intersects_xy(one.polygon, *xy.T)] = index
    return xy[room >= 0], room[room >= 0]
