"""Rooms that overlap, share a name, are slivers, or leave a gap between them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Final

import shapely

from hgmap.editing.outlines import closed, grown
from hgmap.editing.plan_areas import THICKEST_WALL_M
from hgmap.editing.plan_checks import crossed_words, overlaps
from hgmap.editing.plan_draft import PlanDraft, PlanFeature
from hgmap.editing.plan_repairs import (
    number_ids,
    number_names,
    part_overlap,
    parting_text,
    set_aside,
)
from hgmap.editing.soundness_features import about
from hgmap.site.plan import OVERLAP_ALLOWED_M2, text_property
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key

SLIVER_ROOM_M2: Final = 0.2
"""A room smaller than this (m²) is likely a slip of the drawing. Ours, no source."""

WIDEST_GAP_M: Final = 1.0
"""Neighbours with more than this (m) between them are no neighbours. Ours, no source."""

LEAST_GAP_M2: Final = 0.2

_MADE_UP: Final = re.compile(r"(?:R|room[- ])\d+")
"""What :func:`new_room_id`, a plan without names and an import call a room that has none."""


def room_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Go through what is wrong between the rooms of a plan."""
    yield from _overlaps(draft)
    yield from _names(draft)
    yield from _ids(draft)
    yield from _crossed(draft)
    yield from _slivers(draft)
    yield from _gaps(draft)
    yield from _unnamed(draft)


