"""How much of a polygon lies in a strip beside a door, for ten thousand doors at once.

A polygon is cut along the four sides of its strip in turn. Where it is not convex, what is left
may hold edges that run back over themselves; they have no area. The method is Sutherland and
Hodgman, "Reentrant polygon clipping", Communications of the ACM 17 (1974), 32-42.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Places = NDArray[np.complex128]
Shapes = NDArray[np.object_]

SHORTEST_M: Final = 1e-9
"""A line shorter than this (m) has no direction, and a strip of no area."""

MOST_CORNERS: Final = 64
"""A polygon with more corners is left to shapely, which looks only at those nearby."""


def strips_beside(lines: Shapes, reach_m: float) -> Floats:
    """Return the strip on both sides of each straight line, shape (n, 4, 2) (m).

    Parameters
    ----------
    lines : array of shape (n,) of LineString
        Of two places.
    reach_m : float
        How far (m) the strip goes to each side; it is as long as the line.

    Examples
    --------
    >>> strips_beside(np.array([shapely.LineString([(0, 0), (2, 0)])]), 0.5).tolist()
    [[[0.0, 0.5], [2.0, 0.5], [2.0, -0.5], [0.0, -0.5]]]
    """
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    along = ends[:, 1] - ends[:, 0]
    aside = np.stack([-along[:, 1], along[:, 0]], axis=1)
    aside *= reach_m / np.maximum(np.hypot(along[:, 0], along[:, 1]), SHORTEST_M)[:, None]
    start, end = ends[:, 0], ends[:, 1]
    return np.stack([start + aside, end + aside, end - aside, start - aside], axis=1)


def strip_areas(strips: Floats, polygons: Shapes) -> Floats:
    """Return the area (m²) that each strip shares with the polygon of the same number.

    Parameters
    ----------
    strips : array of shape (n, 4, 2)
        Corners of convex figures, either way round (m).
    polygons : array of shape (n,) of Polygon
        Sound ones.

    Examples
    --------
    >>> strip = np.array([[[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [0.0, 1.0]]])
    >>> strip_areas(strip, np.array([shapely.box(1, -1, 3, 0.5)])).tolist()
    [1.0]
    """
    found = np.zeros(len(strips))
    few = shapely.get_num_coordinates(polygons) <= MOST_CORNERS
    if few.any():
        found[few] = _areas_cut(strips[few], polygons[few])
    if not few.all():
        shared = shapely.intersection(shapely.polygons(strips[~few]), polygons[~few])
        found[~few] = shapely.area(shared)
    return found


def _areas_cut(strips: Floats, polygons: Shapes) -> Floats:
    """Cut all rings at once; holes count against their polygon. A place is x + iy here."""
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    corner = strips[:, :, 0] + 1j * strips[:, :, 1]
    origin = corner[:, 0]  # far from zero, products would lose the digits
    corner = corner - origin[:, None]
    last = np.append(ring[1:] != ring[:-1], True)  # it is the first again
    z, ring = (corners[:, 0] + 1j * corners[:, 1])[~last], ring[~last]
    z -= origin[polygon[ring]]
    way = np.roll(corner, -1, axis=1) - corner
    whole = (corner.conj() * np.roll(corner, -1, axis=1)).imag.sum(axis=1) / 2
    way *= np.sign(whole)[:, None]
    for side in range(4):
        on = polygon[ring]
        depth = (way[on, side].conj() * (z - corner[on, side])).imag
        z, ring = _kept_side(z, ring, depth)
    crossed = (z.conj() * z[_next(ring)]).imag
    area = np.abs(np.bincount(ring, crossed, minlength=len(rings))) / 2
    is_hole = np.append(False, polygon[1:] == polygon[:-1])
    areas = np.where(is_hole, -area, area)
    inside = np.bincount(polygon, areas, minlength=len(polygons))
    found: Floats = np.minimum(inside, np.abs(whole))  # what has no area cuts nothing off
    return found


def _kept_side(z: Places, ring: Ints, depth: Floats) -> tuple[Places, Ints]:
    """Return rings without what lies at a depth below zero."""
    following = _next(ring)
    inside = depth >= 0
    crosses = inside != inside[following]
    if not crosses.any():
        return z[inside], ring[inside]
    apart = np.where(crosses, depth - depth[following], 1.0)
    cut = z + depth / apart * (z[following] - z)
    kept = np.stack([inside, crosses], axis=1).ravel()
    return np.stack([z, cut], axis=1).ravel()[kept], np.repeat(ring, 2)[kept]


def _next(ring: Ints) -> Ints:
    """Return the number of the corner that follows each in its ring, the first after the last."""
    following = np.arange(1, len(ring) + 1)
    if len(ring):
        starts = np.flatnonzero(np.append(True, ring[1:] != ring[:-1]))
        following[np.append(starts[1:], len(ring)) - 1] = starts
    return following
