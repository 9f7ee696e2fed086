"""Rooms and doors from an EnergyPlus input file: a zone's floor is a room on its storey."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np
import shapely
from shapely import LineString

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing, Part
from hgmap.site.importers.features import LISTED
from hgmap.site.importers.idf_rooms import IdfRoom, by_height, read_rooms
from hgmap.site.importers.idf_surfaces import (
    DETAILED,
    PLAIN_DOORS,
    RECTANGLES,
    Axes,
    Surface,
    read_axes,
    read_door,
    read_surface,
)
from hgmap.site.importers.idf_text import IdfObject, number_or_none, read_idf
from hgmap.site.importers.names import one_line_text

AREA_AGREES: Final = 0.02
"""The floor drawn may differ from the area that its zone states by this share."""

SAME_DOOR_M: Final = 0.01
ON_STOREY_M: Final = 0.5
"""A door whose sill is lower or higher than the floor by more (m) is on another storey."""

NO_OPENINGS: Final = (
    "no openings in the file: draw the doors, for without them no air passes from room to room"
)


def draw_idf(data: bytes, *, file: str) -> tuple[Drawing, ...]:
    """Read the storeys of an EnergyPlus input file.

    Parameters
    ----------
    data : bytes
        The file. Lengths are metres, as the format says.
    file : str
        Its name, for messages.

    Returns
    -------
    tuple of Drawing
        From the lowest storey up. One room a zone, or a space where surfaces name theirs; of
        floors, or of ceilings for a zone without one. Doors, and walls of air, are doors. The
        axes are the building's, which need not point north.

    Raises
    ------
    PlanError
        If it is no such file, or no zone has a floor.
    """
    objects = read_idf(data, file=file)
    axes = read_axes(objects)
    notes: list[str] = []
    surfaces = _surfaces(objects, axes, notes)
    rooms = read_rooms(surfaces, axes, notes)
    if not rooms:
        raise PlanError(
            "no zone has a floor with corners",
            where=file,
            todo="export the model with BuildingSurface:Detailed",
        )
    doors = _doors(objects, surfaces, axes, notes)
    notes += _said_of_the_whole(objects, axes, surfaces)
    notes += _other_areas(rooms, axes)
    storeys = by_height(rooms, lambda one: one.height_m)
    several = len(storeys) > 1
    return tuple(_drawing(one, doors, notes, axes, several=several, file=file) for one in storeys)


def _surfaces(
    objects: Mapping[str, list[IdfObject]], axes: Axes, notes: list[str]
) -> list[Surface]:
    found: list[Surface] = []
    lost: list[str] = []
    for kind in (*DETAILED, *RECTANGLES):
        if kind == "fenestrationsurface:detailed":
            continue
        for one in objects.get(kind, ()):
            try:
                found.append(read_surface(one, axes))
            except PlanError as error:
                lost.append(f"{error} (left out)")
    notes += _first_of(lost, "surfaces that cannot be used")
    return found


def _doors(
    objects: Mapping[str, list[IdfObject]],
    surfaces: Iterable[Surface],
    axes: Axes,
    notes: list[str],
) -> list[tuple[LineString, float, str]]:
    """Return each door once: its line, the height of its wall's foot, and its label.

    A door between zones stands in the file twice, once on each side of the wall.
    """
    by_name = {one.source.name.casefold(): one for one in surfaces}

    def wall(name: str) -> Surface | None:
        return by_name.get(one_line_text(name).casefold())

    found: list[tuple[LineString, float, str]] = []
    lost: list[str] = []
    for kind in ("fenestrationsurface:detailed", *PLAIN_DOORS):
        of = 3 if kind == "fenestrationsurface:detailed" else 2
        for one in objects.get(kind, ()):
            try:
                line = read_door(one, wall, axes)
            except PlanError as error:
                lost.append(f"{error} (left out)")
                continue
            base = wall(one.text(of))
            if line is not None and line.length > SAME_DOOR_M and base is not None:
                label = f"door {one.name!r}"
                found.append((line, float(base.corners[:, 2].min()), label))
    notes += _first_of(lost, "doors that cannot be used")
    air = {one.name.casefold() for one in objects.get("construction:airboundary", ())}
    found += [
        (one.foot, float(one.corners[:, 2].min()), f"wall of air {one.source.name!r}")
        for one in surfaces
        if one.type == "wall" and one.construction in air and one.foot.length > SAME_DOOR_M
    ]
    kept: dict[tuple[tuple[int, ...], ...], tuple[LineString, float, str]] = {}
    for line, height, label in found:
        ends = np.rint(shapely.get_coordinates(line) / SAME_DOOR_M).astype(int)
        key = (*sorted(map(tuple, ends.tolist())), (round(height / SAME_DOOR_M),))
        kept.setdefault(key, (line, height, label))
    return list(kept.values())


def _said_of_the_whole(
    objects: Mapping[str, list[IdfObject]], axes: Axes, surfaces: Iterable[Surface]
) -> list[str]:
    lines: list[str] = []
    building = next(iter(objects.get("building", ())), None)
    north = building.number(1) if building is not None else 0.0
    if axes.relative and north % 360:
        lines.append(
            f"up on the plan is the building's own north, {north:g} degrees clockwise from true "
            "north"
        )
    for one in objects.get("zonegroup", ()):
        times = number_or_none(one.text(2))
        if times is not None and times > 1:
            lines.append(f"zone group {one.name!r} stands for {times:g} alike, and is drawn once")
    unknown = sorted({one.zone for one in surfaces if one.zone.casefold() not in axes.zones})
    if unknown and axes.relative:
        few = ", ".join(repr(one_line_text(name)) for name in unknown[:LISTED])
        lines.append(f"zones that are not described, taken to stand at the origin: {few}")
    return lines


def _drawing(
    rooms: list[IdfRoom],
    doors: list[tuple[LineString, float, str]],
    notes: list[str],
    axes: Axes,
    *,
    several: bool,
    file: str,
) -> Drawing:
    elevation = min(one.height_m for one in rooms)
    top = max(one.height_m for one in rooms)
    parts = [Part("room", one.shape, one.label, name=one.name) for one in rooms]
    parts += [
        Part("door", line, label)
        for line, height, label in doors
        if elevation - ON_STOREY_M <= height <= top + ON_STOREY_M
    ]
    own: list[str] = []
    if top - elevation > SAME_DOOR_M:
        own.append(f"its floors lie at {elevation:.2f} to {top:.2f} m: taken for one storey")
    own += [line for one in rooms for line in _said_of_zone(one, axes)]
    if len(parts) == len(rooms) and len(rooms) > 1:
        own.append(NO_OPENINGS)
    return Drawing(
        tuple(parts),
        file,
        storey=f"{elevation + 0.0:.2f} m" if several else "",
        elevation_m=elevation,
        notes=(*notes, *own),
    )


def _said_of_zone(room: IdfRoom, axes: Axes) -> list[str]:
    """Say where a zone stands for more than is drawn, or for less than a room."""
    zone = axes.zones.get(room.zone.casefold())
    if zone is None:
        return []
    lines: list[str] = []
    times = number_or_none(zone.text(6))
    if times is not None and times > 1:
        lines.append(
            f"{room.label} stands for {times:g} alike, and is drawn once: the others are empty "
            "patches"
        )
    if zone.fields[-1].casefold() == "no" and len(zone.fields) > 9:
        lines.append(f"{room.label} is no part of the floor area: a plenum, an attic or a shaft?")
    return lines


def _other_areas(rooms: Iterable[IdfRoom], axes: Axes) -> list[str]:
    """Say which zones state another floor area than is drawn."""
    drawn: dict[str, float] = defaultdict(float)
    for one in rooms:
        drawn[one.zone.casefold()] += one.shape.area
    lines: list[str] = []
    for key, area in drawn.items():
        zone = axes.zones.get(key)
        stated = number_or_none(zone.text(9)) if zone is not None else None
        if zone is not None and stated and abs(area - stated) > AREA_AGREES * max(area, stated):
            lines.append(
                f"zone {zone.name!r}: its floor is {area:.2f} m², the file states {stated:.2f} m²"
            )
    return _first_of(lines, "zones of another area than stated")


def _first_of(lines: list[str], what: str) -> list[str]:
    more = len(lines) - LISTED
    return lines[:LISTED] + ([f"{more} more {what}"] if more > 0 else [])
