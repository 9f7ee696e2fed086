"""Doors that swing: arcs of a drawing, and the line that each leaf closes.

A door that swings is drawn as its open leaf and the arc that the leaf's end goes along. Of the two
ends of the arc one is the open leaf's and the other stands where the leaf closes, at the far jamb;
the threshold runs from the hinge (the centre of the arc) to that one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, STRtree

from hgmap.site.importers.dxf_curves import corners
from hgmap.site.importers.dxf_entities import Shape
from hgmap.site.importers.dxf_swings import Swing

BOTH_WAYS_DEG: Final = 150.0
"""An arc that sweeps more may be of a leaf that swings both ways."""
_BESIDE: Final = 0.15
"""Walls are looked for beyond hinge and end by this share of the width."""
_NEAR: Final = 0.12
"""A line this near (of the width) to a hinge and an end is the leaf."""

Place = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Door:
    """A door's threshold, and the shape that a message names."""

    line: LineString
    shape: Shape


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
    ends = np.stack([*np.swapaxes([one.ends for one in swings], 0, 1), _middles(swings)], axis=1)
    both_ways = np.array([one.sweep_deg > BOTH_WAYS_DEG for one in swings])
    leaf = _has_leaf(hinges, radii, ends, straight_pieces(shapes))
    off = _off_the_walls(hinges, radii, ends, walls, both_ways)
    closing = _closing_ends(leaf, off, both_ways)
    lines = shapely.linestrings(
        np.stack([hinges, ends[np.arange(len(swings)), closing]], axis=1)
    ).tolist()
    doors: list[Door] = []
    for swing, line, end in zip(swings, lines, closing.tolist(), strict=True):
        if end < 0:
            notes.append(
                f"{swing.shape.label}: a door without a leaf and without a wall at either end of "
                "its arc; it was left out"
            )
        else:
            doors.append(Door(line, swing.shape))
    return doors


def _closing_ends(
    leaf: NDArray[np.bool_], off: Place, both_ways: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """Tell which end of each arc stands at the jamb: 0, 1, 2 for halfway; -1 if nothing tells.

    Parameters
    ----------
    leaf : ndarray of bool, shape (n, 2)
        Whether a line runs from the hinge to this end.
    off : ndarray, shape (n, 3)
        How far from walls a threshold to this end would begin and end, as a share of its length.
    both_ways : ndarray of bool, shape (n,)
        Whether the arc is wide enough for a leaf that swings both ways.
    """
    has_leaf = leaf.any(axis=1)
    better = np.argmin(off[:, :2], axis=1)
    gap = np.abs(off[:, 0] - off[:, 1])
    free = leaf[:, 0].astype(np.int64)  # the end without a line
    # a line across the opening may be the sill: then walls stand at its own end, clearly
    at_sill = np.where((better != free) & (gap > 0.4), better, free)
    told = (gap > 0.05) | has_leaf
    closing = np.where(leaf[:, 0] != leaf[:, 1], at_sill, np.where(told, better, -1))
    halfway = both_ways & ~has_leaf & (off[:, 2] < off[:, :2].min(axis=1) - 0.2)
    found: NDArray[np.int64] = np.where(halfway, 2, closing)
    return found


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


def _off_the_walls(
    hinges: Place, radii: Place, ends: Place, walls: Sequence[Any], both_ways: NDArray[np.bool_]
) -> Place:
    """Return how far off the walls a threshold to each end would be, as a share of its length.

    The wall goes on in the line of the threshold, behind the hinge and beyond the end. Where two
    leaves meet, the other leaf's end does for the wall. Only leaves that may swing both ways are
    looked at halfway.
    """
    off = np.full((len(hinges), 3), 2.0)
    if not walls:
        return off
    tree = STRtree(walls)
    all_ends = STRtree(shapely.points(ends[:, :2].reshape(-1, 2)))
    for side in (0, 1, 2):
        these = np.flatnonzero(both_ways) if side == 2 else np.arange(len(hinges))
        hinge, end, radius = hinges[these], ends[these, side], radii[these]
        along = end - hinge
        behind = np.minimum(_distance(tree, hinge - _BESIDE * along) / radius, 1.0)
        beyond = np.minimum(_distance(tree, end + _BESIDE * along) / radius, 1.0)
        who, which = all_ends.query(shapely.points(end), predicate="dwithin", distance=0.1 * radius)
        apart = np.hypot(*(hinges[which // 2] - hinge[who]).T) > 0.3 * radius[who]
        beyond[who[apart]] = 0.0
        off[these, side] = behind + beyond
    return off


def _distance(tree: STRtree, places: Place) -> Place:
    _, distance = tree.query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    found: Place = np.asarray(distance)
    return found


def _middles(swings: Sequence[Swing]) -> Place:
    """Return the point halfway along each arc, true for sweeps up to 180 degrees."""
    hinges = np.array([one.hinge for one in swings])
    first, last = np.swapaxes([one.ends for one in swings], 0, 1) - hinges
    opposite = np.array([one.sweep_deg > 179.9 for one in swings])
    turn = np.array([one.turn for one in swings])
    square = np.stack([-first[:, 1], first[:, 0]], axis=1) * turn[:, None]
    across = np.where(opposite[:, None], square, first + last)
    radii = np.array([one.radius for one in swings])
    found: Place = hinges + across * (radii / np.hypot(across[:, 0], across[:, 1]))[:, None]
    return found


def straight_pieces(shapes: Iterable[Shape]) -> Place:
    """Return all straight pieces as an array of shape (n, 2, 2): candidates for leaves."""
    loops = [(corners(loop), shape.closed) for shape in shapes for loop in shape.loops]
    loops = [one for one in loops if len(one[0])]
    if not loops:
        return np.empty((0, 2, 2))
    number = np.array([len(places) for places, _ in loops])
    last = np.cumsum(number) - 1
    places = np.concatenate([places for places, _ in loops])[:, :2]
    following = np.arange(1, len(places) + 1)
    following[last] = last - number + 1
    there = np.ones(len(places), dtype=bool)
    there[last] = [closed for _, closed in loops]
    return np.stack([places, places[following]], axis=1)[there]
