"""A first plan, looked at before there is a site."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely

from hgmap.editing.begin import DrawnPlan, PicturedPlan, PlanOfBytes, import_drawn
from hgmap.editing.room_schedule import LengthUnit, read_room_schedule
from hgmap.errors import SiteError
from hgmap.site.files import read_bytes
from hgmap.site.importers.add_floor import ImportReport
from hgmap.site.pictures.read_picture import ReadPicture, read_picture
from hgmap.site.plan import read_plan


@dataclass(frozen=True, slots=True)
class PlanLook:
    """What a plan would bring: rooms, their area (m²), its extent (m), and what to know of it.

    ``repairs`` is how many changes a person may refuse, ``doubts`` how many places have to be
    looked at; ``said`` are these places, and then the other changes.
    """

    plan: DrawnPlan | PlanOfBytes
    rooms: int
    area_m2: float
    width_m: float
    height_m: float
    said: tuple[str, ...]
    repairs: int = 0
    floors: int = 1
    doubts: int = 0


def look_at_drawing(plan: DrawnPlan, floor: str) -> PlanLook:
    """Say what a drawing would bring; nothing is kept.

    Raises
    ------
    HgmapError
        If it has to be asked something, or cannot be used.
    """
    try:
        with tempfile.TemporaryDirectory() as place:
            found = import_drawn(plan, Path(place) / "new", floor)
    except OSError as error:
        raise SiteError(
            f"cannot be looked at ({error.strerror or error})", where=plan.file.name
        ) from None
    return PlanLook(
        plan, sum(one.rooms for one in found), sum(one.area_m2 for one in found),
        max(one.width_m for one in found), max(one.height_m for one in found),
        _said(found), sum(len(one.numbered) for one in found), len(found),
        sum(len(one.doubts) for one in found),
    )  # fmt: skip


def _said(found: Sequence[ImportReport]) -> tuple[str, ...]:
    """Say what is in doubt before what was changed: only the first lines may find room."""
    doubts = [(one.floor, doubt.text) for one in found for doubt in one.doubts]
    others = [(one.floor, text) for one in found for text in (*one.repairs, *one.skipped)]
    lines = (*doubts, *others)
    return tuple(f"{floor}: {text}" if len(found) > 1 else text for floor, text in lines)


def look_at_picture(plan: PicturedPlan) -> ReadPicture:
    """Read a picture as it would be kept.

    Raises
    ------
    HgmapError
        If it has to be asked which page, or cannot be used.
    """
    data = read_bytes(plan.file, where=str(plan.file))
    return read_picture(data, name=plan.file.name, page=plan.page)


def look_at_schedule(data: bytes, name: str, lengths: LengthUnit) -> PlanLook:
    """Make a plan of a room schedule (CSV, XLSX, or pasted cells) and say what it has.

    Raises
    ------
    HgmapError
        If no room can be made of it.
    """
    made = read_room_schedule(data, where=name, units=lengths)
    data = made.draft.to_bytes()
    plan = read_plan(data, where=name, floor="")
    west, south, east, north = shapely.total_bounds([one.polygon for one in plan.rooms])
    return PlanLook(
        PlanOfBytes(data), len(plan.rooms), sum(one.area_m2 for one in plan.rooms),
        float(east - west), float(north - south),
        tuple(f"{one.where}: {one.message}" for one in made.problems),
    )  # fmt: skip
