"""Doors that are drawn as points, laid along the nearest edge of a room."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import numpy as np
import shapely
from shapely import LineString, Point, Polygon, STRtree
from shapely.ops import substring

DOOR_WIDTH_M = 0.9
"""Width (m) of a door that is only a point; common practice, no source."""

DOOR_REACH_M = 1.0
"""A door farther than this (m) from every room edge belongs to none of them."""

STRAIGHT_M = 0.02
"""Corners that leave the straight line by less than this (m) do not end an edge."""

AS_NEAR_M = 0.05
"""Edges that are nearer or farther by this (m) are equally near; the longest opening wins."""


class Edges:
    """The straight edges of a floor's rooms, to lay doors along.

    Parameters
    ----------
    rooms : iterable of Polygon
        The rooms of the floor (m).
    """

    def __init__(self, rooms: Iterable[Polygon]) -> None:
        self._edges = [edge for room in rooms for edge in straight_edges(room)]
        self._tree = STRtree(self._edges)

    def lay(self, door: Point, width_m: float = DOOR_WIDTH_M) -> tuple[LineString | None, float]:
        """Lay a door along the nearest edge.

        Parameters
        ----------
        door : Point
            The middle of the door (m).
        width_m : float
            Its width (m).

        Returns
        -------
        line : LineString or None
            An opening as long as the door is wide, centred on it and clipped to its edge; None
            where the nearest edge is farther than 1 m.
        distance : float
            How far (m) that edge is.
        """
        _, nearest = self._tree.query_nearest(door, return_distance=True)
        distance = float(nearest[0])
        if distance > DOOR_REACH_M:
            return None, distance
        near = self._tree.query(door, predicate="dwithin", distance=distance + AS_NEAR_M)
        found = [
            _along(self._edges[index], door, width_m) for index in sorted(int(one) for one in near)
        ]
        return max(found, key=lambda line: round(line.length, 3)), distance


def straight_edges(room: Polygon) -> list[LineString]:
    """Split a room's outline (and its holes) into straight edges.

    Examples
    --------
    >>> len(straight_edges(Polygon([(0, 0), (2, 0.001), (4, 0), (4, 3), (0, 3)])))
    4
    """
    edges: list[LineString] = []
    for ring in (room.exterior, *room.interiors):
        corners = shapely.get_coordinates(_simpler(ring))
        edges += [
            LineString([start, end])
            for start, end in itertools.pairwise(corners)
            if np.hypot(*(end - start)) > 0
        ]
    return edges


def _simpler(ring: LineString) -> LineString:
    """Drop the corners that are none; also the first, which simplify never drops by itself."""
    corners = shapely.get_coordinates(ring)[:-1]
    centre = corners.mean(axis=0)
    start = int(np.argmax(np.hypot(*(corners - centre).T)))  # the farthest is a true corner
    turned = np.vstack([corners[start:], corners[: start + 1]])
    return LineString(turned).simplify(STRAIGHT_M, preserve_topology=False)


def width_of(door: Polygon) -> float:
    """Return how wide (m) a door is that was drawn as an area: its long side.

    Examples
    --------
    >>> width_of(shapely.box(0, 0, 0.2, 0.9))
    0.9
    """
    box = shapely.minimum_rotated_rectangle(door)
    corners = shapely.get_coordinates(box)
    return float(max(np.hypot(*(b - a)) for a, b in itertools.pairwise(corners[:3])))


def _along(edge: LineString, door: Point, width_m: float) -> LineString:
    middle = edge.project(door)
    low = max(0.0, middle - width_m / 2)
    high = min(edge.length, middle + width_m / 2)
    return substring(edge, low, high)
