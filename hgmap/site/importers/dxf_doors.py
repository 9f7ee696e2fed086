"""Doors of a drawing: those that swing, and those that slide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, STRtree

from hgmap.site.importers.dxf_curves import corners
from hgmap.site.importers.dxf_entities import Shape
from hgmap.site.importers.dxf_heights import boxes_of
from hgmap.site.importers.dxf_swings import Swing
from hgmap.site.importers.dxf_thresholds import Door, thresholds_of

SWING_M: Final = (0.3, 3.0)
"""A leaf is so wide (m)."""
SLIDING_M: Final = (0.5, 6.0)
"""A sliding door is so long (m), and"""
SLIDING_DEPTH_M: Final = 0.4
"""so deep at most (m), with its frame."""
_TOUCHING_M: Final = 0.05
"""Lines of a sliding door that are nearer than this (m) belong together."""


def widths_of(swings: Sequence[Swing], shapes: Sequence[Shape], *, enough: int) -> list[float]:
    """Return how wide the doors are (units): of arcs, and where those are too few of sliding ones.

    Of those count long thin blocks, and closed lines that are long and thin; frames do not.
    """
    widths = [one.radius for one in swings]
    if len(widths) >= enough:
        return widths
    figures: dict[int, list[NDArray[np.float64]]] = {}
    for number, shape in enumerate(_without_swing(swings, shapes)):
        if shape.group or shape.closed:
            figures.setdefault(shape.group or -1 - number, []).extend(_corners(shape))
    sides = [_mid_line(np.vstack(corners))[1:] for corners in figures.values()]
    lengths = [length for length, depth in sides if 0 < depth <= length / 3]
    longest = max([*lengths, *widths], default=0.0)
    return widths + [length for length in lengths if length > longest / 3]


def doors_of(
    swings: Sequence[Swing], shapes: Sequence[Shape], walls: Sequence[Any], *, metres: float
) -> tuple[list[Door], list[str]]:
    """Return every door's threshold (units of the drawing), and a line for each that has none.

    Parameters
    ----------
    swings : sequence of Swing
        What :func:`swings_of` found in ``shapes``.
    shapes : sequence of Shape
        All that lies on door layers.
    walls : sequence of shapely.Geometry
        Walls, or outlines of rooms, in units.
    metres : float
        Length of a unit.
    """
    notes: list[str] = []
    fitting = [one for one in swings if SWING_M[0] <= one.radius * metres <= SWING_M[1]]
    notes += [
        f"{one.shape.label}: an arc of {one.radius * metres:.2f} m is no door"
        for one in swings
        if not SWING_M[0] <= one.radius * metres <= SWING_M[1]
    ]
    doors = thresholds_of(fitting, shapes, walls, notes)
    rest = _without_swing(fitting, shapes)
    doors += _sliding(rest, metres, notes)
    return _once(doors, metres), notes


def _without_swing(swings: Sequence[Swing], shapes: Sequence[Shape]) -> list[Shape]:
    """Return the shapes that belong to no door that swings: not of its block, nor in its reach."""
    groups = {one.shape.group for one in swings} - {0}
    left = [shape for shape in shapes if shape.group not in groups]
    if not swings or not left:
        return left
    tree = STRtree(shapely.points([one.hinge for one in swings]))
    reach = np.array([one.radius * 1.2 for one in swings])
    boxes = boxes_of(left)
    middles = (boxes[:, :2] + boxes[:, 3:5]) / 2
    swing, which = tree.query(
        shapely.points(middles), predicate="dwithin", distance=float(reach.max())
    )[::-1]
    near = np.hypot(*(middles[which] - np.array([one.hinge for one in swings])[swing]).T)
    taken = set(which[near <= reach[swing]].tolist())
    return [shape for number, shape in enumerate(left) if number not in taken]


def _sliding(shapes: Sequence[Shape], metres: float, notes: list[str]) -> list[Door]:
    """Take long thin figures without an arc for sliding doors: the line along their middle."""
    doors: list[Door] = []
    for figure in _figures(shapes, _TOUCHING_M / metres):
        line, length, depth = _mid_line(np.vstack([c for one in figure for c in _corners(one)]))
        length, depth = length * metres, depth * metres
        thin = depth <= min(SLIDING_DEPTH_M, length / 2)
        if line is not None and thin and SLIDING_M[0] <= length <= SLIDING_M[1]:
            doors.append(Door(line, figure[0]))
        elif length >= SLIDING_M[0]:  # shorter ones are frames and handles
            notes.append(
                f"{figure[0].label}: {length:.2f} × {depth:.2f} m without an arc is neither a door "
                "that swings nor one that slides; it was left out"
            )
    return doors


def _figures(shapes: Sequence[Shape], touching: float) -> list[list[Shape]]:
    """Put shapes of one block together, and loose ones that touch."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if not shapes:
        return []
    lines = [
        shapely.multipoints(corners[0]) if len(corners[0]) < 2 else LineString(corners[0])
        for corners in map(_corners, shapes)
    ]
    one, other = STRtree(lines).query(lines, predicate="dwithin", distance=touching)
    loose = np.array([shape.group == 0 for shape in shapes])
    kept = loose[one] & loose[other]
    first: dict[int, int] = {}
    same = [
        (number, first.setdefault(shape.group, number))
        for number, shape in enumerate(shapes)
        if shape.group
    ]
    rows = np.concatenate([one[kept], np.array([a for a, _ in same], dtype=np.intp)])
    columns = np.concatenate([other[kept], np.array([b for _, b in same], dtype=np.intp)])
    n = len(shapes)
    _, part = connected_components(coo_array((np.ones(len(rows)), (rows, columns)), shape=(n, n)))
    figures: dict[int, list[Shape]] = {}
    for shape, number in zip(shapes, part.tolist(), strict=True):
        figures.setdefault(number, []).append(shape)
    return list(figures.values())


