"""A floor cut into triangles that know their neighbours: what a walk can cross, and what not.

A room is triangulated with its walls cut out of it as slits of no breadth to speak of. Triangles of
one room are neighbours across what is no wall; those of two rooms only through an opening.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from shapely import Polygon

from hgmap.field.passages import DECIMALS, Outline, Passage, find_passages
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLIT_M: Final = 1e-8
"""Half the breadth (m) of the slit that a wall line cuts."""

TOUCHING_M: Final = 0.01
"""A wall that ends closer than this (m) to another or to its room's edge is drawn to touch it."""

ON_EDGE_M: Final = 0.002
"""A wall line this near (m) to its room's edge is the edge."""

GLUED_M: Final = 0.01
"""A passage less deep than this (m) is a line."""


@dataclass(frozen=True)
class Mesh:
    """Triangles, and what lies across their edges; edge k goes from corner k to corner k + 1.

    Attributes
    ----------
    origin : array of shape (2,)
        What was taken off the floor's coordinates (m).
    corner : array of shape (t, 3, 2)
        Counter-clockwise (m, less the origin).
    room : array of shape (t,)
        Position in ``floor.rooms``; -1 inside a thick wall, in a passage.
    passage : array of shape (t,)
        Position in ``floor.openings`` of the passage that a triangle is part of; -1 in a room.
    across, back : arrays of shape (t, 3)
        The neighbour across an edge, -1 for a wall, and which of its edges that is.
    opening : array of shape (t, 3)
        Position of the opening of no depth that an edge is; -1 elsewhere.
    vertex : array of shape (t, 3)
        Corners that a walker takes for one have the same number: both sides of a wall differ.
    place : array of shape (v, 2)
        Of the vertices (m, less the origin).
    beside : array of shape (t, 2)
        The rooms of a passage; the room twice elsewhere.
    """

    origin: Floats
    corner: Floats
    room: Ints
    passage: Ints
    across: Ints
    back: Ints
    opening: Ints
    vertex: Ints
    place: Floats
    beside: Ints

    def bends(self) -> NDArray[np.bool_]:
        """Tell which vertices a shortest walk can bend at: half a turn or more is free there."""
        before, after = np.roll(self.corner, 1, axis=1), np.roll(self.corner, -1, axis=1)
        u, v = after - self.corner, before - self.corner
        angle = np.arctan2(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0], (u * v).sum(axis=-1))
        free = np.bincount(self.vertex.ravel(), angle.ravel(), len(self.place))
        return np.asarray(free > np.pi - 1e-6)


def lay_mesh(floor: Floor) -> Mesh:
    """Triangulate a floor.

    Constrained Delaunay triangulation: Chew (1989), Algorithmica 4, 97-108.
    """
    west, south, east, north = floor.bounds
    origin = np.array([0.5 * (west + east), 0.5 * (south + north)])
    outlines = [Outline.of(room.polygon, origin) for room in floor.rooms]
    passages = find_passages(floor, outlines, origin)
    corner, room = _triangles(_with_slits(floor, outlines, passages, origin))
    number, named = _number_corners(corner, room)
    across, back = _pair_up(number)
    count = len(corner)
    opening = np.full((count, 3), -1, dtype=np.int64)
    edge_at = {
        (int(number[t, k]), int(number[t, (k + 1) % 3])): (int(t), int(k))
        for t, k in np.argwhere(across < 0)
    }

    more: list[Floats] = []
    about: list[tuple[int, int, int]] = []
    links: list[tuple[int, int, int, int, int]] = []
    for one in passages:
        below = _edge_of(one.below, one.below_edge, named, edge_at)
        above = _edge_of(one.above, one.above_edge[::-1], named, edge_at)
        if below is None or above is None:
            continue
        first = count + len(more)
        made = _passage_triangles(one.below_edge, one.above_edge)
        if not made:
            links.append((*below, *above, one.opening))
        elif len(made) == 1:  # the wall is thick at one end only
            edge = 2 if np.array_equal(made[0][2], one.above_edge[1]) else 1
            links += [(*below, first, 0, -1), (*above, first, edge, -1)]
        else:
            links += [(*below, first, 0, -1), (first, 2, first + 1, 0, -1),
                      (*above, first + 1, 1, -1)]  # fmt: skip
        more += made
        about += [(one.opening, one.below, one.above)] * len(made)
    if more:
        corner = np.concatenate([corner, np.stack(more)])
        blank = np.full((len(more), 3), -1, dtype=np.int64)
        across, back, opening = (np.vstack([own, blank]) for own in (across, back, opening))
    for t, k, other, edge, number_of in links:
        across[t, k], back[t, k], across[other, edge], back[other, edge] = other, edge, t, k
        opening[t, k] = opening[other, edge] = number_of
    rest = np.array(about, dtype=np.int64).reshape(-1, 3)
    vertex, place = _vertices(corner, across, back)
    return Mesh(
        origin,
        corner,
        np.concatenate([room, np.full(len(more), -1)]),
        np.concatenate([np.full(count, -1), rest[:, 0]]),
        across,
        back,
        opening,
        vertex,
        place,
        np.vstack([np.column_stack([room, room]), rest[:, 1:]]),
    )


