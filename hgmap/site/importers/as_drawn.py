"""A plan of rooms that were drawn as areas: their outlines mended, doors laid along their edges."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import LineString, Polygon

from hgmap.errors import PlanError
from hgmap.site.building import OpeningState
from hgmap.site.importers.doors import DOOR_WIDTH_M, Edges, width_of
from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundOpening, FoundPlan, FoundRoom
from hgmap.site.importers.outlines import GRID_M, Outline, mend, place_of

NARROWEST_M = 0.3
"""A door that is drawn as a narrower area (m) is laid as wide as one that is only a point."""


def rooms_as_drawn(parts: Sequence[Part], *, file: str) -> FoundPlan:
    """Make a plan of room areas, the lines of walls, and doors.

    Parameters
    ----------
    parts : sequence of Part
        In metres, in the floor's frame.
    file : str
        Named in messages.

    Raises
    ------
    PlanError
        If no room is left.
    """
    mended = mend(
        (Outline(one.label, one.name or one.id, one.id, Polygon()), one.geometry)
        for one in parts
        if one.role == "room"
    )
    if not mended.outlines:
        raise PlanError("no room is left", where=file, todo="; ".join(mended.skipped[:3]))
    rooms = tuple(FoundRoom(one.polygon, one.name, one.id, one.label) for one in mended.outlines)
    openings, far = _openings(parts, rooms)
    walls = [line for one in parts if one.role in ("wall", "window") for line in lines_of(one)]
    return FoundPlan(
        rooms, openings, tuple(walls), (), (*mended.skipped, *far), mended=mended.repairs
    )


def lines_of(one: Part) -> list[LineString]:
    """Return lines as drawn, and an area (a thick wall) as its outline."""
    lines: list[LineString] = []
    for part in shapely.get_parts(one.geometry):
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        lines += [LineString(ring.coords) for ring in rings if ring.length > GRID_M]
    return lines


def _openings(
    parts: Sequence[Part], rooms: Sequence[FoundRoom]
) -> tuple[tuple[FoundOpening, ...], list[str]]:
    """Return doors drawn as lines as they are, and others laid along the nearest room edge."""
    found: list[FoundOpening] = []
    skipped: list[str] = []
    edges = Edges(room.polygon for room in rooms)

    def lay(one: Part, state: OpeningState, place: shapely.Point, width_m: float) -> None:
        line, distance = edges.lay(place, width_m)
        if line is not None:
            found.append(FoundOpening(line, state, one.id, one.label))
        else:
            skipped.append(
                f"{one.label}: a door {distance:.2f} m from the nearest room edge {place_of(place)}"
            )

    for one in parts:
        if one.role != "door":
            continue
        before = len(found) + len(skipped)
        for part in shapely.get_parts(one.geometry):
            if isinstance(part, Polygon):
                width = width_of(part)
                wide = width if width >= NARROWEST_M else DOOR_WIDTH_M
                lay(one, one.state, part.centroid, wide)
            elif part.geom_type == "Point":
                lay(one, one.state, part, DOOR_WIDTH_M)
            elif part.length > GRID_M:
                found.append(FoundOpening(LineString(part.coords), one.state, one.id, one.label))
        if len(found) + len(skipped) == before:
            skipped.append(f"{one.label}: an opening without a length")
    return tuple(found), skipped