def _corners(shape: Shape) -> list[NDArray[np.float64]]:
    """Return the corners of a shape, of a curve its control points, seen from above."""
    return [corners(loop)[:, :2] for loop in shape.loops]


def _mid_line(corners: NDArray[np.float64]) -> tuple[LineString | None, float, float]:
    """Return the line along the middle of the smallest rectangle round points, and its sides."""
    origin = corners[0]
    around = shapely.minimum_rotated_rectangle(shapely.multipoints(corners - origin))
    if isinstance(around, LineString):
        return LineString(shapely.get_coordinates(around) + origin), float(around.length), 0.0
    if not isinstance(around, shapely.Polygon):
        return None, 0.0, 0.0
    a, b, c, d = shapely.get_coordinates(around)[:4]
    if np.hypot(*(b - a)) < np.hypot(*(c - b)):
        a, b, c, d = b, c, d, a
    length, depth = float(np.hypot(*(b - a))), float(np.hypot(*(c - b)))
    return LineString([(a + d) / 2 + origin, (b + c) / 2 + origin]), length, depth


def _once(doors: Sequence[Door], metres: float) -> list[Door]:
    """Drop a door that is drawn twice at one place."""
    if not doors:
        return []
    lines = np.array([door.line for door in doors], dtype=object)
    drawn = [shapely.get_coordinates(shapely.get_point(lines, end)) for end in (0, -1)]
    ends = np.round(np.stack(drawn, axis=1) * metres / _TOUCHING_M) + 0.0  # one zero only
    x, y = np.moveaxis(ends, 2, 0)
    turned = (x[:, 0] > x[:, 1]) | ((x[:, 0] == x[:, 1]) & (y[:, 0] > y[:, 1]))
    ends[turned] = ends[turned, ::-1]
    _, first = np.unique(ends.reshape(-1, 4), axis=0, return_index=True)
    return [doors[number] for number in np.sort(first).tolist()]
