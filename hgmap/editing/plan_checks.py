"""What an edit of a plan may not do: leave an error that was not there before.

Errors that were there stay allowed, so that a bad plan can be mended step by step.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from typing import Final

import numpy as np
import shapely
from shapely import Polygon, STRtree

from hgmap.editing.outlines import crossing_of
from hgmap.editing.plan_draft import PlanDraft, PlanFeature
from hgmap.errors import PlanError
from hgmap.site.plan import LONGEST_BUILDING_M, OVERLAP_ALLOWED_M2

SAME_OVERLAP_M2: Final = 1e-3
"""Two rooms that overlapped before may do so by this much more (m²): the last digits."""


def refuse_new_errors(
    before: PlanDraft, after: PlanDraft, heirs: Mapping[str, tuple[str, ...]] | None = None
) -> PlanDraft:
    """Return ``after``, unless :func:`read_plan` would refuse it for what it did to ``before``.

    Parameters
    ----------
    before, after : PlanDraft
    heirs : mapping, optional
        For the key of a feature that came from others: the keys of those.

    Raises
    ------
    PlanError
        In one sentence.
    """
    same = {id(one.raw) for one in before.features}
    touched = [one for one in after.features if id(one.raw) not in same]
    heirs = heirs or {}
    for one in touched:
        _refuse_complaint(before, one, heirs)
    rooms = [one for one in touched if one.kind == "room"]
    if rooms:
        _refuse_words(before, after)
        _refuse_overlaps(before, after, {one.key for one in rooms}, heirs)
        _refuse_span(before, after)
    return after


def overlaps(draft: PlanDraft, keys: Collection[str] | None = None) -> dict[tuple[str, str], float]:
    """Return what pairs of sound rooms share (m²), by their keys in the order of the file.

    ``keys`` asks only for pairs with one of these rooms.
    """
    names = list(draft.sound_rooms)
    polygons = np.array([draft.sound_rooms[name].polygon for name in names], dtype=object)
    asked = np.array([n for n, name in enumerate(names) if keys is None or name in keys])
    if not len(asked) or len(names) < 2:
        return {}
    a, other = STRtree(polygons).query(polygons[asked], predicate="intersects")
    pairs = np.sort(np.column_stack([asked[a], other]), axis=1)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    _, first = np.unique(pairs, axis=0, return_index=True)
    one, other = pairs[np.sort(first)].T
    boxes = shapely.bounds(polygons)
    sides = np.minimum(boxes[one, 2:], boxes[other, 2:]) - np.maximum(
        boxes[one, :2], boxes[other, :2]
    )
    shared = np.zeros(len(one))
    some = (sides > 0).all(axis=1)  # most neighbours' boxes only touch
    shared[some] = shapely.area(shapely.intersection(polygons[one[some]], polygons[other[some]]))
    return {
        (names[i], names[j]): area
        for i, j, area in zip(one.tolist(), other.tolist(), shared.tolist(), strict=True)
    }


def double_words(draft: PlanDraft) -> dict[str, Counter[str]]:
    """Return how often each name and id of a room stands, small letters and capitals alike."""
    return {
        "name": Counter(one.name.casefold() for one in draft.rooms),
        "id": Counter(one.id.casefold() for one in draft.rooms),
    }


def crossed_words(draft: PlanDraft) -> set[tuple[str, str]]:
    """Return the keys of rooms whose name is the id of another room, with that other's."""
    by_id = {one.id.casefold(): one for one in draft.rooms}
    found = set()
    for room in draft.rooms:
        other = by_id.get(room.name.casefold(), room)
        if other.key != room.key and other.name.casefold() != room.name.casefold():
            found.add((room.key, other.key))
    return found


def span_m(draft: PlanDraft) -> float:
    """Return the larger side (m) of the box round all sound rooms; 0 without any."""
    if not draft.sound_rooms:
        return 0.0
    polygons = [room.polygon for room in draft.sound_rooms.values()]
    west, south, east, north = shapely.total_bounds(polygons)
    return float(max(east - west, north - south))


def _ancestors(
    before: PlanDraft, key: str, heirs: Mapping[str, tuple[str, ...]]
) -> list[PlanFeature]:
    return [before.by_key[one] for one in heirs.get(key, (key,)) if one in before.by_key]


def _refuse_complaint(
    before: PlanDraft, feature: PlanFeature, heirs: Mapping[str, tuple[str, ...]]
) -> None:
    if not feature.complaint or any(
        one.complaint for one in _ancestors(before, feature.key, heirs)
    ):
        return
    shape = feature.geometry
    if isinstance(shape, Polygon) and not shape.is_valid:
        place = crossing_of(shape)
        at = f" at x {place[0]:.2f}, y {place[1]:.2f} m" if place else ""
        raise PlanError(
            f"the outline of {feature.title} would cross or touch itself{at}",
            todo="choose another place",
        )
    raise PlanError(f"{feature.title}: {feature.complaint}")


def _refuse_words(before: PlanDraft, after: PlanDraft) -> None:
    was = double_words(before)
    for attribute, counts in double_words(after).items():
        for word, count in counts.items():
            if count > 1 and count > was[attribute][word]:
                raise PlanError(
                    f"another room has the {attribute} {word!r}", todo="choose one of its own"
                )
    for key, other in sorted(crossed_words(after) - crossed_words(before)):
        raise PlanError(
            f"{after.by_key[key].name!r} is already the id of {after.by_key[other].title}",
            todo="a reading's room must mean one of them: choose another name",
        )


def _refuse_overlaps(
    before: PlanDraft, after: PlanDraft, keys: set[str], heirs: Mapping[str, tuple[str, ...]]
) -> None:
    families = {key: _ancestors(before, key, heirs) for key in keys}
    was = overlaps(before, {one.key for family in families.values() for one in family})
    for pair, shared in overlaps(after, keys).items():
        if shared <= OVERLAP_ALLOWED_M2:
            continue
        ours, theirs = (families.get(key) or _ancestors(before, key, heirs) for key in pair)
        if any(one.complaint for one in (*ours, *theirs)):  # its overlaps were not seen before
            continue
        former = max(
            (was.get((a.key, b.key), was.get((b.key, a.key), 0.0)) for a in ours for b in theirs),
            default=0.0,
        )
        if former <= OVERLAP_ALLOWED_M2 or shared > former + SAME_OVERLAP_M2:
            first, second = (after.by_key[key].title for key in pair)
            raise PlanError(
                f"{first} and {second} would overlap by {max(shared, 0.01):.2f} m²",
                todo="draw it beside the other",
            )


def _refuse_span(before: PlanDraft, after: PlanDraft) -> None:
    span = span_m(after)
    if not after.region and span > LONGEST_BUILDING_M and span > span_m(before):
        raise PlanError(
            f"the rooms would span {span:.0f} m", todo="a floor is drawn in metres, near the others"
        )
