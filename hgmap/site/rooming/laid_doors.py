"""Doors that fill no gap as drawn: points, swung leaves, arcs, and leaves beside their wall."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.doors import DOOR_WIDTH_M, Edges
from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundOpening
from hgmap.site.importers.outlines import length_words
from hgmap.site.rooming.arrangement import Shapes
from hgmap.site.rooming.doors import Leaf, leaf_of
from hgmap.site.rooming.ground import Ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

AT_GAP_M = 0.3
"""A door drawn no farther than this (m) from a gap in the walls is the door of that gap: a leaf
swings about its end. Ours, no source."""

STRAIGHT = 0.98
"""A line is one leaf, and no arc, where its ends are so many of its lengths apart."""


def sort_doors(ground: Ground, settings: Rooming) -> tuple[list[Leaf], list[Part]]:
    """Tell doors that fill their gap as drawn from those whose place must be found.

    Returns
    -------
    filling : list of Leaf
        Areas that touch a wall, and straight lines from wall to wall.
    other : list of Part
        The rest, in order.
    """
    walls = [*shapely.get_parts(ground.solid).tolist(), *ground.lines]
    filling: list[Leaf] = []
    other: list[Part] = []
    if not walls:
        return filling, list(ground.doors)
    tree = STRtree(walls)
    # leaves of a double door touch one another: one of them stands at the wall
    areas = [one.geometry for one in ground.doors if isinstance(one.geometry, Polygon)]
    blocks = shapely.get_parts(shapely.union_all(shapely.buffer(areas, settings.gap_m / 2)))
    at_wall, _ = tree.query(blocks, predicate="dwithin", distance=settings.gap_m / 2)
    tied = STRtree(blocks[np.unique(at_wall)])
    shapes = np.array([part.geometry for part in ground.doors], dtype=object)
    at_block, _ = tied.query(shapes, predicate="intersects")
    at_walls = np.zeros(len(shapes), dtype=bool)
    at_walls[at_block] = True
    spans = _spanning(shapes, tree, settings.gap_m)
    across = iter(_straightened(shapes[spans]))
    for part, is_tied, spanned in zip(ground.doors, at_walls.tolist(), spans.tolist(), strict=True):
        shape = part.geometry
        line = next(across) if spanned else None
        if isinstance(shape, Polygon) and is_tied:
            filling.append(leaf_of(part, shape))
        elif line is not None:
            filling.append(Leaf(part, line, 0.0))
        else:
            other.append(part)
    return filling, other


def _spanning(shapes: Shapes, tree: STRtree, gap_m: float) -> NDArray[np.bool_]:
    """Tell which shapes are straight lines from wall to wall, with no wall at their middle."""
    is_line = shapely.get_type_id(shapes) == shapely.GeometryType.LINESTRING
    number = np.flatnonzero(is_line & (shapely.length(shapes) > 2 * gap_m))
    ends = [shapely.get_point(shapes[number], end) for end in (0, -1)]
    straight = shapely.distance(*ends) >= STRAIGHT * shapely.length(shapes[number])
    number, ends = number[straight], [one[straight] for one in ends]
    middle = shapely.line_interpolate_point(shapes[number], 0.5, normalized=True)
    first, last, between = (_near(tree, places, gap_m) for places in (*ends, middle))
    found = np.zeros(len(shapes), dtype=bool)
    found[number] = first & last & ~between
    return found


def _straightened(lines: Shapes) -> list[LineString]:
    """Return lines from the first to the last place of each."""
    ends = [shapely.get_coordinates(shapely.get_point(lines, end)) for end in (0, -1)]
    found: list[LineString] = shapely.linestrings(np.stack(ends, axis=1)).tolist()
    return found


def _near(tree: STRtree, places: Shapes, reach_m: float) -> NDArray[np.bool_]:
    found = np.zeros(len(places), dtype=bool)
    found[tree.query(places, predicate="dwithin", distance=reach_m)[0]] = True
    return found


def at_gaps(
    gaps: Sequence[LineString], doors: Sequence[Part], settings: Rooming, repairs: Repairs
) -> tuple[list[FoundOpening], list[Part]]:
    """Give gaps between walls the doors that are drawn at them.

    Returns
    -------
    openings : list of FoundOpening
        One a gap.
    left : list of Part
        Doors at no gap.
    """
    openings = [FoundOpening(gap, label="a gap in the walls") for gap in gaps]
    for gap in gaps:
        if gap.length < settings.narrowest_door_m:
            repairs.doubt(
                "narrow opening",
                f"an opening of {length_words(gap.length)} between two rooms, narrower than a "
                "door; look whether the wall is whole there,",
                gap,
            )
    left: list[Part] = []
    tree = STRtree(list(gaps))
    for part in doors:
        near = tree.query(part.geometry, predicate="dwithin", distance=AT_GAP_M)
        if not len(near):
            left.append(part)
            continue
        best = min(near.tolist(), key=lambda n: (float(gaps[n].distance(part.geometry)), n))
        if openings[best].label == "a gap in the walls":
            openings[best] = FoundOpening(gaps[best], part.state, part.id, part.label)
    return openings, left


def lay_doors(
    doors: Sequence[Part], rooms: Sequence[Polygon], settings: Rooming, repairs: Repairs
) -> list[Leaf]:
    """Lay doors on the nearest wall, in the middle of it.

    Parameters
    ----------
    doors : sequence of Part
        Drawn at no gap.
    rooms : sequence of Polygon
        The rooms found (m).
    settings : Rooming
        Its ``door_reach_m``, ``gap_m``, ``thickest_wall_m``.
    repairs : Repairs
        Takes each door that is moved, or is too far from every wall.
    """
    if not doors or not rooms:
        return []
    edges = Edges(rooms)
    tree = STRtree(list(rooms))
    laid: list[Leaf] = []
    for part in doors:
        middle, width = _middle_and_width(part)
        line, _ = edges.lay(middle, width)
        distance = float(line.distance(middle)) if line is not None else np.inf
        if line is None or distance > settings.door_reach_m:
            repairs.remark(
                f"{part.label}: a door farther than {settings.door_reach_m:g} m from every room's "
                "edge, not used,",
                middle,
            )
            continue
        leaf = _in_its_wall(part, line, rooms, tree, settings)
        moved = max(0.0, float(leaf.line.distance(middle)) - leaf.thickness_m / 2)
        way = shapely.shortest_line(middle, leaf.line)
        text = f"{part.label}: a door laid on the wall {moved:.2f} m away"
        if moved <= settings.gap_m or repairs.wants("door moved", text, way, moved):
            laid.append(leaf)
    return laid


def _middle_and_width(part: Part) -> tuple[shapely.Point, float]:
    shape = part.geometry
    if isinstance(shape, Polygon):
        leaf = leaf_of(part, shape)
        return leaf.line.interpolate(0.5, normalized=True), float(leaf.line.length)
    if isinstance(shape, LineString):
        ends = shapely.points([shape.coords[0], shape.coords[-1]])
        chord = float(shapely.distance(*ends))
        return shape.interpolate(0.5, normalized=True), chord or DOOR_WIDTH_M
    return shapely.centroid(shape), DOOR_WIDTH_M


def _in_its_wall(
    part: Part,
    line: LineString,
    rooms: Sequence[Polygon],
    tree: STRtree,
    settings: Rooming,
) -> Leaf:
    """Move a door from the edge of one room into the middle between two."""
    middle = line.interpolate(0.5, normalized=True)
    near = tree.query(middle, predicate="dwithin", distance=settings.thickest_wall_m)
    apart = sorted((float(rooms[n].distance(middle)), int(n)) for n in near)
    if len(apart) < 2:
        return Leaf(part, line, 0.0)
    thickness, other = apart[1]
    across = shapely.get_coordinates(shapely.shortest_line(middle, rooms[other]))
    half = (across[1] - across[0]) / 2
    return Leaf(part, shapely.transform(line, lambda xy: xy + half), thickness)
