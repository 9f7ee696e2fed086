"""Gaps at the end of a wall that were read as no door, though a wall there would part a room.

A short wall before a gap may be a screen in one room, or part two rooms with an open door between
them. It is read as a screen; where the ground on both sides is as large as a room, a person is
asked to look.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
import shapely.affinity
from shapely import Polygon, STRtree

from hgmap.site.rooming.arrangement import (
    Floats,
    Ints,
    Shapes,
    holds_circle,
    lengths_of,
    segments_of,
    shortest_ways,
)
from hgmap.site.rooming.passages import AHEAD, SAME_CORNER_M
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming
from hgmap.site.rooming.wall_ends import wall_ends

LEAST_M2 = 1.2
LEAST_WIDTH_M = 0.9
"""Ground beyond a gap is as large as a room from these on: a toilet. Ours, no source."""

WITHIN = 0.98
"""A way lies in a room where at least this share of its length does: it ends in the room's edge."""


def say_doubtful_doors(
    rooms: Sequence[Polygon], lines: Shapes, settings: Rooming, repairs: Repairs
) -> None:
    """Name each gap as wide as a door within a room, where the room would be two without it.

    Parameters
    ----------
    rooms : sequence of Polygon
        As they were found (m).
    lines : array of LineString
        Walls, noded (m).
    settings : Rooming
        Its ``narrowest_door_m``, ``widest_door_m``, ``thickest_wall_m``.
    repairs : Repairs
        Takes each gap.
    """
    ways = _apart(_ways(lines, settings), settings.thickest_wall_m)
    if not len(ways) or not len(rooms):
        return
    drawn = shapely.linestrings(ways)
    shapes = np.array(rooms, dtype=object)
    room, way = STRtree(drawn).query(shapes, predicate="intersects")
    inside = shapely.length(shapely.intersection(shapes[room], drawn[way]))
    walls = STRtree(lines)
    held = inside >= WITHIN * shapely.length(drawn[way])
    for number in np.unique(room[held]).tolist():
        within = walls.query(rooms[number], predicate="intersects")
        edges = [rooms[number].boundary, *lines[within]]
        for one in _parting(rooms[number], edges, drawn[way[held & (room == number)]]):
            repairs.doubt(
                "gap beside a wall",
                f"a gap of {one.length:.2f} m at the end of a wall, with one room on both sides; "
                "look whether a door parts two rooms there,",
                one,
            )


def _ways(lines: Shapes, settings: Rooming) -> Floats:
    """Return the nearest way ahead of each end of a wall, as wide as a door."""
    ends = wall_ends(lines, settings.thickest_wall_m)
    which, ways = shortest_ways(
        ends.places, segments_of(lines), settings.widest_door_m, SAME_CORNER_M
    )
    length = lengths_of(ways)
    along = (ways[:, 1] - ways[:, 0]) / length[:, None]
    ahead = np.einsum("ij,ij->i", along, ends.ways[which]) >= AHEAD
    which, ways, length = which[ahead], ways[ahead], length[ahead]
    order = np.lexsort((length, which))
    _, first = np.unique(which[order], return_index=True)
    nearest = order[first]
    found: Floats = ways[nearest][length[nearest] >= settings.narrowest_door_m]
    return found


def _apart(ways: Floats, thickest_m: float) -> Floats:
    """Leave one way of those side by side: both faces of a wall look across one gap."""
    middles = shapely.points(ways.mean(axis=1))
    i, j = STRtree(middles).query(middles, predicate="dwithin", distance=thickest_m)
    beside = np.split(j, np.nonzero(np.diff(i))[0] + 1)
    kept: list[int] = []
    free = np.ones(len(ways), dtype=bool)
    for number in np.argsort(lengths_of(ways), kind="stable").tolist():
        if free[number]:
            kept.append(number)
            free[beside[number]] = False
    found: Floats = ways[np.array(kept, dtype=np.int64)]
    return found


def _parting(
    room: Polygon, edges: Sequence[shapely.Geometry], ways: Shapes
) -> list[shapely.LineString]:
    """Return the ways that lie between two parts of a room, each as large as a room."""
    longer = [shapely.affinity.scale(way, 1.001, 1.001) for way in ways.tolist()]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all([*edges, *longer])]))
    faces = faces[shapely.contains(room, shapely.point_on_surface(faces))]
    large: Shapes = faces[(shapely.area(faces) >= LEAST_M2) & holds_circle(faces, LEAST_WIDTH_M)]
    if len(large) < 2:
        return []
    sides: Ints = STRtree(large).query(
        shapely.line_interpolate_point(ways, 0.5, normalized=True), "dwithin", distance=1e-6
    )[0]
    found: list[shapely.LineString] = ways[np.bincount(sides, minlength=len(ways)) == 2].tolist()
    return found
