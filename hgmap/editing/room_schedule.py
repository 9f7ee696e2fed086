"""A room schedule (names and sizes in a table) becomes a plan of rooms to drag into place."""

from __future__ import annotations

from dataclasses import dataclass

from hgmap.editing.plan_draft import PlanDraft, millimetres, raw_feature
from hgmap.errors import PlanError
from hgmap.site.importers.schedule import read_schedule
from hgmap.site.importers.schedule_cells import LengthUnit
from hgmap.site.importers.schedule_layout import GAP_M
from hgmap.site.model import Problem

__all__ = ["LengthUnit", "RoomSchedule", "read_room_schedule"]


@dataclass(frozen=True)
class RoomSchedule:
    """The plan made of a schedule, and what a person should know about its rows."""

    draft: PlanDraft
    problems: tuple[Problem, ...]


def read_room_schedule(
    data: bytes,
    *,
    where: str,
    units: LengthUnit = "m",
    sheet: str | None = None,
    gap_m: float = GAP_M,
) -> RoomSchedule:
    """Make a plan of a room schedule of one floor.

    The parameters are those of :func:`hgmap.site.importers.schedule.read_schedule`, whose rooms
    and doors are drawn to the millimetre.

    Raises
    ------
    PlanError
        If it is no table, lacks a column, no row of it can be used, or it has several floors.
    """
    schedule = read_schedule(data, where=where, units=units, sheet=sheet, gap_m=gap_m)
    if len(schedule.storeys) > 1:
        raise PlanError(
            f"its rooms lie on {len(schedule.storeys)} floors "
            f"({', '.join(one or 'none said' for one in schedule.storeys[:5])})",
            where=where,
            todo="give the rows of one floor",
        )
    raws = [
        raw_feature("room", millimetres(one.polygon), id=one.id, name=one.name)
        for one in schedule.rooms
    ]
    raws += [raw_feature("opening", millimetres(one.line)) for one in schedule.doors]
    return RoomSchedule(PlanDraft().edited(added=raws), schedule.problems)
