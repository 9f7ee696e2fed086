"""Rooms from walls: the whole way from the parts of a drawing to a found plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan, FoundRoom
from hgmap.site.importers.outlines import GRID_M
from hgmap.site.plan import OPENING_REACH_M
from hgmap.site.rooming.arrangement import holds_circle
from hgmap.site.rooming.doors import double_doors, openings_of
from hgmap.site.rooming.doubtful_doors import say_doubtful_doors
from hgmap.site.rooming.furniture import without_furniture
from hgmap.site.rooming.gaps import drawn_lines, without_slits
from hgmap.site.rooming.given_rooms import with_given
from hgmap.site.rooming.ground import Ground, sort_parts
from hgmap.site.rooming.joined import say_nooks, say_wide_gaps
from hgmap.site.rooming.labels import named
from hgmap.site.rooming.laid_doors import at_gaps, lay_doors, sort_doors
from hgmap.site.rooming.necks import part_necks
from hgmap.site.rooming.outdoors import indoors
from hgmap.site.rooming.passages import part_ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming
from hgmap.site.rooming.thick_walls import without_strips

WIDER_FLOOR = 1.1
"""On free floor both sides of a gap between wall ends are at least so many times as wide: ours."""


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
        Rooms on the 0.1 mm grid that do not overlap, from the top of the plan down. No rooms where
        there are no walls.
    """
    parts = [part for part in parts if not part.geometry.is_empty]
    origin = centre_of(parts)
    # the last digits of a wall of just that thickness are on either side of it
    settings = replace(settings, thickest_wall_m=settings.thickest_wall_m + GRID_M)
    repairs = Repairs(settings.refused, origin)
    ground = sort_parts(parts, origin, repairs)
    leaves, other = sort_doors(ground, settings)
    areas = [leaf.part.geometry for leaf in leaves if isinstance(leaf.part.geometry, Polygon)]
    closed = shapely.union_all([ground.solid, *areas])
    kept = without_furniture(ground.lines, closed, settings, repairs)
    ground = replace(ground, lines=kept)
    shut = [leaf.line for leaf in leaves if not isinstance(leaf.part.geometry, Polygon)]
    lines = drawn_lines(ground, closed, shut, repairs)
    wider = 0.0 if ground.walkable is None else WIDER_FLOOR
    parted = part_ground(lines, closed, ground.extent, settings, repairs, shut=shut, wider=wider)
    spaces = without_slits(parted.spaces, parted.hairlines, settings, repairs)
    passages = list(parted.openings)
    if ground.walkable is not None:
        spaces, necks = part_necks(spaces, settings)
        passages += necks
    spaces = without_strips(spaces, ground, settings, repairs)
    spaces = without_slivers(spaces, settings, repairs)
    inside = indoors(ground, spaces, closed, settings, repairs)
    spaces = [space for space, one in zip(spaces, inside.tolist(), strict=True) if one]
    rooms, sides = with_given(spaces, ground.rooms, closed, settings, repairs)
    polygons = [room.polygon for room in rooms]
    undrawn = [room.polygon for room in rooms if not room.label]
    say_wide_gaps(undrawn, lines, parted, settings, repairs, wider=wider)
    if ground.walkable is None:  # between rows of seats there are nooks without end
        say_nooks(undrawn, parted.nooks, settings, repairs)
        say_doubtful_doors(undrawn, lines, parted, settings, repairs)
    passages = at_rooms(passages, polygons)
    at_gap, other = at_gaps(passages, other, settings, repairs)
    leaves = double_doors(leaves, settings.gap_m) + lay_doors(other, polygons, settings, repairs)
    openings = openings_of(leaves, polygons, ground.solid, repairs) + at_gap
    rooms = named(rooms, ground.texts, repairs)
    walls = [*walls_of(ground), *shapely.linestrings(parted.ties)]
    return FoundPlan(
        _rooms_out(rooms, origin),
        tuple(
            replace(one, line=line)
            for one, line in zip(
                (*openings, *sides),
                _on_grid([one.line for one in (*openings, *sides)], origin),
                strict=True,
            )
        ),
        tuple(_on_grid(walls, origin)),
        tuple(repairs.made),
        tuple(repairs.left_out),
        doubts=tuple(repairs.doubts),
    )


def at_rooms(passages: Sequence[LineString], rooms: Sequence[Polygon]) -> list[LineString]:
    """Leave out passages from one place outdoors to another."""
    if not passages or not rooms:
        return []
    near, _ = STRtree(rooms).query(passages, predicate="dwithin", distance=OPENING_REACH_M)
    return [passages[number] for number in np.unique(near).tolist()]


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
    shapes = np.array(spaces, dtype=object)
    narrow = ~holds_circle(shapes, settings.thinnest_room_m)
    small = shapely.area(shapes) < settings.smallest_room_m2
    kept: list[Polygon] = []
    for space, thin, little in zip(spaces, narrow.tolist(), small.tolist(), strict=True):
        if not thin and not little:
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
    areas = [area for area in (ground.solid, ground.walkable) if area is not None]
    faces = shapely.get_parts(shapely.line_merge(shapely.union_all(shapely.boundary(areas))))
    lines = np.concatenate([faces, ground.lines])
    return list(lines[shapely.length(lines) > GRID_M].tolist())


def _on_grid(lines: Sequence[LineString], origin: NDArray[np.float64]) -> list[LineString]:
    shapes = np.array(lines, dtype=object)
    moved = shapely.transform(shapes, lambda xy: np.round((xy + origin) / GRID_M) * GRID_M)
    return list(moved.tolist())


def _rooms_out(rooms: Sequence[FoundRoom], origin: NDArray[np.float64]) -> tuple[FoundRoom, ...]:
    shapes = shapely.set_precision([room.polygon for room in rooms], GRID_M)
    shapes = shapely.transform(shapes, lambda xy: xy + origin)
    pieces, owner = shapely.get_parts(shapes, return_index=True)
    order = np.lexsort((-shapely.area(pieces), owner))  # the grid may pinch off a tip
    numbers, first = np.unique(owner[order], return_index=True)
    largest = pieces[order[first]]
    # from the top of the plan, and from left to right: the order outlives a refused repair
    x, y = np.round(shapely.get_coordinates(shapely.centroid(largest)), 2).T
    numbers, largest = (one[np.lexsort((x, -y))] for one in (numbers, largest))
    return tuple(
        FoundRoom(polygon, rooms[number].name, rooms[number].id, rooms[number].label)
        for number, polygon in zip(numbers.tolist(), largest.tolist(), strict=True)
    )
