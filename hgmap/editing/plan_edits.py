"""Edits of a plan: each is a function from a draft to the next one, and undo is the draft before.

An edit that :func:`hgmap.site.plan.read_plan` would refuse the plan for raises a
:class:`PlanError` of one sentence. A new feature is the last of its draft.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from itertools import count
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.editing.plan_checks import refuse_new_errors
from hgmap.editing.plan_draft import (
    MILLIMETRE,
    PlanDraft,
    PlanFeature,
    millimetres,
    raw_feature,
    raw_with,
)
from hgmap.errors import PlanError
from hgmap.site.importers.names import typed_name
from hgmap.site.plan import text_property

SAME_PLACE_M: Final = 1e-3
"""Corners of two rooms nearer than this (m) are one corner."""

Place = tuple[float, float]


def add_room(
    draft: PlanDraft,
    outline: Polygon | Sequence[Place],
    name: str = "",
    id: str | None = None,
) -> PlanDraft:
    """Draw a room; its id is new where none is given, and its name is its id where it has none."""
    places = [] if isinstance(outline, Polygon) else [finite_place(one) for one in outline]
    if not isinstance(outline, Polygon) and len(places) < 3:
        raise PlanError("a room has three corners or more", todo="go on drawing")
    polygon = outline if isinstance(outline, Polygon) else Polygon(places)
    identifier = typed_name(id, "a room") or new_room_id(draft)
    name = typed_name(name, "a room") or identifier
    raw = raw_feature("room", millimetres(polygon), id=identifier, name=name)
    return refuse_new_errors(draft, draft.edited(added=[raw]))


def corners_of(geometry: shapely.Geometry) -> NDArray[np.float64]:
    """Return the corners (m) in the order that edits number them, shape (n, 2).

    A ring's first corner is not repeated at its end; a room's holes follow its outline.
    """
    return np.vstack([np.empty((0, 2)), *_rings(geometry)])


def move_corner(
    draft: PlanDraft, key: str, index: int, to: Place, *, together: bool = True
) -> PlanDraft:
    """Move a corner of a room, or of a wall.

    ``together`` takes along the corners of neighbours and the ends of openings at the same place.
    """
    start = _corner(draft.feature(key), index)
    target = np.round(finite_place(to), MILLIMETRE)
    changed = {}
    for one in draft.features:
        if one.geometry is None or not one.kind or not (together or one.key == key):
            continue
        at = shapely.get_coordinates(one.geometry)
        same = np.hypot(*(at - start).T) <= SAME_PLACE_M
        if one.key == key and not together:  # a ring's first corner stands at its end too
            same &= _is_corner(one.geometry, index)
        if same.any():
            moved = shapely.set_coordinates(
                shapely.from_wkb(one.geometry.wkb), np.where(same[:, None], target, at)
            )
            changed[one.key] = raw_with(one, moved)
    return refuse_new_errors(draft, draft.edited(changed))


def insert_corner(
    draft: PlanDraft, key: str, index: int, at: Place, *, together: bool = True
) -> PlanDraft:
    """Put a corner into the edge that begins at corner ``index``.

    ``together`` puts it into the same edge of a neighbour too, so that both can be moved as one.
    """
    feature = draft.feature(key)
    start, end = _edge(feature, index)
    target = np.round(finite_place(at), MILLIMETRE)
    if min(np.hypot(*(target - start)), np.hypot(*(target - end))) <= SAME_PLACE_M:
        raise PlanError("a corner is there already", todo="put it elsewhere on the edge")
    changed = {}
    for one in draft.features:
        if one.key != key and not (together and one.kind in ("room", "wall")):
            continue
        if one.geometry is None:
            continue
        rings, where = _rings(one.geometry), 0
        for n, ring in enumerate(rings):
            for k in range(len(ring)):
                first, second = ring[k], ring[(k + 1) % len(ring)]
                mine = one.key == key and where + k == index
                theirs = one.key != key and _same_edge(first, second, start, end)
                if mine or theirs:
                    rings[n] = np.insert(ring, k + 1, target, axis=0)
                    changed[one.key] = raw_with(one, _from_rings(one.geometry, rings))
            where += len(ring)
    return refuse_new_errors(draft, draft.edited(changed))


def delete_corner(draft: PlanDraft, key: str, index: int) -> PlanDraft:
    """Take a corner out; three stay of a room's ring, two of a wall."""
    feature = draft.feature(key)
    _corner(feature, index)
    geometry = feature.geometry
    assert geometry is not None
    rings, where = _rings(geometry), 0
    least = 2 if isinstance(geometry, LineString) else 3
    for n, ring in enumerate(rings):
        if where <= index < where + len(ring):
            if len(ring) <= least:
                raise PlanError(
                    f"{feature.title} needs {least} corners", todo="delete the whole of it instead"
                )
            rings[n] = np.delete(ring, index - where, axis=0)
            break
        where += len(ring)
    raw = raw_with(feature, _from_rings(geometry, rings))
    return refuse_new_errors(draft, draft.edited({key: raw}))


