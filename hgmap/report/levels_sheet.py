"""The sheet of several levels: one floor, the zones of each level inside those of the lower."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.drawing import Sheet
from hgmap.report.legend import openings_row, readings_block
from hgmap.report.levels_look import levels_panel, nested_areas
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.plan_page import filled
from hgmap.report.sheet_page import sheet_page
from hgmap.report.sheet_setup import PLAIN, SheetSetup
from hgmap.site.model import Round, Site


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
    setup: SheetSetup = PLAIN,
) -> Sheet:
    """Lay out the nested zones of one floor.

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
    setup : SheetSetup, optional

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide.
    """
    floor = evidence.floor
    main = next(one for one in levels if one.level is evidence.level)
    titled = replace(round_, title=f"{round_.title or round_.name}, zones of {len(levels)} levels")
    laid = sheet_page(
        site, titled, evidence, surface, setup=setup, panels_mm=(66.0, 76.0),
        sheet_line=f"levels, {title_block.sheet_line(floor.name, round_.name, version)}",
    )  # fmt: skip
    frame, mm_per_m = laid.frame()
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
    panel = laid.panel()
    levels_panel(panel, levels, main)
    readings_block(panel, marks, evidence)
    openings_row(panel, floor)
    notes_block(panel, notes_of(site, round_, evidence, surface, marks, warnings, cautions), MORE)
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    return laid.done((frame,), panel.done(), title)
