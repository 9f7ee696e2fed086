"""Rooms found between the walls of a plan that is being drawn: traced, proposed, or brought in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.editing.plan_checks import refuse_new_errors
from hgmap.editing.plan_draft import PlanDraft, millimetres, raw_feature
from hgmap.editing.plan_edits import new_name, new_room_id
from hgmap.errors import PlanError
from hgmap.site.building import OpeningState
from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan, FoundRoom, PlanDoubt, PlanRepair
from hgmap.site.importers.names import unique_ids
from hgmap.site.importers.refused import Refused, without_refused
from hgmap.site.plan import STATES
from hgmap.site.rooming import Rooming, rooms_from_walls

SAME_ROOM: Final = 0.5
"""A found room that lies in a drawn one by more than this share is that one. Ours, no source."""

NEAR_M: Final = 0.1
"""An opening whose middle is nearer than this (m) to one of the plan's is that one."""


@dataclass(frozen=True)
class RoomsOfWalls:
    """What the walls of a plan come to.

    Attributes
    ----------
    draft : PlanDraft
        The plan with the rooms and openings that were found; those that it had are as they were.
    rooms, openings : int
        How many were added.
    repairs : tuple of PlanRepair
        What was closed or left to get there, numbered from 1; each may be refused.
    left_out : tuple of str
        What was not used, and why.
    doubts : tuple of PlanDoubt
        What a person must look at.
    """

    draft: PlanDraft
    rooms: int
    openings: int
    repairs: tuple[PlanRepair, ...]
    left_out: tuple[str, ...]
    doubts: tuple[PlanDoubt, ...] = ()


def find_rooms(
    draft: PlanDraft, settings: Rooming | None = None, refuse: Refused = ()
) -> RoomsOfWalls:
    """Add the rooms between the walls of a plan, and the gaps as wide as a door as openings.

    Parameters
    ----------
    draft : PlanDraft
        A plan with walls; rooms that it has already stay as they are.
    settings : Rooming, optional
        Tolerances.
    refuse : sequence of int or str
        Numbers of repairs that are not made, or their keys.

    Raises
    ------
    PlanError
        If it has no wall, no room is found, or there is no repair of a number.
    """
    parts = _parts(draft)
    if not any(one.role == "wall" for one in parts):
        raise PlanError("the plan has no wall", todo="draw walls, or bring in a drawing")
    given = settings or Rooming()
    found = without_refused(
        lambda keys: rooms_from_walls(parts, replace(given, refused=given.refused | keys)), refuse
    )
    after, rooms = _with_rooms(draft, found)
    if not rooms:
        told = [*(one.text for one in found.doubts), *found.left_out]
        why = "; ".join(told[:2]) or "look where they do not close"
        raise PlanError("its walls close round no further room", todo=why)
    after, openings = _with_openings(after, found)
    return RoomsOfWalls(
        refuse_new_errors(draft, after), rooms, openings, found.repairs, found.left_out,
        found.doubts,
    )  # fmt: skip


def _parts(draft: PlanDraft) -> list[Part]:
    parts: list[Part] = []
    for one in draft.features:
        if one.geometry is None:
            continue
        if one.kind == "wall":
            parts.append(Part("wall", one.geometry, one.title))
        elif one.key in draft.sound_rooms:
            room = draft.sound_rooms[one.key]
            parts.append(Part("room", room.polygon, one.title, room.name, room.id))
        elif one.key in draft.sound_openings:
            opening = draft.sound_openings[one.key]
            parts.append(Part("door", opening.line, one.title, "", opening.id, opening.state))
    return parts


def _with_rooms(draft: PlanDraft, found: FoundPlan) -> tuple[PlanDraft, int]:
    drawn = shapely.union_all([one.polygon for one in draft.sound_rooms.values()])
    count = 0
    for room in found.rooms:
        rest = room.polygon.difference(drawn)
        if rest.area <= (1 - SAME_ROOM) * room.polygon.area:
            continue
        polygon = max(
            (one for one in shapely.get_parts(rest) if one.geom_type == "Polygon"),
            key=lambda one: one.area,
        )
        draft = _with_room(draft, room, polygon)
        count += 1
    return draft, count


def _with_room(draft: PlanDraft, room: FoundRoom, polygon: shapely.Polygon) -> PlanDraft:
    identifier = new_room_id(draft)
    name = new_name(draft, room.name) if room.name else identifier
    raw = raw_feature("room", millimetres(polygon), id=identifier, name=name)
    return draft.edited(added=[raw])


def _with_openings(draft: PlanDraft, found: FoundPlan) -> tuple[PlanDraft, int]:
    drawn = [_middle(one.line) for one in draft.sound_openings.values()]
    count = 0
    for one in found.openings:
        middle = _middle(one.line)
        if any(np.hypot(*(middle - other)) <= NEAR_M for other in drawn):
            continue
        state: OpeningState = one.state if one.state in STATES else "open"
        draft = draft.edited(
            added=[raw_feature("opening", millimetres(one.line), id=_new_id(draft), state=state)]
        )
        drawn.append(middle)
        count += 1
    return draft, count


def _middle(line: shapely.LineString) -> NDArray[np.float64]:
    middle = line.interpolate(0.5, normalized=True)
    return np.array([middle.x, middle.y])


def _new_id(draft: PlanDraft) -> str:
    taken = dict.fromkeys(one.id.casefold() for one in draft.openings)
    return unique_ids([*taken, ""], letter="D")[-1]
