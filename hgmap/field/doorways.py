"""Openings as edges between the cells on both sides of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely import LineString

from hgmap.field.narrow import Pass, narrow_links
from hgmap.site.building import Floor, OpeningState
from hgmap.site.plan import OPENING_REACH_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PIECES_PER_CELL: Final = 4
"""An opening is shared out in pieces of this fraction of a cell."""

REACH_M: Final = 0.6
"""An opening joins cells within this distance (m) of it at least."""


def join_openings(
    floor: Floor,
    xy: Floats,
    room: Ints,
    step_m: float,
    extra_path_m: Mapping[OpeningState, float],
) -> tuple[Ints, Floats]:
    """Join the cells on both sides of each opening, each piece of its width to the nearest pair.

    Parameters
    ----------
    floor : Floor
    xy, room : arrays of shape (m, 2) and (m,)
        Centres of the cells (m), and positions of their rooms in ``floor.rooms``.
    step_m : float
    extra_path_m : mapping
        Metres of open air that an opening of each state resists like.

    Returns
    -------
    edges, conductance : arrays of shape (e, 2) and (e,)
    """
    place = {one.id: index for index, one in enumerate(floor.rooms)}
    trees: dict[int, tuple[Ints, KDTree]] = {}

    def cells_of(index: int) -> tuple[Ints, KDTree]:
        if index not in trees:
            own = np.flatnonzero(room == index)
            trees[index] = own, KDTree(xy[own])
        return trees[index]

    # the first centre beyond a wall's face is up to a whole cell in, and half a cell aside
    reach = max(REACH_M, float(np.hypot(OPENING_REACH_M + step_m, 0.5 * step_m)))
    passed: list[Pass] = []
    for opening in floor.openings:
        sides = [place[identifier] for identifier in opening.rooms]
        extra = extra_path_m[opening.state]
        if np.isfinite(extra) and opening.line.length > 0 and len(set(sides)) == 2:
            passed.append(Pass(opening.line, (sides[0], sides[1]), extra))
    held = set(np.unique(room).tolist())

    def cells_beside(number: int, side: int) -> dict[int, float]:
        line, _, extra = passed[number]
        points, width = _pieces(line, step_m)
        own, tree = cells_of(side)
        far, near = tree.query(points, distance_upper_bound=reach)
        found: dict[int, float] = {}
        for k in np.flatnonzero(np.isfinite(far)):
            cell = int(own[near[k]])
            length = max(float(far[k]), 0.5 * step_m) + 0.5 * extra
            found[cell] = found.get(cell, 0.0) + width / length
        return found

    pairs: dict[tuple[int, int], float] = {}
    for line, (one, other), extra in passed:
        if not held >= {one, other}:
            continue
        points, width = _pieces(line, step_m)
        (own_a, tree_a), (own_b, tree_b) = (cells_of(side) for side in (one, other))
        far_a, near_a = tree_a.query(points, distance_upper_bound=reach)
        far_b, near_b = tree_b.query(points, distance_upper_bound=reach)
        for k in np.flatnonzero(np.isfinite(far_a) & np.isfinite(far_b)):
            i, j = int(own_a[near_a[k]]), int(own_b[near_b[k]])
            length = max(float(np.hypot(*(xy[i] - xy[j]))), step_m)
            pairs[i, j] = pairs.get((i, j), 0.0) + width / (length + extra)
    narrow = {k: each.polygon for k, each in enumerate(floor.rooms) if k not in held}
    links = narrow_links(passed, narrow, cells_beside, lambda cell: int(room[cell]))
    for ends, conductance in links.items():
        pairs[ends] = pairs.get(ends, 0.0) + conductance
    if not pairs:
        return np.empty((0, 2), dtype=np.int64), np.empty(0)
    return np.array(list(pairs), dtype=np.int64), np.array(list(pairs.values()))


def _pieces(line: LineString, step_m: float) -> tuple[Floats, float]:
    """Return the middles of equal pieces of an opening, and the width (m) of one."""
    count = max(PIECES_PER_CELL, int(np.ceil(PIECES_PER_CELL * line.length / step_m)))
    at = (np.arange(count) + 0.5) / count
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, at, normalized=True))
    return points, float(line.length) / count
