"""The sheet of one floor, round and height band: where it is above the level, on one page."""

from __future__ import annotations

from collections import Counter
from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import legend, title_block
from hgmap.report.column import TEXT_PT, Column, line_mm
from hgmap.report.drawing import Drawing, Frame, Sheet
from hgmap.report.plan_drawing import building, contour_lines, openings, zone_areas
from hgmap.report.plan_marks import Marks, marks_on_plan
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.words import count, no_surface_reason, published_per_computed
from hgmap.site.model import Floor, Round, Site

MARGIN_MM: Final = 10.0
LONG_MM: Final = 297.0
SHORT_MM: Final = 210.0
_GUTTER_MM: Final = 6.0
_STRIP_MM: Final = 16.0
_CAUTION_MM: Final = 5.5
_PAD_MM: Final = 6.0
_LEAST_NOTES_MM: Final = 50.0
MORE_NOTES: Final = "and {n} more, in the results"


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
    west, south, east, north = floor.bounds
    tall = north - south > east - west
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    panel_mm = 62.0 if tall else 72.0
    inner = width - 2.0 * MARGIN_MM

    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    title_block.head(head, site, round_, evidence)
    top = head.top_mm
    caution = title_block.caution_labels(title_block.caution(site), MARGIN_MM, MARGIN_MM, inner)
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    lines = title_block.CELL_LINES["portrait" if tall else "landscape"]
    strip = bottom + 2.0 * title_block.cell_mm(lines)
    plan_mm = inner - panel_mm - _GUTTER_MM
    foot = Column(MARGIN_MM, strip, plan_mm, bottom)
    title_block.foot(
        foot,
        site,
        title_block.method_line(surface, evidence),
        title_block.sheet_line(floor.name, round_.name, version),
        lines,
    )
    empty = _frame(floor, plan_mm, strip + _STRIP_MM, top - 2.0)
    marks = marks_on_plan(evidence, resample, empty)
    shades = None if surface is None else shades_of(surface, evidence)
    frame = _filled(empty, evidence, surface, shades, zones, marks)

    panel = Column(width - MARGIN_MM - panel_mm, top - 2.0, panel_mm, bottom + 1.0)
    reason = "" if surface is not None else no_surface_reason(evidence, warnings, zones)
    gathered = _notes(evidence, surface, marks, warnings, cautions)
    notes = tuple(note for note in gathered if note != reason)
    bar_mm = title_block.bar_width_mm(frame)
    under = Column(
        MARGIN_MM + bar_mm + 16.0,
        strip + _STRIP_MM - 2.5,
        plan_mm - bar_mm - 16.0 - 42.0,
        strip + 0.5,
    )
    roomy = under.width_mm >= _LEAST_NOTES_MM
    more = "continued under the plan" if roomy else MORE_NOTES
    done = _panel(panel, evidence, surface, shades, zones, resample, marks, reason, notes, more)
    if roomy:
        under.entries(notes[done:], MORE_NOTES, most_lines=2)

    right = width - MARGIN_MM
    page = (
        *head.done(),
        title_block.thin_rule(MARGIN_MM, right, top),
        *foot.done(),
        *title_block.scale_bar(
            MARGIN_MM + 2.0,
            strip + 6.0,
            bar_mm,
            frame.mm_per_m,
            "A4 paper",
        ),
        *title_block.north_arrow(MARGIN_MM + plan_mm - 9.0, strip + 9.3, floor.north_deg),
        *panel.done(),
        *under.done(),
        *caution,
    )
    title = f"{site.name}: {floor.title or floor.name}, {round_.title or round_.name}"
    return Sheet(width, height, (frame,), page, title, site.title_block.prepared_by)


def _frame(floor: Floor, plan_mm: float, bottom: float, top: float) -> Frame:
    """Centre the floor in its rectangle at a round scale, with room for texts around it."""
    west, south, east, north = floor.bounds
    scale = 1000.0 / title_block.denominator(
        east - west, north - south, plan_mm - 2.0 * _PAD_MM, top - bottom - 2.0 * _PAD_MM
    )
    return Frame(
        drawing=(),
        left_mm=MARGIN_MM,
        bottom_mm=bottom,
        width_mm=plan_mm,
        height_mm=top - bottom,
        west_m=(west + east - plan_mm / scale) / 2.0,
        south_m=(south + north - (top - bottom) / scale) / 2.0,
        mm_per_m=scale,
    )


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


def _notes(
    evidence: FloorEvidence,
    surface: Surface | None,
    marks: Marks,
    warnings: tuple[str, ...],
    cautions: tuple[str, ...],
) -> tuple[str, ...]:
    """Gather what a reader has to know, each once: warnings, what is held, cautions, the rest."""
    notes = list(warnings)
    held = Counter(
        "; ".join(item.reasons) or "no reason given"
        for item in evidence.items
        if item.role == "held"
    )
    notes.extend(f"{count(n, 'reading')} held: {reason}" for reason, n in held.items())
    notes.extend(cautions)
    notes.extend(evidence.notes)
    notes.extend(surface.notes if surface is not None else ())
    if marks.off_plan:
        notes.append(f"{count(marks.off_plan, 'reading')} without a place on this plan")
    if marks.unnamed:
        notes.append(f"too small on paper for their names: {', '.join(marks.unnamed)}")
    return tuple(dict.fromkeys(note for note in notes if note.strip()))


def _panel(
    panel: Column,
    evidence: FloorEvidence,
    surface: Surface | None,
    shades: Shades | None,
    zones: Zones,
    resample: ResampleList,
    marks: Marks,
    reason: str,
    notes: tuple[str, ...],
    more: str,
) -> int:
    """Fill the column beside the plan; list and notes share what the legend leaves.

    Returns how many notes found room.
    """
    legend.answer_block(panel, zones, reason)
    legend.zone_block(panel, zones)
    if surface is not None and shades is not None:
        legend.estimate_block(panel, surface, evidence, shades)
    if zones.contours:
        legend.contour_row(panel)
    legend.readings_block(panel, marks, evidence)
    legend.plan_block(panel, evidence, resample)
    wanted = legend.notes_height(panel, notes)
    kept = min(
        wanted,
        max(0.45 * panel.left_over_mm, panel.left_over_mm - legend.again_height(panel, resample)),
    )
    legend.again_block(panel, resample, panel.bottom_mm + kept)
    return legend.notes_block(panel, notes, more)
