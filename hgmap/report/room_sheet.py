"""The detail of one room: large enough for every value, with its neighbours round it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.column import SMALL_PT, Column, heading_mm
from hgmap.report.drawing import Area, Drawing, Frame, Label, Pen, Sheet
from hgmap.report.extent import extent
from hgmap.report.legend import (
    again_block,
    contour_row,
    estimate_block,
    plan_block,
    readings_block,
    zone_block,
)
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.palette import INK, PAPER, RULE, SOFT
from hgmap.report.plan_marks import Marks, marks_on_plan
from hgmap.report.shades import shades_of
from hgmap.report.sheet import zone_plan
from hgmap.report.sheet_page import SheetPage, sheet_page
from hgmap.report.sheet_setup import MARGIN_MM, PLAIN, SheetSetup
from hgmap.report.typeset import width_mm
from hgmap.report.words import reading_value
from hgmap.site.building import Floor, Room
from hgmap.site.model import Round, Site

MOST_ROOMS: Final = 6
"""Rooms of a floor that are shown apart because not every value finds room on its map."""

_ROUND_M: Final = 0.8
"""Of the neighbours that is seen."""
_LEAST_PAPER_MM2: Final = 60.0
_KEY_MM: Final = (34.0, 24.0)
_ROW_MM: Final = 2.8
_COLUMN_MM: Final = 38.0
_GAP_MM: Final = 5.0
_MOST_BAND: Final = 0.25
_LIST_MM: Final = 22.0


def crowded_rooms(marks: Marks) -> tuple[str, ...]:
    """Return ids of rooms whose values a sheet could not print, those with the most first."""
    found = sorted(marks.crowded.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple(room for room, _ in found if room)[:MOST_ROOMS]


def room_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    resample: ResampleList,
    room: str,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
    setup: SheetSetup = PLAIN,
) -> Sheet:
    """Lay out one room and a strip of its neighbours, with a small plan that says where it is.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence, surface, zones, resample
        Of the whole floor.
    room : str
        Id of one of its rooms.
    warnings, cautions : tuple of str
        Printed first among the notes, and after them.
    version : str
        Of the program.
    setup : SheetSetup, optional
        Its scale is that of the whole floor: a detail takes the largest round one that fits.
    """
    floor = evidence.floor
    shown = next(one for one in floor.rooms if one.id == room)
    name = shown.name or shown.id
    titled = _titled(round_, name)
    page, bounds = _page(site, titled, evidence, surface, shown, version, setup)
    band, table = _values(page, evidence, room)
    frame, mm_per_m = page.frame(band, bounds)
    seen = shapely.box(*frame.seen_m)
    nearby = replace(evidence, floor=_seen_floor(floor, zones, seen, mm_per_m))
    there = ResampleList(
        tuple(one for one in resample.places if seen.contains(shapely.Point(one.x, one.y)))
    )
    marks = marks_on_plan(nearby, there, frame, zones)
    shades = None if surface is None else shades_of(surface, evidence)
    plan = zone_plan(frame, evidence, surface, shades, zones, marks)
    own = replace(zones, zones=tuple(one for one in zones.zones if one.room == room))
    panel = page.panel()
    panel.text(name, 9.5, bold=True, most_lines=2)
    panel.line("areas are those of this room alone", SMALL_PT, colour=SOFT)
    panel.skip(1.2)
    zone_block(panel, own, estimated=surface is not None)
    if surface is not None and shades is not None:
        estimate_block(panel, surface, evidence, shades)
        if zones.contours:
            contour_row(panel)
    readings_block(panel, marks, evidence)
    plan_block(panel, evidence, there)
    bottom = panel.bottom_mm
    panel.bottom_mm += _KEY_MM[1] + 2.0
    own_list = ResampleList(tuple(one for one in there.places if one.room == room))
    if panel.left_over_mm > _LIST_MM:
        again_block(panel, own_list, panel.bottom_mm + 0.35 * panel.left_over_mm)
    here = replace(nearby, items=tuple(one for one in evidence.items if one.reading.room == room))
    told = replace(marks, off_plan=0)
    notes_block(panel, notes_of(site, round_, here, surface, told, warnings, cautions), MORE)
    key, words = _key_plan(page, floor, shown, bottom)
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    edge = shapely.box(plan.left_mm, plan.bottom_mm, plan.left_mm + plan.width_mm,
                       plan.bottom_mm + plan.height_mm)  # fmt: skip
    texts = (Area(edge, pen=Pen(RULE, 0.8)), *panel.done(), *words, *table)
    return page.done((plan, key), texts, title)


def room_scale(
    site: Site, round_: Round, evidence: FloorEvidence, surface: Surface | None, room: str,
    setup: SheetSetup = PLAIN, version: str = "",
) -> float:  # fmt: skip
    """Return n of the scale 1 : n that the detail of a room has."""
    shown = next(one for one in evidence.floor.rooms if one.id == room)
    titled = _titled(round_, shown.name or shown.id)
    page, bounds = _page(site, titled, evidence, surface, shown, version, setup)
    return page.scale(_values(page, evidence, room)[0], bounds)


def _titled(round_: Round, name: str) -> Round:
    return replace(round_, title=f"{round_.title or round_.name}, detail of {name}")


def _page(
    site: Site, titled: Round, evidence: FloorEvidence, surface: Surface | None, shown: Room,
    version: str, setup: SheetSetup,
) -> tuple[SheetPage, tuple[float, float, float, float]]:  # fmt: skip
    """Return the empty page of a detail, and what it shows of the floor (m)."""
    west, south, east, north = shown.polygon.bounds
    bounds = (west - _ROUND_M, south - _ROUND_M, east + _ROUND_M, north + _ROUND_M)
    where = title_block.where_line(evidence.floor.name, titled.name, version)
    page = sheet_page(
        site, titled, evidence, surface, setup=replace(setup, scale=None), panels_mm=(66.0, 78.0),
        bounds=bounds, sheet_line=f"detail of {shown.id}, {where}",
    )  # fmt: skip
    return page, bounds


def _seen_floor(floor: Floor, zones: Zones, seen: shapely.Polygon, mm_per_m: float) -> Floor:
    """Return the floor as it is seen in a window, for its names: a room without data says so."""
    by_room = zones.by_room()
    rooms = []
    inner = seen.buffer(-1.0 / mm_per_m, join_style="mitre")
    for room in floor.rooms:
        parts = [
            one for one in shapely.get_parts(room.polygon.intersection(inner))
            if one.geom_type == "Polygon"
        ]  # fmt: skip
        part = max(parts, key=lambda one: one.area, default=None)
        if part is None or part.area * mm_per_m**2 < _LEAST_PAPER_MM2:
            continue
        own = by_room.get(room.id, [])
        name = room.name or room.id
        if own and all(one.name == "no data" for one in own):
            name = f"{name}: no data"
        rooms.append(replace(room, name=name, polygon=part))
    return replace(floor, rooms=tuple(rooms))


def _values(page: SheetPage, evidence: FloorEvidence, room: str) -> tuple[float, Drawing]:
    """List the readings of a room under its plan, the highest first; with the height it takes."""
    items = sorted(
        (one for one in evidence.items if one.reading.room == room and one.role != "off the map"),
        key=lambda one: -(one.reading.concentration or 0.0),
    )
    if not items:
        return 0.0, ()
    number = max(1, int(page.plan_mm / _COLUMN_MM))
    wide = (page.plan_mm - (number - 1) * _GAP_MM) / number
    most = _MOST_BAND * (page.high_mm - page.low_mm) - heading_mm() - 2.0
    rows = min(-(-len(items) // number), max(1, int(most / _ROW_MM)))
    band = heading_mm() + rows * _ROW_MM + 2.0
    whole = Column(MARGIN_MM, page.low_mm + band, page.plan_mm, page.low_mm)
    shown = items[: rows * number]
    left = len(items) - len(shown)
    more = f"; {left} more in readings.csv" if left else ""
    whole.heading(f"Readings of the room, {evidence.level.unit}{more}")
    for index, one in enumerate(shown):
        x = MARGIN_MM + (index // rows) * (wide + _GAP_MM)
        part = Column(x, whole.top_mm - (index % rows) * _ROW_MM, wide, 0.0)
        value = reading_value(one.reading, evidence.level)
        part.draw(
            Label(x + wide, part.top_mm, value, SMALL_PT, INK, one.above, across="right", up="top")
        )
        height = one.reading.height_m
        said = one.reading.id + (f", {height:g} m" if height is not None else "")
        said += ", held" if one.role == "held" else ""
        part.line(said, SMALL_PT, right_mm=width_mm(value, SMALL_PT, one.above) + 1.5)
        whole.draw(*part.done())
    return band, whole.done()


def _key_plan(page: SheetPage, floor: Floor, shown: Room, bottom: float) -> tuple[Frame, Drawing]:
    """Draw the whole floor small, the room dark, at the foot of the panel."""
    west, south, east, north = extent(floor)
    wide, high = _KEY_MM
    mm_per_m = min((wide - 1.0) / (east - west), (high - 1.0) / (north - south))
    left = page.panel().left_mm
    rooms: Drawing = tuple(
        Area(one.polygon, fill=INK if one is shown else PAPER, pen=Pen(SOFT, 0.4))
        for one in floor.rooms
    )
    frame = Frame(
        rooms, left, bottom, wide, high,
        (west + east - wide / mm_per_m) / 2.0, (south + north - high / mm_per_m) / 2.0, mm_per_m,
    )  # fmt: skip
    text_left = left + wide + 2.0
    column = Column(text_left, bottom + high - 1.0, page.panel_mm - wide - 2.0, bottom)
    column.text("Where the room lies, small; not to the scale of the plan.", SMALL_PT, colour=SOFT)
    return frame, column.done()
