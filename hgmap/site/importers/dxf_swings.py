"""Doors that swing: arcs of a drawing, and the line that each leaf closes.

A door that swings is drawn as its open leaf and the arc that the leaf's end goes along. Of the two
ends of the arc one is the open leaf's and the other stands where the leaf closes, at the far jamb;
the threshold runs from the hinge (the centre of the arc) to that one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, STRtree

from hgmap.site.importers.dxf_entities import Shape

BOTH_WAYS_DEG: Final = 150.0
"""An arc that sweeps more may be of a leaf that swings both ways."""
SWEEP_DEG: Final = (15.0, 185.0)
"""Arcs that sweep less or more are no doors."""
_BESIDE: Final = 0.15
"""Walls are looked for beyond hinge and end by this share of the width."""
_NEAR: Final = 0.12
"""A line this near (of the width) to a hinge and an end is the leaf."""

Place = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Swing:
    """An arc that a leaf's end may go along: centre, radius (units) and both ends.

    ``turn`` is 1 where it runs counter-clockwise from the first end, else -1.
    """

    hinge: Place
    radius: float
    ends: tuple[Place, Place]
    sweep_deg: float
    turn: int
    shape: Shape


@dataclass(frozen=True, slots=True)
class Door:
    """A door's threshold, and the shape that a message names."""

    line: LineString
    shape: Shape


def swings_of(shapes: Iterable[Shape]) -> list[Swing]:
    """Find arcs that may be doors, in arcs, in bulges of polylines, and where a block is skewed."""
    found: list[Swing] = []
    for shape in shapes:
        if shape.filled:
            continue
        for loop in shape.loops:
            if not isinstance(loop, np.ndarray):
                found += [
                    one for one in _arcs(loop, shape)
                    if SWEEP_DEG[0] <= one.sweep_deg <= SWEEP_DEG[1]
                ]  # fmt: skip
    return found


def thresholds_of(
    swings: Sequence[Swing], shapes: Sequence[Shape], walls: Sequence[Any], notes: list[str]
) -> list[Door]:
    """Return the line that each leaf closes; what cannot be told goes to ``notes``.

    ``walls`` are geometries in the drawing's units; ``shapes`` hold the leaves.
    """
    if not swings:
        return []
    hinges = np.array([one.hinge for one in swings])
    radii = np.array([one.radius for one in swings])
    # the third place is halfway, where a leaf that swings both ways closes
    ends = np.array([(*one.ends, _middle_of_arc(one)) for one in swings])  # (n, 3, 2)
    leaf = _has_leaf(hinges, radii, ends, _straight(shapes))
    off = _off_the_walls(hinges, radii, ends, walls)
    doors: list[Door] = []
    for number, swing in enumerate(swings):
        both_ways = swing.sweep_deg > BOTH_WAYS_DEG
        closing = _closing_end(leaf[number], off[number], both_ways=both_ways)
        if closing is None:
            notes.append(
                f"{swing.shape.label}: a door without a leaf and without a wall at either end of "
                "its arc; it was left out"
            )
            continue
        doors.append(Door(LineString([swing.hinge, ends[number, closing]]), swing.shape))
    return doors


def _closing_end(leaf: NDArray[np.bool_], off: Place, *, both_ways: bool) -> int | None:
    """Tell which end of an arc stands at the jamb: 0, 1, or 2 for halfway; None if nothing tells.

    Parameters
    ----------
    leaf : ndarray of bool, shape (2,)
        Whether a line runs from the hinge to this end.
    off : ndarray, shape (3,)
        How far from walls a threshold to this end would begin and end, as a share of its length.
    both_ways : bool
        Whether the arc is wide enough for a leaf that swings both ways.
    """
    if both_ways and not leaf.any() and off[2] < off[:2].min() - 0.2:
        return 2
    better = int(np.argmin(off[:2]))
    gap = float(abs(off[0] - off[1]))
    if leaf[0] != leaf[1]:
        free = int(leaf[0])  # the end without a line
        # a line across the opening may be the sill: then walls stand at its own end, clearly
        return better if better != free and gap > 0.4 else free
    if gap > 0.05:
        return better
    return better if leaf.any() else None


