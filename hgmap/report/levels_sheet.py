"""The sheet of several levels: one floor, the zones of each level inside those of the lower."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.cells import set_row
from hgmap.report.column import TEXT_PT, Column, line_mm
from hgmap.report.drawing import Frame, Sheet
from hgmap.report.layout import extent
from hgmap.report.levels_look import levels_panel, nested_areas
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.plan_page import filled
from hgmap.report.sheet import LONG_MM, MARGIN_MM, SHORT_MM
from hgmap.site.model import Round, Site

_GUTTER_MM: Final = 6.0
_STRIP_MM: Final = 15.0
_ARROW_MM: Final = 88.0
_CAUTION_MM: Final = 5.5
_PAD_MM: Final = 2.5
_CELL_LINES: Final = 4


def levels_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    levels: Sequence[Zones],
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
) -> Sheet:
    """Lay out the nested zones of one floor on A4.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence, surface : FloorEvidence, Surface or None
        At the level of the run.
    levels : sequence of Zones
        Of every level, the highest first.
    warnings, cautions : tuple of str
        Printed first among the notes, and after them.
    version : str
        Of the program.

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide.
    """
    floor = evidence.floor
    main = next(one for one in levels if one.level is evidence.level)
    west, south, east, north = extent(floor)
    tall = north - south > east - west
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    panel_mm = 66.0 if tall else 76.0
    inner = width - 2.0 * MARGIN_MM
    plan_mm = inner - panel_mm - _GUTTER_MM

    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    titled = replace(round_, title=f"{round_.title or round_.name}, zones of {len(levels)} levels")
    title_block.head(head, site, titled, evidence)
    top = head.top_mm
    caution = title_block.caution_labels(title_block.caution(site), MARGIN_MM, MARGIN_MM, inner)
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    rows = title_block.foot_rows(
        site,
        title_block.method_line(surface, evidence),
        f"levels, {title_block.sheet_line(floor.name, round_.name, version)}",
        plan_mm,
        _CELL_LINES,
    )
    foot = Column(MARGIN_MM, bottom + sum(row.height_mm for row in rows), plan_mm, bottom)
    strip = foot.top_mm
    for row in rows:
        set_row(foot, row)

    low, high = strip + _STRIP_MM, top - 2.0
    scale = title_block.denominator(
        east - west, north - south, plan_mm - 2.0 * _PAD_MM, high - low - 2.0 * _PAD_MM
    )
    mm_per_m = 1000.0 / scale
    frame = Frame(
        (), MARGIN_MM, low, plan_mm, high - low,
        (west + east - plan_mm / mm_per_m) / 2.0,
        (south + north - (high - low) / mm_per_m) / 2.0,
        mm_per_m,
    )  # fmt: skip
    marks = marks_on_plan(evidence, ResampleList(()), frame, main)
    frame = filled(
        frame,
        (
            *nested_areas(levels, mm_per_m),
            *building(floor),
            *openings(floor, mm_per_m),
            *marks.drawing,
        ),
    )
    panel = Column(width - MARGIN_MM - panel_mm, high, panel_mm, bottom + 1.0)
    levels_panel(panel, levels, main)
    notes_block(panel, notes_of(site, round_, evidence, surface, marks, warnings, cautions), MORE)
    bar_mm = title_block.bar_width_mm(frame)
    page = (
        *head.done(),
        title_block.thin_rule(MARGIN_MM, width - MARGIN_MM, top),
        *foot.done(),
        *title_block.scale_bar(MARGIN_MM + 2.0, strip + 6.0, bar_mm, mm_per_m, "A4 paper"),
        *title_block.north_arrow(MARGIN_MM + _ARROW_MM, strip + 7.4, floor.north_deg),
        *panel.done(),
        *caution,
    )
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    return Sheet(width, height, (frame,), page, title, site.title_block.prepared_by)
