"""Splitting a room in two by a line, and merging rooms with the wall between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.editing.outlines import closed, grown
from hgmap.editing.plan_checks import refuse_new_errors
from hgmap.editing.plan_draft import (
    MILLIMETRE,
    PlanDraft,
    PlanFeature,
    raw_feature,
    raw_with,
)
from hgmap.editing.plan_edits import Place, new_room_id
from hgmap.errors import PlanError
from hgmap.site.building import Room
from hgmap.site.importers.names import typed_name
from hgmap.site.plan import text_property

THICKEST_WALL_M: Final = 0.4
"""Rooms nearer to each other than this (m) may have one wall between them."""

LEAST_HALF_M2: Final = 0.2
"""A split leaves no room smaller than this (m²): it would be a slip of the hand."""

_BEYOND_M: Final = 1e-3
_GRID_M: Final = 10.0**-MILLIMETRE


@dataclass(frozen=True)
class Merging:
    """What merging rooms does.

    Attributes
    ----------
    draft : PlanDraft
        After it.
    key : str
        Of the merged room.
    wall_m2 : float
        Floor (m²) that was under the wall between them and is now the room's.
    openings, walls : tuple of str
        Titles of the openings taken out, for they lay between the rooms, and of the walls taken
        out or cut.
    text : str
        All that, as one sentence.
    """

    draft: PlanDraft
    key: str
    wall_m2: float
    openings: tuple[str, ...]
    walls: tuple[str, ...]
    text: str


def split_room(
    draft: PlanDraft, key: str, line: LineString | Sequence[Place], names: Sequence[str] = ()
) -> PlanDraft:
    """Cut a room in two along a line, which is drawn on to the walls at both its ends.

    The larger half keeps the id, so that readings keep their room.

    Parameters
    ----------
    draft : PlanDraft
    key : str
    line : LineString or sequence of (x, y)
        Within the room, or across it (m).
    names : sequence of str
        Of the larger half, and of the other; empty or missing: the old name, and a new id.
    """
    feature = draft.feature(key)
    polygon = _sound(draft, feature).polygon
    larger, smaller = _halves(polygon, _line(line))
    if smaller.area < LEAST_HALF_M2:
        raise PlanError(
            f"one half would be {smaller.area:.2f} m²", todo="draw the line farther from the wall"
        )
    first, second = (typed_name(one, "a room") for one in (*names, "", "")[:2])
    kept = {} if text_property(feature.properties, "id") else {"id": feature.id}
    if first:
        kept["name"] = first
    identifier = new_room_id(draft)
    second = second or identifier
    after = draft.edited(
        {key: raw_with(feature, larger, **kept)},
        [raw_feature("room", smaller, id=identifier, name=second)],
    )
    return refuse_new_errors(draft, after, {after.features[-1].key: (key,)})


def merge_rooms(draft: PlanDraft, keys: Sequence[str], name: str = "") -> PlanDraft:
    """Make one room of several; :func:`merging` also tells what that does."""
    return merging(draft, keys, name).draft


def merging(draft: PlanDraft, keys: Sequence[str], name: str = "") -> Merging:
    """Make one room of several that touch, or have a wall of at most 0.4 m between them.

    The wall between is taken in. The largest room's id is kept, and its name where none is given.
    """
    members = [draft.feature(key) for key in dict.fromkeys(keys)]
    rooms = [_sound(draft, one) for one in members]
    if len(rooms) < 2:
        raise PlanError("merging takes two rooms or more", todo="choose another too")
    others = [room.polygon for one, room in draft.sound_rooms.items() if one not in keys]
    polygons = [room.polygon for room in rooms]
    between = _between(polygons, others)
    merged = shapely.set_precision(shapely.union_all([*polygons, *between]), _GRID_M)
    merged = shapely.simplify(merged, 0.0)
    if not isinstance(merged, Polygon):
        raise PlanError(
            "the rooms do not touch within the thickness of a wall "
            f"({THICKEST_WALL_M:g} m): {_listed([one.title for one in members])}",
            todo="choose neighbours",
        )
    largest = max(members, key=lambda one: draft.sound_rooms[one.key].area_m2)
    kept = {} if text_property(largest.properties, "id") else {"id": largest.id}
    changed: dict[str, Any] = {one.key: None for one in members}
    ids = {room.id for room in rooms}
    openings = tuple(
        draft.by_key[one]
        for one, opening in draft.sound_openings.items()
        if len(opening.rooms) == 2 and set(opening.rooms) <= ids
    )
    changed |= {one.key: None for one in openings}
    walls = _without_walls(draft, merged, polygons, between)
    changed |= walls
    changed[largest.key] = raw_with(
        largest, merged, name=typed_name(name, "a room") or largest.name, **kept
    )
    after = draft.edited(changed)
    key = next(one.key for one in after.rooms if one.id == largest.id)
    refuse_new_errors(draft, after, {key: tuple(one.key for one in members)})
    wall_m2 = float(merged.area - sum(one.area for one in polygons))
    titles = tuple(one.title for one in openings)
    wall_titles = tuple(draft.by_key[one].title for one in walls)
    text = f"{after.by_key[key].title} takes in {wall_m2:.2f} m² of wall"
    if titles:
        text += f"; taken out, for nothing is left between: {_listed(titles)}"
    if wall_titles:
        text += f"; cut where they stood between: {_listed(wall_titles)}"
    return Merging(after, key, wall_m2, titles, wall_titles, text)


def _sound(draft: PlanDraft, feature: PlanFeature) -> Room:
    if feature.kind != "room":
        raise PlanError(f"{feature.title} is no room", todo="choose a room")
    room = draft.sound_rooms.get(feature.key)
    if room is None:
        raise PlanError(f"the outline of {feature.title} is not sound", todo="mend it first")
    return room


def _line(line: LineString | Sequence[Place]) -> LineString:
    at = shapely.get_coordinates(line) if isinstance(line, LineString) else np.array(list(line))
    if at.ndim != 2 or at.shape[1:] != (2,) or not np.isfinite(at).all():
        raise PlanError("the line has no two places", todo="draw it across the room")
    at = at[np.r_[True, np.hypot(*np.diff(at, axis=0).T) > 1e-9]]
    if len(at) < 2:
        raise PlanError("the line has no two places", todo="draw it across the room")
    return LineString(at)


def _halves(polygon: Polygon, drawn: LineString) -> tuple[Polygon, Polygon]:
    west, south, east, north = polygon.bounds
    reach = east - west + north - south + drawn.length + drawn.distance(polygon)
    whole = _drawn_on(drawn, reach)
    pieces = [one for one in shapely.get_parts(whole.intersection(polygon)) if one.length > 0]
    pieces = [one for one in pieces if isinstance(one, LineString)]
    meant = [one for one in pieces if one.distance(drawn) <= _BEYOND_M] or pieces
    parts: list[Polygon] = []
    for cuts in (meant, pieces):
        lines = [polygon.boundary, *(_drawn_on(one, _BEYOND_M) for one in cuts)]
        noded = shapely.union_all(lines)
        found = shapely.get_parts(shapely.polygonize(list(shapely.get_parts(noded))))
        parts = [one for one in found if polygon.contains(one.representative_point())]
        if len(parts) > 1:
            break
    if len(parts) != 2:
        raise PlanError(
            "the line does not cross the room"
            if len(parts) < 2
            else f"the line would cut the room into {len(parts)} parts",
            todo="draw it from wall to wall",
        )
    old = {tuple(at) for at in shapely.get_coordinates(polygon).tolist()}

    def rounded(at: NDArray[np.float64]) -> NDArray[np.float64]:
        new = np.array([tuple(one) not in old for one in at.tolist()])
        return np.where(new[:, None], np.round(at, MILLIMETRE) + 0.0, at)

    one, two = (shapely.transform(part, rounded) for part in parts)
    return (one, two) if one.area >= two.area else (two, one)


def _drawn_on(line: LineString, by_m: float) -> LineString:
    at = shapely.get_coordinates(line)
    first, last = at[0] - at[1], at[-1] - at[-2]
    return LineString(
        np.vstack(
            [
                at[0] + first / np.hypot(*first) * by_m,
                at[1:-1],
                at[-1] + last / np.hypot(*last) * by_m,
            ]
        )
    )


def _between(polygons: Sequence[Polygon], others: Sequence[Polygon]) -> list[shapely.Geometry]:
    """Return the pieces of wall between rooms: what a closing by half a wall fills."""
    width = THICKEST_WALL_M + 2 * _BEYOND_M
    whole = shapely.union_all(polygons)
    filled = closed(whole, width).difference(whole)
    near = [one for one in others if one.distance(whole) <= width]
    if near:
        filled = filled.difference(shapely.union_all(near))
    found = []
    for piece in shapely.get_parts(filled):
        beside = [grown(piece, _BEYOND_M).intersection(one.boundary).length for one in polygons]
        if piece.area > 1e-6 and sum(length > 0.05 for length in beside) >= 2:
            # a hair wider: what rounding leaves between it and its rooms would be a crack
            found.append(grown(piece, 1e-6, square=True))
    return found


def _without_walls(
    draft: PlanDraft,
    merged: Polygon,
    polygons: Sequence[Polygon],
    between: Sequence[shapely.Geometry],
) -> dict[str, Any]:
    """Return what is left of walls that stand between the rooms; None where nothing is."""
    strips = [*between, *(one.boundary for one in polygons)]
    zone = grown(shapely.union_all(strips), 0.01)
    zone = zone.intersection(grown(merged, -0.02))
    changed: dict[str, Any] = {}
    for wall in draft.walls:
        if wall.complaint or wall.geometry is None or not wall.geometry.intersects(zone):
            continue
        rest = wall.geometry.difference(zone)
        lines = [one for one in shapely.get_parts(rest) if one.length > 0.05]
        if wall.geometry.length - rest.length > 0.05:
            left = lines[0] if len(lines) == 1 else shapely.MultiLineString(lines)
            changed[wall.key] = raw_with(wall, left) if lines else None
    return changed


def _listed(titles: Sequence[str]) -> str:
    more = f" and {len(titles) - 5} more" if len(titles) > 5 else ""
    return ", ".join(titles[:5]) + more
