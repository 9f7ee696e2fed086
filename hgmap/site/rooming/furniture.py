"""Small closed shapes of lines that touch no wall: desks, columns, and not rooms."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import STRtree

from hgmap.site.rooming.arrangement import Ints, Shapes, is_wall_piece
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming


def without_furniture(
    lines: Shapes, solid: shapely.Geometry, settings: Rooming, repairs: Repairs
) -> Shapes:
    """Leave out the lines of furniture and columns, each shape named.

    Parameters
    ----------
    lines : array of LineString
        Walls as lines (m).
    solid : shapely.Geometry
        Walls that are areas, and doors.
    settings : Rooming
        Its ``furniture_m2``, ``gap_m``, ``thickest_wall_m``.
    repairs : Repairs
        Takes each shape.
    """
    if not len(lines):
        return lines
    group = _touching(lines, settings.gap_m)
    at_solid, _ = STRtree(shapely.get_parts(solid)).query(
        lines, predicate="dwithin", distance=settings.gap_m
    )
    order = np.argsort(group, kind="stable")
    members = np.split(order, np.nonzero(np.diff(group[order]))[0] + 1)
    tied = np.zeros(len(members), dtype=bool)
    tied[group[at_solid]] = True
    boxes = shapely.bounds(lines)
    out = np.zeros(len(lines), dtype=bool)
    for number, one in enumerate(members):
        west, south = boxes[one, :2].min(axis=0)
        east, north = boxes[one, 2:].max(axis=0)
        # a shape in a box much larger than furniture is none: no hull is made of a whole floor
        if tied[number] or (east - west) * (north - south) > 4 * settings.furniture_m2:
            continue
        hull = shapely.convex_hull(shapely.multilinestrings(lines[one].tolist()))
        closed = shapely.get_parts(shapely.polygonize([shapely.union_all(lines[one])]))
        if not len(closed) or hull.area > settings.furniture_m2 or _wall_piece(closed, settings):
            continue
        text = f"a closed shape of {hull.area:.2f} m² that touches no wall left out as furniture"
        if repairs.wants("furniture", text, hull, float(np.sqrt(hull.area))):
            out[one] = True
    return lines[~out]


def _wall_piece(closed: Shapes, settings: Rooming) -> bool:
    """Tell whether closed shapes are together the two faces of a wall and its ends."""
    whole = np.array([shapely.union_all(closed)], dtype=object)
    return bool(is_wall_piece(whole, settings.thickest_wall_m)[0])


def _touching(lines: Shapes, gap_m: float) -> Ints:
    """Return the number of the group of lines, each within ``gap_m`` of the next."""
    i, j = STRtree(lines).query(lines, predicate="dwithin", distance=gap_m)
    pairs: NDArray[np.float64] = np.ones(len(i))
    graph = coo_array((pairs, (i, j)), shape=(len(lines), len(lines)))
    _, label = connected_components(graph, directed=False)
    return np.asarray(label, dtype=np.int64)
