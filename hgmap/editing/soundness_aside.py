"""Rooms that a repair has set aside: while no room covers their ground, somebody has to look."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import shapely
from shapely import Polygon

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import aside_of, is_sliver, sound_parts
from hgmap.editing.soundness_rooms import SLIVER_ROOM_M2
from hgmap.errors import PlanError
from hgmap.site.plan import label_of, read_geometry
from hgmap.site.plan_findings import PlanFinding, finding_key


def aside_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Go through rooms that were set aside, whole or in part, and whose ground no room has."""
    for number, raw in enumerate(aside_of(draft), start=1):
        if not _is_room(raw):
            continue
        shape = _shape(raw)
        parts = [one for one in sound_parts(shape) if not is_sliver(one)]
        if shape is not None and not parts:
            continue  # it had no ground
        left = _uncovered(draft, parts)
        area = sum(one.area for one in left)
        if parts and area < SLIVER_ROOM_M2:
            continue
        lies = f"{area:.2f} m² of it lie in no room" if left else "nobody can say where it lies"
        yield PlanFinding(
            finding_key("aside", json.dumps(raw, sort_keys=True), f"{area:.3f}"),
            "warning",
            f"a room that was set aside, {label_of(raw, number)}: {lies}",
            "no map and no clearance speaks of that ground: draw the room, or keep it as drawn if "
            "there is none",
            shapely.union_all(left) if left else None,
            (),
        )


def _uncovered(draft: PlanDraft, parts: list[Polygon]) -> list[Polygon]:
    rooms = shapely.union_all([room.polygon for room in draft.sound_rooms.values()])
    rest = shapely.get_parts(shapely.union_all(parts).difference(rooms))
    return [one for one in rest if isinstance(one, Polygon) and not is_sliver(one)]


def _is_room(raw: Any) -> bool:
    properties = raw.get("properties") if isinstance(raw, dict) else None
    return isinstance(properties, dict) and properties.get("kind") == "room"


def _shape(raw: Any) -> shapely.Geometry | None:
    try:
        return read_geometry(raw)
    except PlanError:
        return None
