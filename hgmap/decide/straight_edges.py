"""Edges made of a few straight runs that a crew can tape, never inside the ground they go round."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal

Floats = NDArray[np.float64]

STRAIGHT_M: Final = 0.4
"""An edge is moved outward by no more than about this (m) to be made straight. Our rule, no
source."""

_CLEAR_OF_ROUNDING_M: Final = 1e-7
_LONGEST_MITRE: Final = 3.0
"""Corners that stand out farther than this many tolerances are cut off."""


def straightened(ground: BaseGeometry, room: Polygon, tolerance_m: float) -> BaseGeometry:
    """Return ground of a room with edges of few straight runs, all of it and little more.

    Each ring is simplified (Douglas and Peucker 1973) to half the tolerance, then every run is
    moved outward until nothing of the ring stands out of it. Edges along walls stay on them.

    Parameters
    ----------
    ground : Polygon or MultiPolygon
        Inside the room.
    room : Polygon
    tolerance_m : float
        How far an edge may be moved (m).

    Returns
    -------
    Polygon or MultiPolygon
        It holds all of ``ground``; where straight runs would reach too far it is ``ground``.
    """
    if ground.is_empty:
        return ground
    found = [_one(piece, room, tolerance_m) for piece in shapely.get_parts(ground)]
    return polygonal(shapely.union_all(found))


def _one(piece: Polygon, room: Polygon, tolerance_m: float) -> BaseGeometry:
    if piece.covers(room):
        return piece
    piece = shapely.orient_polygons(piece)
    rings = [_ring(np.asarray(ring.coords), tolerance_m)
             for ring in (piece.exterior, *piece.interiors)]  # fmt: skip
    shell = shapely.make_valid(Polygon(rings[0]), method="structure")
    holes = [
        shapely.make_valid(Polygon(ring), method="structure")
        for ring in rings[1:]
        if LinearRing(ring).is_ccw is False  # one turned inside out has closed
    ]
    straight = shapely.difference(shell, shapely.union_all(holes)) if holes else shell
    straight = polygonal(shapely.intersection(straight, room))
    kept = [one for one in shapely.get_parts(straight) if one.intersects(piece)]
    straight = shapely.union_all(kept)
    if not straight.covers(piece):
        straight = polygonal(shapely.union(straight, piece))
    reach = piece.buffer(_LONGEST_MITRE * tolerance_m, quad_segs=4)
    return straight if straight.is_valid and reach.covers(straight) else piece


def _ring(points: Floats, tolerance_m: float) -> Floats:
    """Return a ring of straight runs right of a ring that has its ground on the left; (n, 2)."""
    points = points[:-1]
    # begin at the corner farthest from the middle: where a ring begins stays a corner
    first = int(np.argmax(((points - points.mean(axis=0)) ** 2).sum(axis=1)))
    points = np.roll(points, -first, axis=0)
    closed = np.vstack([points, points[:1]])
    kept = np.asarray(LinearRing(closed).simplify(0.5 * tolerance_m).coords)
    corner = _places(kept, closed)
    if len(corner) < 4:
        return closed
    start, end = closed[corner[:-1]], closed[corner[1:]]
    along = end - start
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    # how far each point of the ring stands out of its run
    run = np.repeat(np.arange(len(start)), np.diff(corner))
    out_by = np.einsum("ij,ij->i", closed[:-1] - start[run], outward[run])
    shift = np.maximum.reduceat(np.maximum(out_by, 0.0), corner[:-1]) + _CLEAR_OF_ROUNDING_M
    return _joined(start, along, outward, shift, _LONGEST_MITRE * tolerance_m)


def _joined(
    start: Floats, along: Floats, outward: Floats, shift: Floats, longest_m: float
) -> Floats:
    """Return the ring that runs moved outward make: where two meet, else over the corner."""
    moved = start + outward * shift[:, None]
    before = np.roll(along, 1, axis=0)
    moved_before = np.roll(moved, 1, axis=0)
    gap = moved - moved_before
    turn = before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (gap[:, 0] * along[:, 1] - gap[:, 1] * along[:, 0]) / turn
        meet = moved_before + before * share[:, None]
        far = np.hypot(*(meet - start).T)
    ends = start + np.roll(outward * shift[:, None], 1, axis=0)
    out: list[Floats] = []
    for k, apart in enumerate(far):
        out += [meet[k]] if apart <= longest_m else [ends[k], moved[k]]
    return np.vstack([*out, out[0]])


def _places(kept: Floats, points: Floats) -> list[int]:
    """Return where the kept points stand among all, in their order; none where they do not."""
    where = {place: k for k, place in enumerate(map(tuple, points[:-1].tolist()))}
    found = [where.get(place, -1) for place in map(tuple, kept[:-1].tolist())]
    if any(b <= a for a, b in pairwise([-1, *found])):
        return []
    return [*found, len(points) - 1]
