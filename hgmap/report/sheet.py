"""The sheet of one floor, round and height band: where it is above the level, on one page."""

from __future__ import annotations

from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.cells import set_row
from hgmap.report.column import TEXT_PT, Column, line_mm
from hgmap.report.drawing import Drawing, Frame, Sheet
from hgmap.report.extent import extent
from hgmap.report.layout import Case, Space, lay_out
from hgmap.report.plan_drawing import building, contour_lines, openings, zone_areas
from hgmap.report.plan_marks import Marks
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.words import published_per_computed
from hgmap.site.model import Round, Site

MARGIN_MM: Final = 10.0
LONG_MM: Final = 297.0
SHORT_MM: Final = 210.0
_GUTTER_MM: Final = 6.0
_STRIP_MM: Final = 15.0
_ARROW_MM: Final = 88.0
_CAUTION_MM: Final = 5.5
_CELL_LINES: Final = 4


def zone_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    resample: ResampleList,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
) -> Sheet:
    """Lay out the zone map of one floor on A4.

    Parameters
    ----------
    site, round_ : Site, Round
        For the title block.
    evidence : FloorEvidence
        The floor, its readings and the level.
    surface : Surface or None
        The estimate; None where none could be made, which is printed with its reason (the first
        of ``warnings``, else of the evidence's notes, else of the zones' reasons).
    zones, resample : Zones, ResampleList
        What was ruled; places of other floors are left out.
    warnings : tuple of str
        Printed before the other notes.
    cautions : tuple of str
        About the action level; printed after them.
    version : str
        Of the program.

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide. Everything lies on the page.
    """
    floor = evidence.floor
    resample = ResampleList(tuple(one for one in resample.places if one.floor == floor.name))
    west, south, east, north = extent(floor)
    tall = north - south > east - west
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    panel_mm = 62.0 if tall else 70.0
    inner = width - 2.0 * MARGIN_MM
    plan_mm = inner - panel_mm - _GUTTER_MM

    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    title_block.head(head, site, round_, evidence)
    top = head.top_mm
    caution = title_block.caution_labels(title_block.caution(site), MARGIN_MM, MARGIN_MM, inner)
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    rows = title_block.foot_rows(
        site,
        title_block.method_line(surface, evidence),
        title_block.sheet_line(floor.name, round_.name, version),
        plan_mm,
        _CELL_LINES,
    )
    foot = Column(MARGIN_MM, bottom + sum(row.height_mm for row in rows), plan_mm, bottom)
    strip = foot.top_mm
    for row in rows:
        set_row(foot, row)

    shades = None if surface is None else shades_of(surface, evidence)
    case = Case(site, round_, evidence, surface, shades, zones, resample, warnings, cautions)
    low, high = strip + _STRIP_MM, top - 2.0
    space = Space(
        left=MARGIN_MM,
        plan_width=plan_mm,
        panel_left=width - MARGIN_MM - panel_mm,
        panel_width=panel_mm,
        panel_bottom=bottom + 1.0,
        low=low,
        high=high,
        further_mm=_STRIP_MM - 1.0,
    )
    laid = lay_out(case, space)
    frame = _filled(laid.frame, evidence, surface, shades, zones, laid.marks)

    right = width - MARGIN_MM
    bar_mm = title_block.bar_width_mm(frame)
    page = (
        *head.done(),
        title_block.thin_rule(MARGIN_MM, right, top),
        *foot.done(),
        *title_block.scale_bar(MARGIN_MM + 2.0, strip + 6.0, bar_mm, frame.mm_per_m, "A4 paper"),
        *title_block.north_arrow(MARGIN_MM + _ARROW_MM, strip + 7.4, floor.north_deg),
        *laid.texts,
        *caution,
    )
    title = f"{site.name}: {floor.title or floor.name}, {round_.title or round_.name}"
    return Sheet(width, height, (frame,), page, title, site.title_block.prepared_by)


def _filled(
    frame: Frame,
    evidence: FloorEvidence,
    surface: Surface | None,
    shades: Shades | None,
    zones: Zones,
    marks: Marks,
) -> Frame:
    """Put the plan into its frame, from the ground up: estimate, zones, building, readings."""
    floor, scale = evidence.floor, frame.mm_per_m
    ground: Drawing = ()
    if surface is not None and shades is not None:
        factor = published_per_computed(evidence.level)
        unknown = shapely.union_all([one.geometry for one in zones.zones if one.name == "no data"])
        ground = pictures(surface, floor, shades, factor, scale, unknown)
    drawing = (
        *ground,
        *zone_areas(zones, scale),
        *contour_lines(zones),
        *building(floor),
        *openings(floor, scale),
        *marks.drawing,
    )
    return Frame(
        drawing,
        frame.left_mm,
        frame.bottom_mm,
        frame.width_mm,
        frame.height_mm,
        frame.west_m,
        frame.south_m,
        scale,
    )
