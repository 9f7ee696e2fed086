"""The sheet of one floor, round and height band: where it is above the level, on one page."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.drawing import Drawing, Frame, Sheet
from hgmap.report.inset_plan import inset_frame, inset_head
from hgmap.report.layout import Case, Details, Space, lay_out, no_details
from hgmap.report.plan_drawing import (
    building,
    contour_lines,
    openings,
    unknown_ground,
    zone_areas,
)
from hgmap.report.plan_marks import Marks
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.sheet_page import STRIP_MM, sheet_page
from hgmap.report.sheet_setup import MARGIN_MM, PLAIN, SheetSetup
from hgmap.report.words import published_per_computed
from hgmap.site.model import Round, Site

_PANELS_MM: Final = (62.0, 70.0)


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
    setup: SheetSetup = PLAIN,
) -> Sheet:
    """Lay out the zone map of one floor; see :func:`marked_zone_sheet`."""
    return marked_zone_sheet(
        site, round_, evidence, surface, zones, resample,
        warnings=warnings, cautions=cautions, version=version, setup=setup,
    )[0]  # fmt: skip


def marked_zone_sheet(
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
    setup: SheetSetup = PLAIN,
    details: Details = no_details,
) -> tuple[Sheet, Marks]:
    """Lay out the zone map of one floor.

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
    setup : SheetSetup, optional
        Paper and scale; A4 and the largest plan that fits where not given.
    details : callable, optional
        Which crowded rooms have a sheet of their own, and its number: the map says so.

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide. Everything lies on the page.
        Its first frame is the plan, the others are insets of crowded rooms.
    Marks
        What of the readings is on it.

    Raises
    ------
    HgmapError
        If the plan does not fit the paper at the scale that was asked for.
    """
    floor = evidence.floor
    resample = ResampleList(tuple(one for one in resample.places if one.floor == floor.name))
    page = sheet_page(
        site, round_, evidence, surface, setup=setup, panels_mm=_PANELS_MM,
        sheet_line=title_block.sheet_line(floor.name, round_.name, version),
    )  # fmt: skip
    shades = None if surface is None else shades_of(surface, evidence)
    case = Case(site, round_, evidence, surface, shades, zones, resample, warnings, cautions,
                details)  # fmt: skip
    panel = page.panel()
    space = Space(
        left=MARGIN_MM,
        plan_width=page.plan_mm,
        panel_left=panel.left_mm,
        panel_width=page.panel_mm,
        panel_bottom=panel.bottom_mm,
        low=page.low_mm,
        high=page.high_mm,
        further_mm=STRIP_MM - 1.0,
    )
    laid = lay_out(case, space, page.scale(), fixed=setup.scale is not None)
    frame = zone_plan(laid.frame, evidence, surface, shades, zones, laid.marks)
    title = f"{site.name}: {floor.title or floor.name}, {round_.title or round_.name}"
    insets = [inset_frame(one, evidence, surface, shades, zones) for one in laid.insets]
    heads = [item for one in laid.insets for item in inset_head(one)]
    return page.done((frame, *insets), (*laid.texts, *heads), title), laid.marks


def zone_plan(
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
        seen = shapely.box(*frame.seen_m)
        ground = pictures(surface, floor, shades, factor, scale, unknown_ground(zones), seen)
    drawing = (
        *ground,
        *zone_areas(zones, scale),
        *contour_lines(zones),
        *building(floor),
        *openings(floor, scale),
        *marks.drawing,
    )
    return replace(frame, drawing=drawing)
