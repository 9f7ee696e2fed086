"""Doors, gaps and walls of a plan: drawn onto the wall between rooms, with their state."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import count
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from hgmap.editing.outlines import grown
from hgmap.editing.plan_checks import refuse_new_errors
from hgmap.editing.plan_draft import (
    MILLIMETRE,
    PlanDraft,
    edges_of,
    millimetres,
    raw_feature,
    raw_with,
)
from hgmap.editing.plan_edits import Place, finite_place
from hgmap.errors import PlanError
from hgmap.site.building import Opening, Room
from hgmap.site.plan import OPENING_REACH_M, STATES

NARROWEST_M: Final = 0.05
"""An opening narrower than this (m) is a slip of the hand."""


SAME_LINE_M: Final = 0.1
SAME_LINE_SHARE: Final = 0.8
"""Two openings this near (m) along this share of the longer are one drawn twice. Ours."""


def at_one_place(one: LineString, two: LineString) -> bool:
    """Tell whether two openings are one that was drawn twice."""
    shared = float(grown(one, SAME_LINE_M).intersection(two).length)
    return bool(shared >= SAME_LINE_SHARE * max(one.length, two.length))


def add_opening(
    draft: PlanDraft, start: Place, end: Place, state: str = "open", id: str | None = None
) -> PlanDraft:
    """Draw an opening, as long as it is wide; it is put onto the wall that it was drawn along.

    Raises
    ------
    PlanError
        If no wall of a room is within 0.35 m of its middle, it was drawn across the wall, or an
        opening lies there already.
    """
    _check_state(state)
    line, rooms = on_the_wall(draft, start, end)
    raw = raw_feature("opening", line, id=id or _new_id(draft, rooms), state=state)
    _free(draft, line)
    after = refuse_new_errors(draft, draft.edited(added=[raw]))
    return _joined(after, after.features[-1].key)


def move_opening(draft: PlanDraft, key: str, start: Place, end: Place) -> PlanDraft:
    """Draw an opening anew; its id and state stay."""
    feature = draft.feature(key)
    if feature.kind != "opening":
        raise PlanError(f"{feature.title} is no opening", todo="choose an opening")
    line, _ = on_the_wall(draft, start, end)
    _free(draft, line, key)
    after = refuse_new_errors(draft, draft.edited({key: raw_with(feature, line)}))
    return _joined(after, key)


def set_state(draft: PlanDraft, key: str, state: str) -> PlanDraft:
    """Say how an opening stands on the plan: open, closed or sealed."""
    _check_state(state)
    feature = draft.feature(key)
    if feature.kind != "opening":
        raise PlanError(f"{feature.title} is no opening", todo="choose an opening")
    return refuse_new_errors(draft, draft.edited({key: raw_with(feature, state=state)}))


def add_wall(draft: PlanDraft, places: Sequence[Place]) -> PlanDraft:
    """Draw a wall: a line that no air passes."""
    ends = [finite_place(one) for one in places]
    line = millimetres(LineString(ends)) if len(ends) > 1 else None
    if line is None or not line.length > 0:
        raise PlanError("a wall has two ends", todo="go on drawing")
    return refuse_new_errors(draft, draft.edited(added=[raw_feature("wall", line)]))


def on_the_wall(
    draft: PlanDraft, start: Place, end: Place, *, reach_m: float = OPENING_REACH_M
) -> tuple[LineString, tuple[Room, ...]]:
    """Return an opening's line on the wall that it was drawn along, and the rooms beside that.

    Between two rooms it lies midway between their edges, else on the edge of its room.
    """
    a, b = finite_place(start), finite_place(end)
    if math.dist(a, b) < NARROWEST_M:
        raise PlanError("an opening is as long as it is wide", todo="draw it along the wall")
    middle = (a + b) / 2
    point = Point(middle)
    near = [room for room in draft.sound_rooms.values() if room.polygon.distance(point) <= reach_m]
    # the edges' distance, too: the middle of a hall is no place for a door
    beside = sorted((room.polygon.boundary.distance(point), room.id, room) for room in near)
    beside = [one for one in beside if one[0] <= reach_m][:2]
    if not beside:
        raise PlanError(
            f"no wall of a room is within {reach_m:g} m",
            todo="draw the opening on the wall between two rooms",
        )
    rooms = tuple(room for _, _, room in beside)
    feet = [_foot(room, middle, b - a) for room in rooms]
    if len(feet) > 1 and math.dist(feet[0][0], feet[1][0]) > 2 * OPENING_REACH_M:
        rooms, feet = rooms[:1], feet[:1]  # midway it would touch neither
    along = feet[0][1]
    if abs(float(along @ (b - a))) < math.dist(a, b) * math.sqrt(0.5):
        raise PlanError("the opening was drawn across the wall", todo="draw it along the wall")
    base = np.mean([foot for foot, _ in feet], axis=0)
    ends = [base + along * float(along @ (one - base)) for one in (a, b)]
    return LineString(np.round(ends, MILLIMETRE) + 0.0), rooms


def _foot(
    room: Room, middle: NDArray[np.float64], drawn: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the nearest place on a room's edge, and the direction of that edge.

    In a corner, the edge that was drawn along.
    """
    edges = edges_of([room.polygon])
    starts, along = edges[:, :2], edges[:, 2:] - edges[:, :2]
    lengths = np.hypot(*along.T)
    starts, along, lengths = (one[lengths > 0] for one in (starts, along, lengths))
    along = along / lengths[:, None]
    at = np.clip(np.sum((middle - starts) * along, axis=1), 0.0, lengths)
    feet = starts + along * at[:, None]
    away = np.hypot(*(feet - middle).T)
    nearest = np.flatnonzero(away <= away.min() + OPENING_REACH_M / 2)
    best = max(nearest, key=lambda n: (abs(round(float(along[n] @ drawn), 9)), -away[n]))
    return feet[best], along[best]


def _free(draft: PlanDraft, line: LineString, but: str = "") -> None:
    for key, other in draft.sound_openings.items():
        if key != but and at_one_place(other.line, line):
            raise PlanError(
                f"opening {other.id!r} lies there already",
                todo="say how it stands, or move it; two at one place may not agree",
            )


def _joined(draft: PlanDraft, key: str) -> PlanDraft:
    """Return the draft, unless the opening as drawn touches no room."""
    opening: Opening | None = draft.sound_openings.get(key)
    if opening is not None and not opening.rooms:
        raise PlanError(
            f"no room is within {OPENING_REACH_M} m of the opening",
            todo="draw it on the wall between two rooms",
        )
    return draft


def _check_state(state: str) -> None:
    if state not in STATES:
        raise PlanError(f"state {state!r} is not one of {', '.join(STATES)}")


def _new_id(draft: PlanDraft, rooms: Sequence[Room]) -> str:
    taken = {one.id.casefold() for one in draft.openings}
    stem = "-".join([*sorted(room.id for room in rooms), "outside"][:2])
    ids = (stem if n == 1 else f"{stem}-{n}" for n in count(1))
    return next(one for one in ids if one.casefold() not in taken)
