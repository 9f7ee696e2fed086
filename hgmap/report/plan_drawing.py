"""The building itself, and what the map says about it: rooms, walls, openings, zones, contours."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Zones
from hgmap.report.drawing import Area, Drawing, Item, Path, Pen
from hgmap.report.palette import INK, LEVEL_PEN, LEVEL_RIM, PAPER, WALL, ZONE_LOOKS
from hgmap.site.building import Floor, Opening

_WIDEST_WALL_M: Final = 0.6
"""Rooms this close together (m) have a wall between them."""

_OUTLINE: Final = Pen("#33373b", 0.9)
_WALL_LINE: Final = Pen("#33373b", 1.5)


def building(floor: Floor) -> Drawing:
    """Draw the wall body where walls are listed, and the outline of every room (m)."""
    items: list[Item] = []
    if floor.walls:
        body = _wall_body(floor)
        if not body.is_empty:
            items.append(Area(body, fill=WALL))
        items.append(Path(shapely.MultiLineString(list(floor.walls)), _WALL_LINE))
    rooms = shapely.MultiLineString(
        [ring for room in floor.rooms for ring in (room.polygon.exterior, *room.polygon.interiors)]
    )
    items.append(Path(rooms, _OUTLINE))
    return tuple(items)


def openings(floor: Floor, mm_per_m: float) -> Drawing:
    """Draw openings: a bare gap is open, a bar across is closed, a bar with crosses is sealed."""
    return tuple(item for opening in floor.openings for item in _opening(opening, floor, mm_per_m))


def opening_sample(state: str, x_mm: float, y_mm: float, width_mm: float) -> Drawing:
    """Draw an opening for the legend, on the page (mm)."""
    line = shapely.LineString([(x_mm, y_mm), (x_mm + width_mm, y_mm)])
    stub = 2.2
    wall = shapely.MultiLineString(
        [
            [(x_mm - stub, y_mm), (x_mm, y_mm)],
            [(x_mm + width_mm, y_mm), (x_mm + width_mm + stub, y_mm)],
        ]
    )
    return (Path(wall, Pen(WALL, 2.6)), *_marks(line, state, 1.0))


def zone_areas(zones: Zones, mm_per_m: float) -> Drawing:
    """Hatch and outline the zones on white rims; each outline runs just inside its own zone."""
    items: list[Item] = []
    for name, look in ZONE_LOOKS.items():
        inset = (0.25 + look.pen.width_pt * 0.18) / mm_per_m
        for zone in zones.zones:
            if zone.name != name or zone.geometry.is_empty:
                continue
            if look.hatch is not None:
                items.append(Area(zone.geometry, hatch=look.hatch_rim))
                items.append(Area(zone.geometry, hatch=look.hatch))
            inner = zone.geometry.buffer(-inset, join_style="mitre")
            outline = inner.simplify(0.05 / mm_per_m) if not inner.is_empty else zone.geometry
            items.append(Area(outline, pen=look.pen_rim))
            items.append(Area(outline, pen=look.pen))
    return tuple(items)


def unknown_ground(zones: Zones) -> BaseGeometry:
    """Return the ground that no reading speaks for (m)."""
    return shapely.union_all([one.geometry for one in zones.zones if one.name == "no data"])


def contour_lines(zones: Zones) -> Drawing:
    """Draw the contour at the level, dark on a white rim (m)."""
    drawn = [line for line in zones.contours if not line.is_empty]
    if not drawn:
        return ()
    lines = shapely.MultiLineString(drawn)
    return (Path(lines, LEVEL_RIM), Path(lines, LEVEL_PEN))


def _wall_body(floor: Floor) -> BaseGeometry:
    """Find what lies between rooms, or between rooms and wall lines, and is as thin as a wall."""
    rooms = shapely.union_all([room.polygon for room in floor.rooms])
    solid = shapely.union_all([rooms, *(wall.buffer(0.001) for wall in floor.walls)])
    reach = _WIDEST_WALL_M / 2.0
    closed = solid.buffer(reach, join_style="mitre").buffer(-reach, join_style="mitre")
    return shapely.difference(closed, rooms)


def _opening(opening: Opening, floor: Floor, mm_per_m: float) -> Drawing:
    """Break the wall over the opening's width, then say its state."""
    line = opening.line
    if line.length == 0.0:
        return ()
    gap = line.buffer(_WIDEST_WALL_M / 2.0, cap_style="flat")
    near = [
        floor.rooms[index].polygon
        for index in shapely.STRtree([room.polygon for room in floor.rooms]).query(gap)
    ]
    through: list[Item] = []
    if near:
        between = gap.difference(shapely.union_all(near))
        if not between.is_empty:
            through.append(Area(between, fill=PAPER, pen=Pen(PAPER, 1.2)))
    return (*through, Path(line, Pen(PAPER, 2.6)), *_marks(line, opening.state, mm_per_m))


def _marks(line: shapely.LineString, state: str, mm_per_m: float) -> Drawing:
    """Jambs at both ends; a bar where air should not pass; crosses where it is sealed."""
    ends = np.asarray(line.coords)[[0, -1]]
    along = ends[1] - ends[0]
    length = float(np.hypot(*along))
    if length == 0.0:
        return ()
    along /= length
    across = np.array([-along[1], along[0]])
    jamb = 0.75 / mm_per_m
    items: list[Item] = [
        Path(
            shapely.MultiLineString([[end - across * jamb, end + across * jamb] for end in ends]),
            Pen(INK, 0.9),
        )
    ]
    if state == "open":
        return tuple(items)
    items.append(Path(line, Pen(INK, 1.1)))
    if state == "sealed":
        arm = 0.8 / mm_per_m
        places = ends[0] + along * length * np.array([[0.5]])
        if length * mm_per_m > 6.0:
            places = ends[0] + along * length * np.array([[0.25], [0.5], [0.75]])
        crosses = [
            [place - arm * (along + turn * across), place + arm * (along + turn * across)]
            for place in places
            for turn in (-1.0, 1.0)
        ]
        items.append(Path(shapely.MultiLineString(crosses), Pen(INK, 0.9)))
    return tuple(items)