def _with_slits(
    floor: Floor, outlines: Sequence[Outline], passages: Sequence[Passage], origin: Floats
) -> list[shapely.Geometry]:
    """Return the rooms with their walls cut out; a wall is cut away where an opening lies."""
    rooms: list[shapely.Geometry] = [outline.polygon() for outline in outlines]
    shut = [one.line for one in floor.openings if one.state == "sealed"]
    lines = [shapely.transform(line, lambda xy: xy - origin) for line in (*floor.walls, *shut)]
    if not lines:
        return rooms
    doors = [
        shapely.transform(one.line, lambda xy: xy - origin).buffer(1e-3, cap_style="flat")
        for one in floor.openings
        if one.state != "sealed"
    ]
    doors += [
        shapely.MultiPoint(np.vstack([one.below_edge, one.above_edge])).convex_hull.buffer(1e-3)
        for one in passages
    ]
    tree = shapely.STRtree(lines)
    door_tree = shapely.STRtree(doors)
    thresholds: dict[int, list[Floats]] = {}
    for one in passages:
        thresholds.setdefault(one.below, []).append(one.below_edge)
        thresholds.setdefault(one.above, []).append(one.above_edge)
    for index, room in enumerate(rooms):
        near = tree.query(room, predicate="intersects")
        inner = room.buffer(-ON_EDGE_M) if len(near) else None
        if inner is None or inner.is_empty:
            continue
        walls = shapely.union_all([lines[k] for k in near]).intersection(inner)
        cut = door_tree.query(room, predicate="intersects")
        if not walls.is_empty and len(cut):
            walls = walls.difference(shapely.union_all([doors[k] for k in cut]))
        parts = [part for part in shapely.get_parts(shapely.line_merge(walls))
                 if isinstance(part, shapely.LineString) and part.length > SLIT_M]  # fmt: skip
        if parts:
            slits = _slits(parts, room, thresholds.get(index, []))
            rooms[index] = shapely.set_precision(room.difference(slits), 10.0**-DECIMALS)
    return rooms


def _slits(
    parts: list[shapely.LineString], room: shapely.Geometry, thresholds: Sequence[Floats]
) -> shapely.Geometry:
    """Return walls as slits, carried on to what they are drawn to touch."""
    edge = room.boundary
    if thresholds:
        edge = edge.difference(shapely.multilinestrings(thresholds).buffer(SLIT_M))
    slits = []
    for k, part in enumerate(parts):
        others = shapely.union_all([*parts[:k], *parts[k + 1 :]])
        line = shapely.get_coordinates(part)
        slits.append(part)
        for end in (line[0], line[-1]):
            for touched in (edge, others):
                reach = shapely.shortest_line(shapely.Point(end), touched)
                if reach is not None and 0 < reach.length <= TOUCHING_M:
                    there = shapely.get_coordinates(reach)[1]
                    beyond = there + (there - end) * (1e-6 / reach.length)
                    slits.append(shapely.LineString([end, beyond]))
    lines = shapely.get_parts(shapely.line_merge(shapely.union_all(slits)))
    slits = [line.buffer(SLIT_M, cap_style="square", join_style="mitre") for line in lines]
    return shapely.union_all(slits)


