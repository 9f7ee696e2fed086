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
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree

from hgmap.site.rooming.arrangement import Floats, Ints, Shapes, holds_circle, lengths_of
from hgmap.site.rooming.passages import Parted
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

LEAST_M2 = 1.2
LEAST_WIDTH_M = 0.9
"""Ground beyond a gap is as large as a room from these on: a toilet. Ours, no source."""


def say_doubtful_doors(
    rooms: Sequence[Polygon], lines: Shapes, parted: Parted, settings: Rooming, repairs: Repairs
) -> None:
    """Name each gap as wide as a door within a room, where the room would be two without it.

    Parameters
    ----------
    rooms : sequence of Polygon
        As they were found (m).
    lines : array of LineString
        Noded: all that stops air (m).
    parted : Parted
        The ground that they come from.
    settings : Rooming
        Its ``narrowest_door_m``, ``thickest_wall_m``.
    repairs : Repairs
        Takes each gap.
    """
    wide = lengths_of(parted.ahead) >= settings.narrowest_door_m
    ways, no_door = _apart(parted.ahead[wide], parted.no_door[wide], settings.thickest_wall_m)
    if not no_door.any() or not len(rooms):
        return
    way, room = STRtree(list(rooms)).query(shapely.points(ways.mean(axis=1)), predicate="within")
    walls = STRtree(lines)
    for number in np.unique(room[no_door[way]]).tolist():
        edges = [rooms[number].boundary, *lines[walls.query(rooms[number], "intersects")]]
        for one in _parting(rooms[number], edges, shapely.linestrings(ways[way[room == number]])):
            repairs.doubt(
                "gap beside a wall",
                f"a gap of {one.length:.2f} m at the end of a wall, with one room on both sides; "
                "look whether a door parts two rooms there,",
                one,
            )


def _apart(
    ways: Floats, no_door: NDArray[np.bool_], thickest_m: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Leave one way of those side by side: both faces of a wall look across one gap."""
    middles = shapely.points(ways.mean(axis=1))
    i, j = STRtree(middles).query(middles, predicate="dwithin", distance=thickest_m)
    beside = np.split(j, np.nonzero(np.diff(i))[0] + 1)
    free = np.ones(len(ways), dtype=bool)
    kept: list[int] = []
    for number in np.argsort(lengths_of(ways), kind="stable").tolist():
        if free[number]:
            kept.append(number)
            free[beside[number]] = False
    chosen = np.array(kept, dtype=np.int64)
    return ways[chosen], no_door[chosen]


def _parting(room: Polygon, edges: Sequence[shapely.Geometry], ways: Shapes) -> list[LineString]:
    """Return the ways that lie between two parts of a room, each as large as a room."""
    longer = [shapely.affinity.scale(way, 1.001, 1.001) for way in ways.tolist()]
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all([*edges, *longer])]))
    faces = faces[shapely.contains(room, shapely.point_on_surface(faces))]
    large: Shapes = faces[(shapely.area(faces) >= LEAST_M2) & holds_circle(faces, LEAST_WIDTH_M)]
    if len(large) < 2:
        return []
    middles = shapely.line_interpolate_point(ways, 0.5, normalized=True)
    sides: Ints = STRtree(large).query(middles, "dwithin", distance=1e-6)[0]
    found: list[LineString] = ways[np.bincount(sides, minlength=len(ways)) == 2].tolist()
    return found
