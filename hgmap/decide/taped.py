"""Parts of a room that a crew can tape off, which err to the careful side only.

Contours leave slivers, islands no larger than a chair, and edges that run along a wall a hand's
width from it. Here, with the least width w and the least area a:

1. what is thinner than w is grown by w, and what is nowhere hollow by more than w is made convex;
2. ground is clear only where a circle of radius w, cut by walls and by nothing else, fits on clear
   ground: this takes the strip between an edge and a wall, and it is an opening (Serra 1982, *Image
   Analysis and Mathematical Morphology*; from memory), which never grows when its set shrinks;
   ground to remediate takes such strips of ground to resample in the same way;
3. round ground to remediate goes at least w of ground to resample;
4. edges are straightened outward (:mod:`hgmap.decide.straight_edges`);
5. clear pieces smaller than a are resampled, and holes smaller than a in ground to remediate are
   remediated.

Steps 2, 3 and 5 keep the order of sets; 1 and 4 move an edge by at most twice w and by about
``STRAIGHT_M``. Our rules, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import Polygon
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.model import ZoneName
from hgmap.decide.nested import Parts
from hgmap.decide.straight_edges import STRAIGHT_M, straightened

_ARC: Final = 6
"""Sides of a quarter circle: of one of 0.6 m the chords lie within 5 mm."""

_GRID_M: Final = 1e-8

_ALL: Final = 1.0 - 1e-9
"""A part that is more than this share of its room is all of it."""

_SAME: Final = 1e-7
"""Share of a room that rounding may take or give."""


@dataclass(frozen=True, slots=True)
class TapeRules:
    """How zones are cut.

    ``width_m`` and ``area_m2`` are the least width (m; 0.6: a person with a tape, common practice,
    no source) and area (m²) of a useful zone; ``whole_rooms`` gives each room its worst zone.
    """

    width_m: float = 0.6
    area_m2: float = 1.0
    whole_rooms: bool = False


def taped_parts(room: Polygon, parts: Parts, rules: TapeRules) -> dict[ZoneName, BaseGeometry]:
    """Return the parts of a room as they can be taped off; they tile it as those given do.

    ``remediate`` holds all that was to be remediated, ``clear`` nothing that was not clear.
    """
    if rules.whole_rooms:
        return {worst(room, parts): room}
    alone = next((name for name, one in parts.items() if one.area > _ALL * room.area), None)
    if alone is not None:
        return {alone: room}
    empty = Polygon()
    remediate = parts.get("remediate", empty)
    unknown = parts.get("no data", empty)
    clear = parts.get("clear", empty)
    width, least = rules.width_m, rules.area_m2
    if not remediate.is_empty:
        remediate = _taped(remediate, room, width)
        remediate = _without_small_holes(remediate, room, least)
    if clear.is_empty:
        doubtful: BaseGeometry = room
    else:
        doubtful = polygonal(shapely.difference(room, clear))
        beside = _grown(remediate, room, width)
        doubtful = polygonal(shapely.union_all([doubtful, beside]))
        if not doubtful.is_empty:
            doubtful = _taped(doubtful, room, width)
            doubtful = _without_small_holes(doubtful, room, least)
    unknown = polygonal(shapely.difference(unknown, remediate))
    known = shapely.union_all([remediate, unknown])
    cut: dict[ZoneName, BaseGeometry] = {
        "remediate": remediate,
        "resample": polygonal(shapely.difference(doubtful, known)),
        "clear": polygonal(shapely.difference(room, doubtful)),
        "no data": unknown,
    }
    return cut if errs_to_the_careful_side(room, parts, cut) else dict(parts)


def errs_to_the_careful_side(room: Polygon, parts: Parts, cut: Parts) -> bool:
    """Tell whether cut parts tile a room and let no piece go to ``clear`` or out of ``remediate``.

    Overlays of edges that nearly coincide may take a whole piece for the other side, or fill a
    hole, and say nothing (seen with GEOS 3.14). Areas and places in polygons do not go wrong so.
    """
    empty = Polygon()
    if abs(sum(one.area for one in cut.values()) - room.area) > _SAME * room.area:
        return False
    pairs = (
        (cut.get("clear", empty), parts.get("clear", empty)),
        (parts.get("remediate", empty), cut.get("remediate", empty)),
    )
    for inner, outer in pairs:
        pieces = [one for one in shapely.get_parts(inner) if one.area > _SAME * room.area]
        places = shapely.point_on_surface(pieces)
        if not bool(shapely.dwithin(outer, places, _GRID_M * 10.0).all()):
            return False
    return True


def worst(room: Polygon, parts: Parts) -> ZoneName:
    """Return the name of the worst part of a room; it is ``clear`` only where all of it is."""
    order: tuple[ZoneName, ...] = ("remediate", "resample", "no data", "clear")
    least = 1e-9 * room.area
    return next((name for name in order if name in parts and parts[name].area > least), "no data")


def _taped(ground: BaseGeometry, room: Polygon, width_m: float) -> BaseGeometry:
    """Grow what is too thin, take the strips along walls and the gaps, make the edges straight."""
    ground = _on_grid(ground)
    ground = _wide(ground, room, width_m)
    ground = _convex(ground, room, width_m)
    ground = _filled(ground, room, width_m)
    return straightened(ground, room, STRAIGHT_M)


def _wide(ground: BaseGeometry, room: Polygon, width_m: float) -> BaseGeometry:
    """Grow by ``width_m`` what lies far from any place as wide as that."""
    core = ground.buffer(-0.5 * width_m, quad_segs=_ARC)
    # the tip of a wedge need not be grown: its own ground is wide enough to stand on beside it
    thin = polygonal(shapely.difference(ground, core.buffer(2.0 * width_m, quad_segs=_ARC)))
    if thin.is_empty:
        return ground
    return polygonal(shapely.union(ground, _grown(thin, room, width_m)))


def _convex(ground: BaseGeometry, room: Polygon, within_m: float) -> BaseGeometry:
    """Return each piece as the hull that it has in its room, where none of that lies far off it.

    One straight tape then does for an edge that a contour and the circle of a guard have made.
    """
    found = []
    for piece in shapely.get_parts(ground):
        hull = polygonal(shapely.intersection(shapely.convex_hull(piece), room))
        near = piece.buffer(within_m, quad_segs=_ARC)
        found.append(shapely.union(piece, hull) if near.covers(hull) else piece)
    return polygonal(shapely.union_all(found))


def _grown(ground: BaseGeometry, room: Polygon, by_m: float) -> BaseGeometry:
    """Return ground with a rim inside its room; not what lies behind a wall from it."""
    if ground.is_empty:
        return ground
    grown = polygonal(shapely.intersection(ground.buffer(by_m, quad_segs=_ARC), room))
    return shapely.union_all([one for one in shapely.get_parts(grown) if one.intersects(ground)])


def _filled(ground: BaseGeometry, room: Polygon, width_m: float) -> BaseGeometry:
    """Take in every place that no circle inside the room reaches without ground under it."""
    free = polygonal(shapely.difference(room, ground.buffer(width_m, quad_segs=_ARC)))
    reached = free.buffer(width_m, quad_segs=_ARC)
    # on a grid, or rounding leaves slivers along the walls; straight edges then go outside it
    taken = _on_grid(shapely.difference(room, reached))
    return polygonal(shapely.union(taken, ground))


def _on_grid(ground: BaseGeometry) -> BaseGeometry:
    """Put corners on a grid of ``_GRID_M``; what is thinner than that is gone."""
    # rounded first: GEOS divides by coordinates, and 1e-200 is none of a building
    rounded = shapely.transform(ground, lambda places: np.round(places, 8))
    try:
        rounded = shapely.make_valid(rounded, method="structure", keep_collapsed=False)
        return polygonal(shapely.set_precision(rounded, _GRID_M))
    except GEOSException:  # rings that rounding lays upon each other; the slivers stay then
        return ground


def _without_small_holes(ground: BaseGeometry, room: Polygon, least_m2: float) -> BaseGeometry:
    """Take in the pieces of the rest of a room that are smaller than ``least_m2``."""
    rest = shapely.get_parts(polygonal(shapely.difference(room, ground)))
    least = max(least_m2, (1.0 - _ALL) * room.area)
    small = [one for one in rest if one.area < least]
    if not small:
        return ground
    if len(small) == len(rest):
        return room
    # cut out of the room: to add slivers along a wall may fill the pillar that stands behind it
    return polygonal(
        shapely.difference(room, shapely.union_all([one for one in rest if one.area >= least]))
    )