def _triangles(rooms: Sequence[shapely.Geometry]) -> tuple[Floats, Ints]:
    parts, owner = shapely.get_parts(np.asarray(rooms, dtype=object), return_index=True)
    keep = np.array([isinstance(p, Polygon) and p.area > 1e-12 for p in parts], dtype=bool)
    parts, owner = parts[keep], owner[keep]
    made, part = shapely.get_parts(shapely.constrained_delaunay_triangles(parts), return_index=True)
    corner = shapely.get_coordinates(made).reshape(-1, 4, 2)[:, :3] + 0.0
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    clockwise = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] < 0
    corner[clockwise] = corner[clockwise][:, ::-1]
    return corner, np.asarray(owner[part], dtype=np.int64)


def _number_corners(corner: Floats, room: Ints) -> tuple[Ints, dict[tuple[float, ...], int]]:
    """Return the number of each corner within its room, and that of every (room, x, y)."""
    rows = np.column_stack([np.repeat(room, 3), corner.reshape(-1, 2)])
    unique, inverse = np.unique(rows, axis=0, return_inverse=True)
    named = {tuple(row): k for k, row in enumerate(unique.tolist())}
    return inverse.reshape(-1, 3).astype(np.int64), named


def _pair_up(number: Ints) -> tuple[Ints, Ints]:
    """Return the neighbour across each edge and which of its edges that is; -1 for none."""
    across, back = np.full(number.shape, -1, dtype=np.int64), np.full(number.shape, -1)
    start, end = number.ravel(), np.roll(number, -1, axis=1).ravel()
    code = np.minimum(start, end) * (int(number.max(initial=0)) + 1) + np.maximum(start, end)
    order = np.argsort(code, kind="stable")
    twins = np.flatnonzero(code[order][1:] == code[order][:-1])
    one, other = order[twins], order[twins + 1]
    for a, b in ((one, other), (other, one)):
        across.ravel()[a], back.ravel()[a] = b // 3, b % 3
    return across, back.astype(np.int64)


def _edge_of(
    room: int,
    edge: Floats,
    named: dict[tuple[float, ...], int],
    edge_at: dict[tuple[int, int], tuple[int, int]],
) -> tuple[int, int] | None:
    """Return the triangle and its edge along a stretch of outline, inside on its left."""
    ends = [named.get((float(room), *map(float, end)), -1) for end in edge]
    # below the opening's line the inside lies on the right of it
    return edge_at.pop((ends[1], ends[0]), None)


def _passage_triangles(below: Floats, above: Floats) -> list[Floats]:
    """Return the triangles between two stretches of outline; none where they touch."""
    along = (below[1] - below[0]) / np.hypot(*(below[1] - below[0]))
    gap = (above - below) @ np.array([-along[1], along[0]])
    if gap.max() <= GLUED_M:
        return []
    if gap[0] < 1e-6:
        return [np.stack([below[0], below[1], above[1]])]
    if gap[1] < 1e-6:
        return [np.stack([below[0], below[1], above[0]])]
    return [np.stack([below[0], below[1], above[1]]), np.stack([below[0], above[1], above[0]])]


def _vertices(corner: Floats, across: Ints, back: Ints) -> tuple[Ints, Floats]:
    t, k = np.nonzero(across >= 0)
    other, edge = across[t, k], back[t, k]
    one = np.concatenate([3 * t + k, 3 * t + (k + 1) % 3])
    same = np.concatenate([3 * other + (edge + 1) % 3, 3 * other + edge])
    size = 3 * len(corner)
    links = sp.coo_array((np.ones(len(one)), (one, same)), shape=(size, size))
    count, label = connected_components(links, directed=False)
    place = np.empty((count, 2))
    place[label] = corner.reshape(-1, 2)
    return label.reshape(-1, 3).astype(np.int64), place
