"""Doors that are drawn as points, laid along the nearest edge of a room."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

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


def lay_doors(
    points: Iterable[tuple[str, Point]], rooms: Sequence[Polygon]
) -> tuple[list[LineString], list[str]]:
    """Lay each door along the nearest edge, and list those that are too far from one.

    Parameters
    ----------
    points : iterable of (str, Point)
        What a message calls the door, and its place (m).
    rooms : sequence of Polygon
        The rooms of the floor (m).

    Returns
    -------
    lines : list of LineString
        Openings 0.9 m long, centred on the door and clipped to their edge.
    skipped : list of str
        One line for each door that is farther than 1 m from every edge.
    """
    edges = [edge for room in rooms for edge in straight_edges(room)]
    tree = STRtree(edges)
    lines: list[LineString] = []
    skipped: list[str] = []
    for label, point in points:
        _, nearest = tree.query_nearest(point, return_distance=True)
        distance = float(nearest[0])
        if distance > DOOR_REACH_M:
            skipped.append(
                f"{label}: a door {distance:.2f} m from the nearest room edge, at x {point.x:.2f}, "
                f"y {point.y:.2f} m"
            )
            continue
        near = tree.query(point, predicate="dwithin", distance=distance + AS_NEAR_M)
        found = [_along(edges[index], point) for index in sorted(int(one) for one in near)]
        lines.append(max(found, key=lambda line: round(line.length, 3)))
    return lines, skipped


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


def _along(edge: LineString, door: Point) -> LineString:
    middle = edge.project(door)
    low = max(0.0, middle - DOOR_WIDTH_M / 2)
    high = min(edge.length, middle + DOOR_WIDTH_M / 2)
    return substring(edge, low, high)
