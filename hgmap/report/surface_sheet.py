"""The sheet of the estimate itself: how much there is everywhere, with lines of equal value."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import lines_at, room_window
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.column import SMALL_PT, Column
from hgmap.report.drawing import PT_PER_MM, Area, Frame, Item, Label, Path, Pen, Sheet
from hgmap.report.legend import (
    NO_SHEETS,
    contour_row,
    estimate_block,
    no_data_row,
    openings_row,
    readings_block,
)
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.palette import INK, PAPER, ZONE_LOOKS
from hgmap.report.plan_drawing import building, contour_lines, openings, unknown_ground
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.sheet_page import sheet_page
from hgmap.report.sheet_setup import PLAIN, SheetSetup
from hgmap.report.typeset import width_pt
from hgmap.report.wanted import Box
from hgmap.report.words import number, published_per_computed
from hgmap.site.model import Round, Site

_MOST_LINES: Final = 7
_LINE: Final = Pen("#33373b", 0.6)
_RIM: Final = Pen(PAPER, 1.5)
_LABEL_PT: Final = 5.5
_LEAST_PT: Final = 40.0
"""A line shorter than this on paper has no number."""
_ALONG: Final = (0.5, 0.35, 0.65, 0.2, 0.8)
_CLEAR_PT: Final = 7.0


def surface_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface,
    zones: Zones,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
    setup: SheetSetup = PLAIN,
    sheets: Mapping[str, int] = NO_SHEETS,
) -> Sheet:
    """Lay out the estimate of one floor: shades, lines of equal concentration, readings.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence, surface : FloorEvidence, Surface
    zones : Zones
        For the contour at the level, and for ground that nobody can speak for.
    warnings, cautions : tuple of str
        Printed first among the notes, and after them.
    version : str
        Of the program.
    setup : SheetSetup, optional
    sheets : dict, optional
        The number of the sheet of each room (id) that has one: its far values are left to it.

    Raises
    ------
    HgmapError
        If the plan does not fit the paper at the scale that was asked for.
    """
    floor = evidence.floor
    titled = replace(round_, title=f"{round_.title or round_.name}, estimate of the concentration")
    page = sheet_page(
        site, titled, evidence, surface, setup=setup, panels_mm=(62.0, 70.0),
        sheet_line=f"estimate, {title_block.where_line(floor.name, round_.name, version)}",
    )  # fmt: skip
    frame, mm_per_m = page.frame()
    shades, unknown = shades_of(surface, evidence), unknown_ground(zones)
    factor = published_per_computed(evidence.level)
    values = [one for one in shades.ticks(_MOST_LINES) if one != evidence.level.value]
    lines = isolines(surface, evidence, values, unknown)
    numbers, taken = _numbers(lines, evidence, frame)
    marks = marks_on_plan(evidence, ResampleList(()), frame, zones, taken=taken,
                          detailed=sheets)  # fmt: skip
    drawn = [Path(line, pen) for _, line in lines for pen in (_RIM, _LINE)]
    hatched = [Area(unknown, hatch=ZONE_LOOKS["no data"].hatch)] if not unknown.is_empty else []
    drawing = (
        *pictures(surface, floor, shades, factor, mm_per_m, unknown),
        *hatched,
        *drawn,
        *contour_lines(zones),
        *building(floor),
        *openings(floor, mm_per_m),
        *numbers,
        *marks.drawing,
    )
    panel = page.panel()
    _legend(panel, evidence, surface, shades, zones, bool(lines))
    readings_block(panel, marks, evidence, sheets=sheets)
    panel.heading("On the plan")
    openings_row(panel, floor)
    notes = notes_of(site, round_, evidence, surface, marks, warnings, cautions)
    notes_block(panel, notes, MORE)
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    return page.done((replace(frame, drawing=drawing),), panel.done(), title)


def isolines(
    surface: Surface, evidence: FloorEvidence, values: Sequence[float], unknown: BaseGeometry
) -> list[tuple[float, BaseGeometry]]:
    """Return lines (m) along which the estimate equals ``values`` (unit of the level).

    One for each value that the estimate takes; none crosses a wall, or ground that is unknown.
    """
    factor = published_per_computed(evidence.level)
    found: dict[float, list[BaseGeometry]] = {}
    for index, room in enumerate(evidence.floor.rooms):
        window = room_window(surface.raster, index, room.polygon)
        if window is None:
            continue
        means = window.take(surface.mean)
        if not np.isfinite(means).all():
            continue
        for value in values:
            at = value / factor
            at = math.log(at) if surface.scale == "log" else at
            for line in lines_at(window, means, at, room.polygon):
                rest = line.difference(unknown)
                if not rest.is_empty:
                    found.setdefault(value, []).append(rest)
    return [(value, shapely.union_all(lines)) for value, lines in sorted(found.items())]


def _numbers(
    lines: Sequence[tuple[float, BaseGeometry]], evidence: FloorEvidence, frame: Frame
) -> tuple[list[Item], list[Box]]:
    """Put numbers on lines that are long enough, clear of readings; with their boxes (pt)."""
    scale = frame.mm_per_m * PT_PER_MM
    at = [
        ((one.reading.x - frame.west_m) * scale, (one.reading.y - frame.south_m) * scale)
        for one in evidence.items
        if one.reading.x is not None and one.reading.y is not None
    ]
    places = np.array(at).reshape(-1, 2)
    items: list[Item] = []
    boxes: list[Box] = []
    for value, shape in lines:
        text = number(value)
        half, high = width_pt(text, _LABEL_PT) / 2.0 + 1.0, 0.5 * _LABEL_PT
        merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
        for line in shapely.get_parts(merged):
            if line.length * scale < _LEAST_PT:
                continue
            for share in _ALONG:
                point = line.interpolate(share, normalized=True)
                x, y = (point.x - frame.west_m) * scale, (point.y - frame.south_m) * scale
                box = (x - half, y - high, x + half, y + high)
                if _clear(box, places, boxes):
                    boxes.append(box)
                    items.append(
                        Label(point.x, point.y, text, _LABEL_PT, INK, across="centre",
                              up="middle", halo=PAPER)
                    )  # fmt: skip
                    break
    return items, boxes


def _clear(box: Box, places: NDArray[np.float64], boxes: Sequence[Box]) -> bool:
    left, bottom, right, top = box
    x, y = places.T
    near = (
        (x > left - _CLEAR_PT)
        & (x < right + _CLEAR_PT)
        & (y > bottom - _CLEAR_PT)
        & (y < top + _CLEAR_PT)
    )
    if near.any():
        return False
    return all(left > one[2] or right < one[0] or bottom > one[3] or top < one[1] for one in boxes)


def _legend(
    panel: Column, evidence: FloorEvidence, surface: Surface, shades: Shades, zones: Zones,
    lines: bool,
) -> None:  # fmt: skip
    estimate_block(panel, surface, evidence, shades)
    if zones.contours:
        contour_row(panel)
    if lines:
        y = panel.top_mm - 1.0
        panel.draw(Path(shapely.LineString([(panel.left_mm, y), (panel.left_mm + 10.0, y)]), _LINE))
        panel.line("equal estimate, numbered", SMALL_PT, indent_mm=12.5)
        panel.skip(1.4)
    if zones.area_m2("no data") > 0.0:
        no_data_row(panel)