def _has_leaf(
    hinges: Place, radii: Place, ends: Place, pieces: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell for each arc and end whether some straight piece runs from the hinge to it."""
    found = np.zeros((len(hinges), 2), dtype=bool)
    if not len(pieces):
        return found
    tree = STRtree(shapely.linestrings(pieces))
    for side in (0, 1):
        near = shapely.points(ends[:, side])
        who, which = tree.query(near, predicate="dwithin", distance=_NEAR * radii)
        piece = pieces[which]
        tolerance = _NEAR * radii[who]

        def gap(a: Place, b: Place) -> Place:
            away: Place = np.hypot(*(a - b).T)
            return away

        hinge, end = hinges[who], ends[who, side]
        one_way = (gap(piece[:, 0], hinge) <= tolerance) & (gap(piece[:, 1], end) <= tolerance)
        other = (gap(piece[:, 1], hinge) <= tolerance) & (gap(piece[:, 0], end) <= tolerance)
        found[who[one_way | other], side] = True
    return found


def _off_the_walls(hinges: Place, radii: Place, ends: Place, walls: Sequence[Any]) -> Place:
    """Return how far off the walls a threshold to each end would be, as a share of its length.

    The wall goes on in the line of the threshold, behind the hinge and beyond the end. Where two
    leaves meet, the other leaf's end does for the wall.
    """
    off = np.full((len(hinges), 3), 2.0)
    if not walls:
        return off
    tree = STRtree(walls)
    all_ends = STRtree(shapely.points(ends[:, :2].reshape(-1, 2)))
    for side in (0, 1, 2):
        along = ends[:, side] - hinges
        behind = np.minimum(_distance(tree, hinges - _BESIDE * along) / radii, 1.0)
        beyond = np.minimum(_distance(tree, ends[:, side] + _BESIDE * along) / radii, 1.0)
        who, which = all_ends.query(
            shapely.points(ends[:, side]), predicate="dwithin", distance=0.1 * radii
        )
        apart = np.hypot(*(hinges[which // 2] - hinges[who]).T) > 0.3 * radii[who]
        beyond[who[apart]] = 0.0
        off[:, side] = behind + beyond
    return off


def _distance(tree: STRtree, places: Place) -> Place:
    _, distance = tree.query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    found: Place = np.asarray(distance)
    return found


def _middle_of_arc(swing: Swing) -> Place:
    """Return the point halfway along an arc, true for sweeps up to 180 degrees."""
    first, last = (end - swing.hinge for end in swing.ends)
    across = first + last
    if swing.sweep_deg > 179.9:  # the ends stand opposite
        across = np.array([-first[1], first[0]]) * swing.turn
    middle: Place = swing.hinge + across / np.hypot(*across) * swing.radius
    return middle


def corners_of(shape: Shape) -> list[NDArray[np.float64]]:
    """Return the corners of a shape, of a curve its control points."""
    return [
        loop[:, :2] if isinstance(loop, np.ndarray)
        else np.array([(p.x, p.y) for p in loop.control_vertices()]).reshape(-1, 2)
        for loop in shape.loops
    ]  # fmt: skip


def _straight(shapes: Iterable[Shape]) -> NDArray[np.float64]:
    """Return all straight pieces as an array of shape (n, 2, 2): candidates for leaves."""
    pieces = []
    for shape in shapes:
        for corners in corners_of(shape):
            ring = np.vstack([corners, corners[:1]]) if shape.closed else corners
            if len(ring) > 1:
                pieces.append(np.stack([ring[:-1], ring[1:]], axis=1))
    return np.concatenate(pieces) if pieces else np.empty((0, 2, 2))


def _arcs(curve: Any, shape: Shape) -> list[Swing]:
    """Fit a circle through each run of curves of a path; what fits none is left out."""
    from ezdxf.math import Bezier3P, Bezier4P
    from ezdxf.path import Command

    runs: list[tuple[Place, float, list[Place]]] = []
    before = curve.start
    new = True
    for part in curve.commands():
        if part.type == Command.CURVE4_TO:
            bezier: Any = Bezier4P([before, part.ctrl1, part.ctrl2, part.end])
        elif part.type == Command.CURVE3_TO:
            bezier = Bezier3P([before, part.ctrl, part.end])
        else:
            bezier = None
        before = part.end
        if bezier is None:
            new = True
            continue
        points = np.array([bezier.point(t).xyz[:2] for t in (0.0, 0.25, 0.5, 0.75, 1.0)])
        fitted = _circle(points)
        if fitted is None:
            new = True
            continue
        centre, radius = fitted
        if runs and not new and np.hypot(*(runs[-1][0] - centre)) <= 0.02 * radius:
            runs[-1][2].append(points[1:])
        else:
            runs.append((centre, radius, [points]))
        new = False
    found = []
    for centre, radius, pieces in runs:
        points = np.vstack(pieces)
        x, y = (points - centre).T
        steps = np.arctan2(x[:-1] * y[1:] - y[:-1] * x[1:], x[:-1] * x[1:] + y[:-1] * y[1:])
        turned = math.degrees(steps.sum())
        turn = 1 if turned > 0 else -1
        found.append(Swing(centre, radius, (points[0], points[-1]), abs(turned), turn, shape))
    return found


def _circle(points: Place) -> tuple[Place, float] | None:
    """Return centre and radius of the circle through five points of a curve; None for no circle.

    It goes through the first, the middle and the last, which a curve that stands for an arc meets
    exactly; the others are within 2 % of it.
    """
    local = points - points[0]  # far from the origin squares would lose the digits
    (ax, ay), (bx, by) = local[2], local[4]
    twice = 2 * (ax * by - ay * bx)
    a, b = ax * ax + ay * ay, bx * bx + by * by
    if abs(twice) <= 1e-4 * max(a, b):  # straight, or nearly
        return None
    centre = np.array([by * a - ay * b, ax * b - bx * a]) / twice
    radius = float(np.hypot(*centre))
    off = float(np.abs(np.hypot(*(local - centre).T) - radius).max())
    return None if off > 0.02 * radius else (centre + points[0], radius)
