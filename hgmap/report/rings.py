"""Rings of polygons by the sense that they run in: outlines one way, holes the other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry


def rings_of(shape: BaseGeometry) -> Iterator[NDArray[np.float64]]:
    """Go through the rings of all polygons: outlines counter-clockwise, holes clockwise.

    By the area of each ring (shoelace formula). GEOS tells the sense at the topmost corner, and is
    wrong where rounding has left a spike there: every hole would then be filled.

    Examples
    --------
    >>> [ring.tolist() for ring in rings_of(shapely.Polygon([(0, 0), (0, 1), (1, 0)]))]
    [[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]]
    """
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and not part.is_empty:
            yield _turned(part.exterior, 1.0)
            for hole in part.interiors:
                yield _turned(hole, -1.0)


def _turned(ring: BaseGeometry, sense: float) -> NDArray[np.float64]:
    corners: NDArray[np.float64] = shapely.get_coordinates(ring)
    x, y = (corners - corners[0]).T
    doubled = float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]))
    return corners if doubled * sense >= 0 else corners[::-1]