def move_room(draft: PlanDraft, key: str, dx_m: float, dy_m: float) -> PlanDraft:
    """Move a whole room (or wall) by so many metres; its openings stay."""
    feature = draft.feature(key)
    by = finite_place((dx_m, dy_m))
    if feature.geometry is None:
        raise PlanError(f"{feature.title} has no outline", todo="take it out of the plan")
    moved = millimetres(shapely.transform(feature.geometry, lambda at: at + by))
    return refuse_new_errors(draft, draft.edited({key: raw_with(feature, moved)}))


def rename_room(draft: PlanDraft, key: str, name: str) -> PlanDraft:
    """Give a room another name; its id stays, also where its old name was its id."""
    feature = draft.feature(key)
    cleaned = typed_name(name, "a room")
    if feature.kind != "room":
        raise PlanError(f"{feature.title} is no room", todo="choose a room")
    if not cleaned:
        raise PlanError("a room needs a name", todo="type one")
    kept = {} if text_property(feature.properties, "id") else {"id": feature.id}
    raw = raw_with(feature, name=cleaned, **kept)
    return refuse_new_errors(draft, draft.edited({key: raw}))


def delete(draft: PlanDraft, key: str) -> PlanDraft:
    """Take a feature out of the plan; openings of a deleted room stay."""
    return draft.edited({draft.feature(key).key: None})


def new_room_id(draft: PlanDraft) -> str:
    """Return an id that no room has as its id or name, one on from the last of the plan's kind."""
    taken = {word.casefold() for one in draft.rooms for word in (one.id, one.name)}
    found = [
        match for one in draft.rooms if (match := re.fullmatch(r"(\D{0,8}?)(\d{1,6})", one.id))
    ]
    last = max(found, key=lambda match: int(match[2]), default=None)
    if last is None or len(found) * 2 < len(draft.rooms):
        return next(one for n in count(1) if (one := f"R{n}").casefold() not in taken)
    width, first = len(last[2]), int(last[2]) + 1
    ids = (f"{last[1]}{n:0{width}d}" for n in count(first))
    return next(one for one in ids if one.casefold() not in taken)


def new_name(draft: PlanDraft, wanted: str) -> str:
    """Return a name, with a number where a room has it already as its name or id."""
    taken = {word.casefold() for one in draft.rooms for word in (one.id, one.name)}
    names = (wanted if n == 1 else f"{wanted} ({n})" for n in count(1))
    return next(one for one in names if one.casefold() not in taken)


def _rings(geometry: shapely.Geometry) -> list[NDArray[np.float64]]:
    """Return the corners of each ring once, and of each line."""
    found = []
    for part in shapely.get_parts(geometry):
        if isinstance(part, Polygon):
            rings: Iterable[shapely.Geometry] = (part.exterior, *part.interiors)
            found += [shapely.get_coordinates(ring)[:-1] for ring in rings]
        else:
            found.append(shapely.get_coordinates(part))
    return found


def _from_rings(
    geometry: shapely.Geometry, rings: Sequence[NDArray[np.float64]]
) -> shapely.Geometry:
    if isinstance(geometry, Polygon):
        return Polygon(rings[0], rings[1:])
    if isinstance(geometry, LineString):
        return LineString(rings[0])
    raise PlanError("it has several parts", todo="mend it first: each part by itself")


def _is_corner(geometry: shapely.Geometry, index: int) -> NDArray[np.bool_]:
    """Tell for each coordinate of a geometry whether it is corner ``index``."""
    numbers: list[int] = []
    for part in shapely.get_parts(geometry):
        closed = isinstance(part, Polygon)
        for ring in _rings(part):
            first = max(numbers, default=-1) + 1
            numbers += [*range(first, first + len(ring)), *([first] if closed else [])]
    is_it: NDArray[np.bool_] = np.array(numbers) == index
    return is_it


def _corner(feature: PlanFeature, index: int) -> NDArray[np.float64]:
    corners = corners_of(feature.geometry) if feature.geometry is not None else np.empty((0, 2))
    if not 0 <= index < len(corners):
        raise PlanError(f"{feature.title} has no corner {index + 1}", todo="choose another")
    corner: NDArray[np.float64] = corners[index]
    return corner


def _edge(feature: PlanFeature, index: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    start = _corner(feature, index)
    where = 0
    for ring in _rings(feature.geometry):
        if index < where + len(ring):
            if feature.kind != "room" and index == where + len(ring) - 1:
                break
            return start, ring[(index - where + 1) % len(ring)]
        where += len(ring)
    raise PlanError(f"{feature.title} ends at its corner {index + 1}", todo="choose another edge")


def _same_edge(
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
) -> bool:
    along, against = (
        max(math.dist(first, a), math.dist(second, b)) for a, b in ((start, end), (end, start))
    )
    return min(along, against) <= SAME_PLACE_M


def finite_place(place: Place) -> NDArray[np.float64]:
    """Return a place as an array, refusing what is no place on a plan."""
    at = np.array(place, dtype=float)
    if at.shape != (2,) or not np.isfinite(at).all():
        raise PlanError("a place is two finite numbers", todo="give x and y in metres")
    return at
