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
    holds_circle,
    noded,
    places_of,
    segments_of,
    shortest_ways,
)
from hgmap.site.rooming.ground import Ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

SLIT_M = 5e-4
"""A slit nowhere wider than this (m) is not told: a few steps of the grid."""

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
    corners, _ = places_of(pieces.reshape(-1, 2))
    _, ways = shortest_ways(corners, pieces, gap_m)
    return ways


def refused_gaps(gaps: Floats, repairs: Repairs) -> NDArray[np.bool_]:
    """List the gaps that are closed, in a steady order, and tell which were refused."""
    refused = np.zeros(len(gaps), dtype=bool)
    drawn = shapely.linestrings(gaps)
    lengths = shapely.length(drawn).tolist()
    for number in np.lexsort(np.round(gaps.mean(axis=1), 3).T).tolist():
        text = f"a gap of {1000 * lengths[number]:.1f} mm in the walls closed"
        refused[number] = not repairs.wants("gap", text, drawn[number], lengths[number])
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


def without_slits(
    spaces: Shapes, hairlines: Floats, settings: Rooming, repairs: Repairs
) -> list[Polygon]:
    """Take slits narrower than the tolerance out of the edges of spaces, and leave out crumbs.

    Parameters
    ----------
    spaces : array of Polygon
        In metres.
    hairlines : array of shape (n, 2, 2)
        Places narrower than the tolerance: no slit is without one.
    settings : Rooming
        Its ``gap_m``.
    repairs : Repairs
        Takes slits and crumbs, each sort as one.
    """
    whole = holds_circle(spaces, settings.gap_m)
    crumbs, spaces = spaces[~whole], spaces[whole]
    half = settings.gap_m / 2
    slit_in, _ = STRtree(shapely.linestrings(hairlines)).query(spaces, predicate="intersects")
    some = np.unique(slit_in)
    rounded = shapely.buffer(spaces[some], -half, join_style="mitre")
    rounded = shapely.buffer(rounded, half + 1e-6, join_style="mitre")
    slits = shapely.difference(spaces[some], rounded)
    parts, owner = shapely.get_parts(slits, return_index=True)
    deep = shapely.area(parts) > SLIT_M2
    filled = parts[deep][holds_circle(parts[deep], SLIT_M)].tolist()
    narrow = f"narrower than {settings.gap_m:g} m in the edges of rooms"
    if _wants_areas("slit", narrow, filled, repairs):
        for number in np.unique(owner[deep]).tolist():
            cut = shapely.union_all(parts[deep & (owner == number)])
            rest = shapely.get_parts(spaces[some[number]].difference(shapely.buffer(cut, 2e-6)))
            spaces[some[number]] = max(rest, key=lambda part: float(part.area))
    found: list[Polygon] = spaces.tolist()
    few: list[Polygon] = crumbs.tolist()
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
