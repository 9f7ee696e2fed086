"""Rooms from walls: the whole way from the parts of a drawing to a found plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundOpening, FoundPlan, FoundRoom
from hgmap.site.importers.outlines import GRID_M
from hgmap.site.rooming.doors import double_doors, leaf_of, openings_of
from hgmap.site.rooming.gaps import close_gaps
from hgmap.site.rooming.given_rooms import with_given
from hgmap.site.rooming.ground import Ground, sort_parts
from hgmap.site.rooming.labels import named
from hgmap.site.rooming.outdoors import indoors
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming


def rooms_from_walls(parts: Sequence[Part], settings: Rooming) -> FoundPlan:
    """Find the rooms between the walls of one storey, and the openings between them.

    Parameters
    ----------
    parts : sequence of Part
        In metres of the floor's frame, y up.
    settings : Rooming
        Tolerances, and the repairs that are not made.

    Returns
    -------
    FoundPlan
        Rooms on the 0.1 mm grid that do not overlap. No rooms where there are no walls.
    """
    parts = [part for part in parts if not part.geometry.is_empty]
    origin = centre_of(parts)
    repairs = Repairs(settings.refused, origin)
    ground = sort_parts(parts, origin, repairs)
    leaves = [
        leaf_of(part, part.geometry) for part in ground.doors if isinstance(part.geometry, Polygon)
    ]
    closed = shapely.union_all([ground.solid, *(leaf.part.geometry for leaf in leaves)])
    spaces, gaps = close_gaps(ground, closed, settings, repairs)
    spaces = without_slivers(spaces, settings, repairs)
    inside = indoors(ground, spaces, closed, settings, repairs)
    spaces = [space for space, one in zip(spaces, inside.tolist(), strict=True) if one]
    rooms, sides = with_given(spaces, ground.rooms, closed, settings, repairs)
    openings = openings_of(
        double_doors(leaves, settings.gap_m),
        [room.polygon for room in rooms],
        ground.solid,
        repairs,
    )
    rooms = named(rooms, ground.texts, repairs)
    walls = [*walls_of(ground), *(LineString(gap) for gap in gaps)]
    return FoundPlan(
        tuple(_room_out(room, origin) for room in rooms),
        tuple(_opening_out(one, origin) for one in (*openings, *sides)),
        tuple(_on_grid(wall, origin) for wall in walls),
        tuple(repairs.made),
        tuple(repairs.left_out),
    )


def centre_of(parts: Sequence[Part]) -> NDArray[np.float64]:
    """Return the middle of a drawing in whole metres, shape (2,): far out, digits run short."""
    if not parts:
        return np.zeros(2)
    west, south, east, north = shapely.total_bounds([part.geometry for part in parts])
    return np.round(np.array([west + east, south + north]) / 2)


def without_slivers(
    spaces: Sequence[Polygon], settings: Rooming, repairs: Repairs
) -> list[Polygon]:
    """Leave out spaces that are too small or too thin for a room, each named."""
    kept: list[Polygon] = []
    for space in spaces:
        thin = space.buffer(-settings.thinnest_room_m / 2).is_empty
        if not thin and space.area >= settings.smallest_room_m2:
            kept.append(space)
            continue
        why = (
            f"nowhere wider than {settings.thinnest_room_m:g} m"
            if thin
            else f"smaller than {settings.smallest_room_m2:g} m²"
        )
        text = f"a space of {space.area:.3f} m² left out: {why},"
        if not repairs.wants("sliver", text, space, float(np.sqrt(space.area))):
            kept.append(space)
    return kept


def walls_of(ground: Ground) -> list[LineString]:
    """Return the faces of thick walls and the thin ones, as lines."""
    faces = shapely.get_parts(shapely.line_merge(shapely.boundary(ground.solid)))
    return [LineString(one) for one in (*faces, *ground.lines) if one.length > GRID_M]


def _on_grid(shape: LineString, origin: NDArray[np.float64]) -> LineString:
    return shapely.transform(shape, lambda xy: np.round((xy + origin) / GRID_M) * GRID_M)


def _room_out(room: FoundRoom, origin: NDArray[np.float64]) -> FoundRoom:
    pieces = shapely.get_parts(shapely.set_precision(room.polygon, GRID_M))
    polygon = max(pieces, key=lambda piece: float(piece.area))
    return replace(room, polygon=shapely.transform(polygon, lambda xy: xy + origin))


def _opening_out(one: FoundOpening, origin: NDArray[np.float64]) -> FoundOpening:
    return replace(one, line=_on_grid(one.line, origin))