def _overlaps(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for (first, second), shared in overlaps(draft).items():
        if shared <= OVERLAP_ALLOWED_M2:
            continue
        pair = draft.by_key[first], draft.by_key[second]
        place = draft.sound_rooms[first].polygon.intersection(draft.sound_rooms[second].polygon)
        yield PlanFinding(
            finding_key("overlap", *about(*pair)),
            "error",
            f"rooms {pair[0].name!r} and {pair[1].name!r} overlap by {shared:.2f} m²",
            "move a corner, or cut it from one of them",
            place,
            (first, second),
            Repair(
                f"{parting_text(draft, first, second)} ({shared:.2f} m²)",
                shared,
                _parted(first, second),
            ),
        )


def _parted(first: str, second: str) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: part_overlap(now, first, second)[0]


def _names(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for same in _alike(draft.rooms, lambda one: one.name):
        yield _words(
            "name", same, f"{len(same)} rooms have the name {same[0].name!r}",
            f"number them all (0 m²): {_is_held(same[0].name)}",
            _named(tuple(one.key for one in same)),
        )  # fmt: skip


def _ids(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for kind, features in (("room", draft.rooms), ("opening", draft.openings)):
        for same in _alike(features, lambda one: one.id):
            # nobody knows which room a reading means; what a round says of openings, none has lost
            of_room = kind == "room"
            changed = same if of_room else same[1:]
            yield _words(
                "id", same, f"{len(same)} {kind}s have the id {same[0].id!r}",
                f"give each an id of its own (0 m²): {_is_held(same[0].id)}"
                if of_room
                else "give the later ones an id of their own: the first keeps "
                     f"{same[0].id!r} (0 m²)",
                _renumbered(changed),
            )  # fmt: skip


def _crossed(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for key, other in sorted(crossed_words(draft)):
        pair = [draft.by_key[key], draft.by_key[other]]
        yield _words(
            "crossed", pair,
            f"2 rooms answer to {pair[0].name!r}, one by its name and one by its id",
            f"number that name and that id (0 m²): {_is_held(pair[0].name)}",
            _named_and_renumbered(pair[0], pair[1]),
        )  # fmt: skip


def _is_held(word: str) -> str:
    return f"a reading that says only {word!r} is held until somebody writes which room"


def _named_and_renumbered(
    named: PlanFeature, other: PlanFeature
) -> Callable[[PlanDraft], PlanDraft]:
    """Take the word away from both: the id first, so that the name does not return to it."""
    renumber, name = _renumbered([other]), _named((named.key,))
    return lambda now: renumber(name(now))


def _named(keys: tuple[str, ...]) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: number_names(now, keys)


def _renumbered(features: list[PlanFeature]) -> Callable[[PlanDraft], PlanDraft]:
    raws, numbers = [one.raw for one in features], tuple(one.number for one in features)

    def apply(now: PlanDraft) -> PlanDraft:
        # other repairs may have moved them up in the file
        places = [one.number for one in now.features if any(one.raw is raw for raw in raws)]
        return number_ids(now, places or numbers)

    return apply


def _words(
    rule: str,
    features: list[PlanFeature],
    message: str,
    text: str,
    apply: Callable[[PlanDraft], PlanDraft],
) -> PlanFinding[PlanDraft]:
    room = features[0].kind == "room"
    shapes = [one.geometry for one in features if one.geometry is not None]
    return PlanFinding(
        finding_key(rule, *about(*features)),
        "error" if room else "warning",
        message,
        "a reading's room must mean one of them"
        if room
        else "the state that a round gives it would be that of both",
        shapely.GeometryCollection(shapes),
        tuple(one.key for one in features),
        Repair(text, 0.0, apply),
    )


def _alike(
    features: tuple[PlanFeature, ...], word: Callable[[PlanFeature], str]
) -> list[list[PlanFeature]]:
    groups: dict[str, list[PlanFeature]] = defaultdict(list)
    for one in features:
        groups[word(one).casefold()].append(one)
    return [group for group in groups.values() if len(group) > 1]


def _slivers(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for key, room in draft.sound_rooms.items():
        if room.area_m2 >= SLIVER_ROOM_M2:
            continue
        feature = draft.by_key[key]
        yield PlanFinding(
            finding_key("sliver", *about(feature)),
            "warning",
            f"{feature.title} has {room.area_m2:.3f} m² only",
            "merge it with its neighbour, or set it aside if it is a slip of the drawing",
            room.polygon,
            (key,),
            Repair(
                f"set {feature.title} aside ({room.area_m2:.3f} m²); it stays in the file",
                room.area_m2,
                _put_aside(key),
            ),
        )


def _unnamed(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Gather the rooms that nobody has named into one note: a plan may have hundreds."""
    found = [one for one in draft.rooms if _made_up(one)]
    if not found:
        return
    names = ", ".join(repr(one.name) for one in found[:4])
    more = f" and {len(found) - 4} more" if len(found) > 4 else ""
    shapes = [one.geometry for one in found if one.geometry is not None]
    yield PlanFinding(
        finding_key("unnamed", *(one.key for one in found)),
        "note",
        f"{names}{more}: no name but a number that was made up",
        "name them as people of the building do: readings and report say the room",
        shapely.GeometryCollection(shapes),
        tuple(one.key for one in found),
    )


def _made_up(room: PlanFeature) -> bool:
    if not any(text_property(room.properties, key) for key in ("name", "id")):
        return True
    return room.name == room.id and bool(_MADE_UP.fullmatch(room.name))


def _put_aside(key: str) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: set_aside(now, [key])


def _gaps(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Find what lies between rooms that is wider than a wall, and narrower than a room."""
    rooms = draft.sound_rooms
    if len(rooms) < 2:
        return
    whole = shapely.union_all([room.polygon for room in rooms.values()])
    wide = closed(whole, WIDEST_GAP_M).difference(closed(whole, THICKEST_WALL_M))
    opened = grown(grown(wide, -0.05, square=True), 0.05, square=True)
    for piece in shapely.get_parts(opened):
        if piece.area < LEAST_GAP_M2:
            continue
        near = grown(piece, 0.05)
        beside = [
            key
            for key, room in rooms.items()
            if near.intersects(room.polygon)
            and near.intersection(room.polygon.boundary).length > THICKEST_WALL_M
        ]
        if len(beside) < 2:
            continue
        features = [draft.by_key[key] for key in beside]
        names = ", ".join(repr(one.name) for one in features[:4])
        yield PlanFinding(
            finding_key("gap", *about(*features), shapely.normalize(piece).wkb),
            "note",
            f"{piece.area:.2f} m² between {names} belong to no room, and are wider than a wall "
            f"({THICKEST_WALL_M:g} m)",
            "is it a shaft or a cupboard? Draw it, or move the corners",
            piece,
            tuple(beside),
        )
