"""Repairs of a plan: each is a function from a draft to a mended one, and loses nothing.

What cannot be used is set aside: it leaves the features and stays in the file, in the member
``set_aside`` of the collection.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import shapely
from shapely import LineString, Polygon

from hgmap.editing.outlines import grown, is_thin
from hgmap.editing.plan_draft import PlanDraft, PlanFeature, raw_feature, raw_with
from hgmap.editing.plan_edits import new_name, new_room_id
from hgmap.editing.plan_openings import on_the_wall
from hgmap.site.building import Opening
from hgmap.site.importers.outlines import GRID_M, SMALLEST_ROOM_M2, THINNEST_REST_M
from hgmap.site.plan import OVERLAP_ALLOWED_M2, join_openings, text_property

SET_ASIDE: Final = "set_aside"

SAME_ROOM: Final = 0.98
"""Two outlines that share this much of both areas are one room drawn twice. Ours, no source."""


def set_aside(draft: PlanDraft, keys: Sequence[str]) -> PlanDraft:
    """Take features out of the plan and keep them in its file."""
    raws = [draft.feature(key).raw for key in keys]
    return _kept_aside(draft.edited(dict.fromkeys(keys)), raws)


def aside_of(draft: PlanDraft) -> list[Any]:
    """Return what was set aside, as it stands in the file."""
    before = draft.members.get(SET_ASIDE)
    return [*before] if isinstance(before, list) else [] if before is None else [before]


def _kept_aside(draft: PlanDraft, raws: Sequence[Any]) -> PlanDraft:
    return draft.with_member(SET_ASIDE, [*aside_of(draft), *raws])


def close_ring(draft: PlanDraft, key: str) -> PlanDraft:
    """Repeat the first corner of each open ring at its end."""
    feature = draft.feature(key)
    return draft.edited({key: raw_with(feature, feature.geometry)})


def sound_parts(geometry: shapely.Geometry | None) -> list[Polygon]:
    """Return the sound polygons that an outline may be read as, the largest first."""
    if geometry is None:
        return []
    if geometry.geom_type == "LineString" and len(geometry.coords) > 2:
        geometry = Polygon(geometry.coords)  # a room that was drawn as a line
    # part by part: a flat part beside a sound one is more than make_valid can take
    valid = [polygon for part in shapely.get_parts(geometry) for polygon in _valid(part)]
    return _polygons(shapely.set_precision(shapely.union_all(valid), GRID_M))


def _valid(part: shapely.Geometry) -> list[Polygon]:
    try:
        return _polygons(part if part.is_valid else shapely.make_valid(part))
    except shapely.errors.GEOSException:  # a flat hole
        return _polygons(grown(part, 0.0))


def largest_part(draft: PlanDraft, key: str) -> PlanDraft:
    """Make an outline sound; of several parts the largest stays."""
    feature = draft.feature(key)
    parts = sound_parts(feature.geometry)
    if any(not is_sliver(one) for one in parts[1:]):  # ground of a room: the file keeps it
        draft = _kept_aside(draft, [feature.raw])
    return with_parts(draft, key, parts[:1])


def every_part(draft: PlanDraft, key: str) -> PlanDraft:
    """Make a room of each part of an outline."""
    return with_parts(draft, key, sound_parts(draft.feature(key).geometry))


def with_parts(draft: PlanDraft, key: str, parts: Sequence[Polygon]) -> PlanDraft:
    """Give a room the largest of some polygons, and make rooms of the others.

    Slivers are left out; a room of which nothing stays is set aside.
    """
    feature = draft.feature(key)
    kept = [one for one in parts if not is_sliver(one)]
    if not kept:
        return set_aside(draft, [key])
    properties = {} if text_property(feature.properties, "id") else {"id": feature.id}
    draft = draft.edited({key: raw_with(feature, kept[0], **properties)})
    for part in kept[1:]:
        identifier = new_room_id(draft)
        name = new_name(draft, feature.name)
        draft = draft.edited(added=[raw_feature("room", part, id=identifier, name=name)])
    return draft


def is_sliver(polygon: Polygon) -> bool:
    """Tell whether a polygon is too small or too thin all over to be a room."""
    return polygon.area < SMALLEST_ROOM_M2 or is_thin(polygon, THINNEST_REST_M)


def wall_lines(geometry: shapely.Geometry | None) -> shapely.Geometry | None:
    """Return the outline of a wall that was drawn as an area; None where it is none."""
    if geometry is None or not geometry.geom_type.endswith("Polygon"):
        return None
    outline = geometry.boundary
    return outline if outline.length > 0 else None


def opening_line(geometry: shapely.Geometry | None) -> LineString | None:
    """Return the longest line of an opening that was drawn as several; None where it has none."""
    if geometry is None:
        return None
    lines = [one for one in shapely.get_parts(geometry) if isinstance(one, LineString)]
    longest = max(lines, key=lambda one: one.length, default=None)
    return longest if longest is not None and longest.length > 0 else None


def number_names(draft: PlanDraft, keys: Sequence[str]) -> PlanDraft:
    """Give rooms names of their own: a number behind the one they have, from 1."""
    for key in keys:
        feature = draft.feature(key)
        properties = {} if text_property(feature.properties, "id") else {"id": feature.id}
        draft = draft.edited({key: raw_with(feature, name=_numbered(draft, feature), **properties)})
    return draft


def _numbered(draft: PlanDraft, feature: PlanFeature) -> str:
    taken = {word.casefold() for one in draft.rooms for word in (one.id, one.name)}
    names = (f"{feature.name} ({n})" for n in itertools.count(1))
    return next(one for one in names if one.casefold() not in taken)


def number_ids(draft: PlanDraft, numbers: Sequence[int]) -> PlanDraft:
    """Give the features at these places in the file ids that no other has."""
    for number in numbers:
        feature = draft.features[number - 1]
        if feature.kind == "room":
            identifier = new_room_id(draft)
        else:
            taken = {one.id.casefold() for one in draft.features if one.kind == feature.kind}
            n = 2
            while (identifier := f"{feature.id}-{n}").casefold() in taken:
                n += 1
        # its name may have been its id
        name = {"name": feature.name} if feature.kind == "room" else {}
        draft = draft.edited({feature.key: raw_with(feature, id=identifier, **name)})
    return draft


def part_overlap(draft: PlanDraft, first: str, second: str) -> tuple[PlanDraft, str]:
    """Part two rooms that overlap; returns what was done, too.

    One room drawn twice: the second is set aside. A sliver is shared. All else is left to the
    smaller room, as on import: it is the one drawn on purpose.
    """
    text, changed = _parting(draft, first, second)
    if changed is None:
        return set_aside(draft, [second]), text
    if len(changed) > 1:
        halves = {key: raw_with(draft.by_key[key], one) for key, (one,) in changed.items()}
        return draft.edited(halves), text
    ((large, parts),) = changed.items()
    return with_parts(draft, large, parts), text


def parting_text(draft: PlanDraft, first: str, second: str) -> str:
    """Return what :func:`part_overlap` would do; the plan is not made anew for it."""
    return _parting(draft, first, second)[0]


def _parting(
    draft: PlanDraft, first: str, second: str
) -> tuple[str, Mapping[str, Sequence[Polygon]] | None]:
    """Return how two rooms are parted: the polygons of those that change; None: one goes."""
    one, two = (draft.sound_rooms[key].polygon for key in (first, second))
    shared = one.intersection(two)
    if shared.area >= SAME_ROOM * max(one.area, two.area):
        return f"set {draft.by_key[second].title} aside: it is drawn twice", None
    if is_thin(shared, THINNEST_REST_M):
        halves = _shared_out(one, two, shared)
        if halves is not None:
            return "give each room half of the sliver", {first: halves[:1], second: halves[1:]}
    large, small = (first, second) if one.area > two.area else (second, first)
    rest = draft.sound_rooms[large].polygon.difference(draft.sound_rooms[small].polygon)
    parts = _polygons(shapely.set_precision(rest, GRID_M))
    return f"cut it from {draft.by_key[large].title}, the larger", {large: parts}


def line_on_wall(draft: PlanDraft, key: str, reach_m: float) -> LineString:
    """Return where an opening would lie on the nearest wall.

    Raises
    ------
    PlanError
        If no wall is within reach, or it lies across that.
    """
    ends = shapely.get_coordinates(draft.feature(key).geometry)
    return on_the_wall(draft, tuple(ends[0]), tuple(ends[-1]), reach_m=reach_m)[0]


def onto_wall(draft: PlanDraft, key: str, reach_m: float) -> PlanDraft:
    """Move an opening to the nearest wall; raises as :func:`line_on_wall`."""
    line = line_on_wall(draft, key, reach_m)
    return draft.edited({key: raw_with(draft.feature(key), line)})


def rooms_touched(draft: PlanDraft, line: LineString) -> tuple[str, ...]:
    """Return the ids of the rooms that an opening along a line would touch."""
    (joined,) = join_openings([Opening("", line)], list(draft.sound_rooms.values()))
    return joined.rooms


def scaled(draft: PlanDraft, factor: float) -> PlanDraft:
    """Multiply every coordinate, as where millimetres were taken for metres."""
    changed = {
        one.key: raw_with(one, shapely.transform(one.geometry, lambda at: at * factor))
        for one in draft.features
        if one.geometry is not None and isinstance(one.raw, dict)
    }
    return draft.edited(changed)


def _shared_out(
    one: Polygon, two: Polygon, shared: shapely.Geometry
) -> tuple[Polygon, Polygon] | None:
    """Part a sliver along its length; None where that leaves no two sound rooms."""
    box = shapely.minimum_rotated_rectangle(shared)
    if not isinstance(box, Polygon) or not box.area > 0:
        return None
    at = shapely.get_coordinates(box)[:4]
    if np.hypot(*(at[1] - at[0])) < np.hypot(*(at[2] - at[1])):
        at = np.roll(at, -1, axis=0)
    west, east = (at[0] + at[3]) / 2, (at[1] + at[2]) / 2
    halves = [Polygon([at[0], at[1], east, west]), Polygon([west, east, at[2], at[3]])]
    rests = one.difference(two), two.difference(one)
    if any(rest.is_empty for rest in rests):
        return None
    halves.sort(
        key=lambda half: half.centroid.distance(rests[0]) - half.centroid.distance(rests[1])
    )
    made: list[Any] = [
        shapely.set_precision(one.difference(shared.intersection(halves[1])), GRID_M),
        shapely.set_precision(two.difference(shared.intersection(halves[0])), GRID_M),
    ]
    good = all(isinstance(half, Polygon) and half.is_valid and half.area > 0 for half in made)
    if not good or made[0].intersection(made[1]).area > OVERLAP_ALLOWED_M2:
        return None
    return made[0], made[1]


def _polygons(geometry: shapely.Geometry) -> list[Polygon]:
    parts = shapely.get_parts(shapely.get_parts(geometry))
    found = [one for one in parts if isinstance(one, Polygon) and one.area > 0]
    return sorted(found, key=lambda one: -one.area)
