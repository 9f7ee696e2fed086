"""Hairline gaps between walls: a slip of the drawing that lets two rooms run together.

Every corner and end of a line looks for the nearest line within the tolerance; which of all these
short ways are gaps is found when the ground is parted (:mod:`hgmap.site.rooming.passages`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.outlines import GRID_M
from hgmap.site.rooming.arrangement import (
    Floats,
    Shapes,
    noded,
    segments_of,
    shortest_ways,
)
from hgmap.site.rooming.ground import Ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

SLIT_M2 = 2e-4
"""A slit in a room's edge with less area (m², 2 cm²) is rounding, and stays."""


def drawn_lines(
    ground: Ground, solid: shapely.Geometry, shut: Sequence[LineString], repairs: Repairs
) -> Shapes:
    """Return all lines of a drawing and the edges of its areas, broken where they meet.

    Parameters
    ----------
    ground : Ground
        The drawing.
    solid : shapely.Geometry
        What no space may cover: thick walls, windows, doors in walls.
    shut : sequence of LineString
        Doors that are lines.
    repairs : Repairs
        Takes the joints that miss one another by less than the grid.
    """
    edges = shapely.boundary(solid) if not solid.is_empty else shapely.LineString()
    drawn = [edges, shapely.boundary(ground.extent), *ground.lines, *shut]
    grid_m = GRID_M if _joins(ground.pieces, repairs) else None
    return noded(np.array([one for one in drawn if not one.is_empty], dtype=object), grid_m)


def gap_cuts(lines: Shapes, gap_m: float) -> Floats:
    """Return the short ways, shape (n, 2, 2), from each corner and end to what is near (m)."""
    pieces = segments_of(lines)
    corners = np.unique(pieces.reshape(-1, 2), axis=0)
    _, ways = shortest_ways(corners, pieces, gap_m)
    return ways


def refused_gaps(gaps: Floats, repairs: Repairs) -> NDArray[np.bool_]:
    """List the gaps that are closed, in a steady order, and tell which were refused."""
    refused = np.zeros(len(gaps), dtype=bool)
    for number in np.lexsort(np.round(gaps.mean(axis=1), 3).T).tolist():
        gap = shapely.linestrings(gaps[number])
        text = f"a gap of {1000 * gap.length:.1f} mm in the walls closed"
        refused[number] = not repairs.wants("gap", text, gap, float(gap.length))
    return refused


def _joins(pieces: Shapes, repairs: Repairs) -> bool:
    """Say which walls miss one another by less than the grid of 0.1 mm, and whether to join them.

    Such gaps are the last digits of what once touched; there may be one at every joint.
    """
    if not len(pieces):
        return True
    i, j = STRtree(pieces).query(pieces, predicate="dwithin", distance=GRID_M)
    i, j = i[i < j], j[i < j]
    apart = ~shapely.intersects(pieces[i], pieces[j])
    if not apart.any():
        return True
    ways = shapely.shortest_line(pieces[i[apart]], pieces[j[apart]])
    places = shapely.multipoints(shapely.get_coordinates(shapely.centroid(ways)))
    number = len(ways)
    joints = "a joint of walls" if number == 1 else f"{number} joints of walls"
    text = f"{joints} that missed one another by less than {1000 * GRID_M:g} mm closed, one"
    return repairs.wants("joint", text, places, float(shapely.length(ways).max()))


def are_free(faces: Shapes, solid: shapely.Geometry, extent: shapely.Geometry) -> NDArray[np.bool_]:
    """Tell which faces are neither solid nor outside the extent."""
    points = shapely.point_on_surface(faces)
    free = np.zeros(len(faces), dtype=bool)
    inside, _ = STRtree(shapely.get_parts(extent)).query(points, predicate="intersects")
    free[inside] = True
    in_solid, _ = STRtree(shapely.get_parts(solid)).query(points, predicate="intersects")
    free[in_solid] = False
    return free


def without_slits(spaces: Shapes, settings: Rooming, repairs: Repairs) -> list[Polygon]:
    """Take slits narrower than the tolerance out of the edges of spaces, and leave out crumbs."""
    half = settings.gap_m / 2
    cores = shapely.buffer(spaces, -half, join_style="mitre")
    rounded = shapely.buffer(cores, half, join_style="mitre")
    slits = shapely.difference(spaces, shapely.buffer(rounded, 1e-6, join_style="mitre"))
    found: list[Polygon] = []
    filled: list[shapely.Geometry] = []
    crumbs = shapely.is_empty(cores)
    for space, slit in zip(spaces[~crumbs], slits[~crumbs], strict=True):
        deep = [part for part in shapely.get_parts(slit) if part.area > SLIT_M2]
        if deep:
            rest = space.difference(shapely.buffer(shapely.union_all(deep), 2e-6))
            space = max(shapely.get_parts(rest), key=lambda part: float(part.area))
            filled += deep
        found.append(space)
    narrow = f"narrower than {settings.gap_m:g} m in the edges of rooms"
    if not _wants_areas("slit", narrow, filled, repairs):
        found = spaces[~crumbs].tolist()
    few: list[Polygon] = spaces[crumbs].tolist()
    if not _wants_areas("crumb", f"nowhere wider than {settings.gap_m:g} m", few, repairs):
        found += few
    return found


def _wants_areas(
    rule: str, which: str, areas: Sequence[shapely.Geometry], repairs: Repairs
) -> bool:
    """List many small areas as one repair, and say whether it is made."""
    if not areas:
        return True
    whole = shapely.union_all(areas)
    noun = f"a {rule}" if len(areas) == 1 else f"{len(areas)} {rule}s"
    text = f"{noun} {which}, {10000 * whole.area:.0f} cm² in all, left to the walls;"
    return repairs.wants_all(rule, f"{text} the first" if len(areas) > 1 else text, whole, areas[0])
