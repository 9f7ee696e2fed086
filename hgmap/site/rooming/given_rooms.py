"""Rooms drawn as such among walls: they name the space that they fill, or are cut out of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundOpening, FoundRoom
from hgmap.site.importers.outlines import GRID_M
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

FILLS = 0.85
"""A drawn room that covers this share of a space is that space; ours, no source."""

OPEN_SIDE_M = 0.3
"""An open side between a drawn room and its space is an opening from this length (m) on."""

BESIDE_M = 0.02
"""Edges no farther apart (m) than this are one edge."""


def with_given(
    spaces: Sequence[Polygon],
    given: Sequence[Part],
    solid: shapely.Geometry,
    settings: Rooming,
    repairs: Repairs,
) -> tuple[list[FoundRoom], list[FoundOpening]]:
    """Bring drawn rooms and found spaces together.

    Parameters
    ----------
    spaces : sequence of Polygon
        Found between the walls; they do not overlap.
    given : sequence of Part
        Rooms as drawn.
    solid : shapely.Geometry
        Walls, windows and doors: no room covers them.
    settings : Rooming
        Its ``smallest_room_m2``, ``thinnest_room_m``.
    repairs : Repairs
        Takes what is left out and what is open.

    Returns
    -------
    rooms : list of FoundRoom
        The drawn ones first.
    openings : list of FoundOpening
        The sides of drawn rooms where no wall stands.
    """
    if not given:
        return [FoundRoom(space) for space in spaces], []
    rest: list[shapely.Geometry] = list(spaces)
    rooms: list[FoundRoom] = []
    tree = STRtree(spaces)
    taken: shapely.Geometry = Polygon()
    for part in sorted(given, key=lambda one: float(one.geometry.area)):
        shape = shapely.difference(shapely.difference(part.geometry, solid), taken)
        near = sorted(tree.query(shape, predicate="intersects").tolist())
        whole = shape
        for number in near:
            shared = rest[number].intersection(shape)
            if shared.area >= FILLS * spaces[number].area:
                whole = shapely.union(whole, rest[number], grid_size=GRID_M)
                rest[number] = Polygon()
            elif shared.area > 0:
                rest[number] = rest[number].difference(shape)
        pieces = _rooms_among(whole, settings)
        if not pieces:
            repairs.remark(f"{part.label}: walls and smaller rooms cover it", part.geometry)
        rooms += [FoundRoom(piece, part.name, part.id, part.label) for piece in pieces]
        taken = taken.union(whole)
    rest = _edges_back(rooms, rest, spaces, settings)
    for number, space in enumerate(rest):
        whole = space is spaces[number]
        rooms += [FoundRoom(piece) for piece in _rooms_among(space, settings, always=whole)]
    return rooms, _open_sides(rooms, solid, repairs)


def _edges_back(
    rooms: list[FoundRoom],
    rest: list[shapely.Geometry],
    spaces: Sequence[Polygon],
    settings: Rooming,
) -> list[shapely.Geometry]:
    """Give what a roughly drawn room leaves before its own walls to that room.

    Such a piece is no wider than a wall is thick, and is not all that is left of its space.
    """
    if not rooms:
        return rest
    tree = STRtree([room.polygon for room in rooms])
    left: list[shapely.Geometry] = []
    for space, before in zip(rest, spaces, strict=True):
        pieces = [one for one in shapely.get_parts(space) if isinstance(one, Polygon)]
        if space is before:
            left.append(space)
            continue
        kept: list[Polygon] = []
        for piece in pieces:
            near = tree.query(piece, predicate="dwithin", distance=GRID_M).tolist()
            if not near or not piece.buffer(-settings.thickest_wall_m / 2).is_empty:
                kept.append(piece)
                continue
            band = piece.buffer(GRID_M)
            best = max(near, key=lambda n: float(rooms[n].polygon.intersection(band).area))
            grown = shapely.union(rooms[best].polygon, piece, grid_size=GRID_M)
            if isinstance(grown, Polygon):
                rooms[best] = replace(rooms[best], polygon=grown)
            else:
                kept.append(piece)
        left.append(shapely.union_all(kept))
    return left


def _rooms_among(
    shape: shapely.Geometry, settings: Rooming, *, always: bool = False
) -> list[Polygon]:
    pieces = [one for one in shapely.get_parts(shape) if isinstance(one, Polygon)]
    if always:
        return pieces
    return [
        one
        for one in pieces
        if one.area >= settings.smallest_room_m2
        and not one.buffer(-settings.thinnest_room_m / 2).is_empty
    ]


def _open_sides(
    rooms: Sequence[FoundRoom], solid: shapely.Geometry, repairs: Repairs
) -> list[FoundOpening]:
    """Return the edges that two rooms share with no wall between them."""
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    drawn = np.array([bool(room.label) for room in rooms])
    found: list[FoundOpening] = []
    i, j = STRtree(polygons).query(polygons, predicate="dwithin", distance=BESIDE_M)
    for one, other in sorted((a, b) for a, b in zip(i.tolist(), j.tolist(), strict=True) if a < b):
        if not (drawn[one] or drawn[other]):
            continue
        edge = polygons[one].boundary.intersection(
            polygons[other].buffer(BESIDE_M, cap_style="flat")
        )
        edge = shapely.line_merge(shapely.difference(edge, shapely.buffer(solid, BESIDE_M / 2)))
        for side in shapely.get_parts(edge):
            if isinstance(side, LineString) and side.length >= OPEN_SIDE_M:
                label = rooms[one].label or rooms[other].label
                found.append(FoundOpening(side, label=f"{label}, a side without a wall"))
                repairs.doubt(
                    "open side",
                    f"{label}: no wall along a side of {side.length:.2f} m; read as an opening, "
                    "look whether a wall is missing,",
                    side,
                )
    return found
