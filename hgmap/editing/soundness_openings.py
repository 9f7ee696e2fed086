"""Openings that join no rooms, and rooms that no opening leads into."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from shapely import Point

from hgmap.editing.outlines import grown
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import line_on_wall, onto_wall, rooms_touched
from hgmap.editing.soundness_features import about
from hgmap.errors import PlanError
from hgmap.site.building import Opening
from hgmap.site.plan import OPENING_REACH_M
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key

MOVED_AT_MOST_M: Final = 1.0
"""A repair moves an opening by no more than this (m). Ours, no source."""

DEEP_INSIDE_M: Final = 0.5
"""An opening this deep (m) within the outline of all rooms leads to no outside."""


def opening_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Go through openings that touch no room or one where there should be two, and shut rooms."""
    inside = grown(draft.ground, -DEEP_INSIDE_M)
    for key, opening in draft.sound_openings.items():
        if not opening.rooms:
            yield _touches_none(draft, key, opening)
        elif len(opening.rooms) == 1 and inside.contains(_middle(opening)):
            yield _touches_one(draft, key, opening)
    yield from _shut_rooms(draft)


def _touches_none(draft: PlanDraft, key: str, opening: Opening) -> PlanFinding[PlanDraft]:
    feature = draft.by_key[key]
    return PlanFinding(
        finding_key("touches-none", *about(feature)),
        "warning",
        f"opening {opening.id!r} touches no room",
        f"move it to within {OPENING_REACH_M} m of a room's edge",
        opening.line,
        (key,),
        _moved(draft, key, opening, at_least=1),
    )


def _touches_one(draft: PlanDraft, key: str, opening: Opening) -> PlanFinding[PlanDraft]:
    feature = draft.by_key[key]
    return PlanFinding(
        finding_key("touches-one", *about(feature)),
        "warning",
        f"opening {opening.id!r} inside the building touches only room {opening.rooms[0]!r}",
        "no air passes it on the map: move it onto the wall between two rooms, or draw the room "
        "that is missing",
        opening.line,
        (key,),
        _moved(draft, key, opening, at_least=2),
    )


def _moved(
    draft: PlanDraft, key: str, opening: Opening, *, at_least: int
) -> Repair[PlanDraft] | None:
    try:
        line = line_on_wall(draft, key, MOVED_AT_MOST_M)
    except PlanError:
        return None
    rooms = rooms_touched(draft, line)
    if len(rooms) < at_least:
        return None
    far = _middle(opening).distance(line.interpolate(0.5, normalized=True))
    return Repair(
        f"move opening {opening.id!r} by {far:.2f} m to the wall of {' and '.join(rooms)} (0 m²)",
        0.0,
        _on_wall(key),
    )


def _on_wall(key: str) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: onto_wall(now, key, MOVED_AT_MOST_M)


def _shut_rooms(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    if len(draft.sound_rooms) < 2:
        return
    if not draft.openings:
        yield PlanFinding(
            finding_key("no-opening"),
            "note",
            "no door is drawn: on the map no air passes from room to room",
            "draw the doors and gaps",
            None,
            (),
        )
        return
    reached = {room for opening in draft.sound_openings.values() for room in opening.rooms}
    for key, room in draft.sound_rooms.items():
        if room.id not in reached:
            yield PlanFinding(
                finding_key("shut", *about(draft.by_key[key])),
                "note",
                f"room {room.name!r}: no door is drawn: air cannot reach it",
                "draw its door, or keep it as drawn if it has none",
                room.polygon,
                (key,),
            )


def _middle(opening: Opening) -> Point:
    middle: Point = opening.line.interpolate(0.5, normalized=True)
    return middle
