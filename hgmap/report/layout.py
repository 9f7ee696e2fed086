"""Share the page out: how large the plan, and which notes beside it, and which under it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import legend
from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Drawing, Frame
from hgmap.report.extent import extent
from hgmap.report.insets import Inset, marks_and_insets
from hgmap.report.notes import (
    CONTINUED,
    HEADING,
    MORE,
    columns_block,
    columns_height,
    no_surface_reason,
    notes_block,
    notes_height,
    notes_of,
)
from hgmap.report.palette import SOFT
from hgmap.report.plan_marks import Marks, marks_on_plan
from hgmap.report.shades import Shades
from hgmap.report.sheet_setup import PAD_MM
from hgmap.report.title_block import coarser
from hgmap.site.building import Floor
from hgmap.site.model import Round, Site

_GAP_MM: Final = 1.0
_TRIES: Final = 3

Details = Callable[[Marks, float], Mapping[str, int]]
"""From the marks of a map and its mm for a metre to the number of each room's own sheet, by id."""


def no_details(marks: Marks, mm_per_m: float) -> Mapping[str, int]:
    """Say that no room has a sheet of its own."""
    del marks, mm_per_m
    return {}


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that a sheet tells."""

    site: Site
    round: Round
    evidence: FloorEvidence
    surface: Surface | None
    shades: Shades | None
    zones: Zones
    resample: ResampleList
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    details: Details = no_details

    @property
    def reason(self) -> str:
        """Why there is no estimate; empty where there is one."""
        if self.surface is not None:
            return ""
        return no_surface_reason(self.evidence, self.warnings, self.zones)


@dataclass(frozen=True, slots=True)
class Space:
    """What the page leaves for plan and panel (mm).

    ``further_mm`` is free under the plan at its right, where the scale bar is not.
    """

    left: float
    plan_width: float
    panel_left: float
    panel_width: float
    panel_bottom: float
    low: float
    high: float
    further_mm: float


@dataclass(frozen=True, slots=True)
class Layout:
    """An empty frame, the marks for it, and what is printed beside and under it."""

    frame: Frame
    marks: Marks
    insets: tuple[Inset, ...]
    texts: Drawing
    whole: bool


def lay_out(case: Case, space: Space, scale: float, *, fixed: bool) -> Layout:
    """Lay out at 1 : ``scale``; unless it is fixed, one step smaller where notes need the room."""
    first = _at_scale(case, space, scale)
    if first.whole or fixed:
        return first
    second = _at_scale(case, space, coarser(scale))
    return second if second.whole else first


def _at_scale(case: Case, space: Space, scale: float) -> Layout:
    """Lay out at one scale: the plan says what is noted, and notes take room from the plan."""
    _, south, _, north = extent(case.evidence.floor)
    spare = space.high - space.low - (north - south) * 1000.0 / scale - 2.0 * PAD_MM
    band = 0.0
    insets: tuple[Inset, ...] = ()
    for tried in range(_TRIES):
        frame = _frame(case.evidence.floor, space, scale, band)
        on_plan = (case.evidence, case.resample, frame, case.zones)
        if tried:
            marks, insets = _with_details(case, *marks_and_insets(*on_plan), frame)
        else:
            marks = marks_on_plan(*on_plan)  # notes will move the plan: insets can wait
        gathered = notes_of(
            case.site,
            case.round,
            case.evidence,
            case.surface,
            marks,
            case.warnings,
            case.cautions,
        )
        notes = tuple(note for note in gathered if note != case.reason)
        panel = _legend(case, space, marks, insets, frame.mm_per_m)
        beside, wanted = _share(notes, panel, case.resample, space, spare)
        if wanted <= band and (tried or not marks.crowded):
            break
        band = max(band, wanted)
    texts, whole = _print(notes, beside, panel, case.resample, space, band)
    return Layout(frame, marks, insets, texts, whole)


def _with_details(
    case: Case, marks: Marks, insets: tuple[Inset, ...], frame: Frame
) -> tuple[Marks, tuple[Inset, ...]]:
    """Leave far values of rooms that have a sheet of their own to it, where each still has one."""
    own = case.details(marks, frame.mm_per_m).keys() & marks.crowded.keys()
    if not own:
        return marks, insets
    on_plan = (case.evidence, case.resample, frame, case.zones)
    left, larger = marks_and_insets(*on_plan, own)
    lost = (own & left.crowded.keys()) - case.details(left, frame.mm_per_m).keys()
    return (marks, insets) if lost else (left, larger)


def _frame(floor: Floor, space: Space, scale: float, band: float) -> Frame:
    """Centre the floor over a band for notes."""
    west, south, east, north = extent(floor)
    mm_per_m = 1000.0 / scale
    bottom, width, height = space.low + band, space.plan_width, space.high - space.low - band
    return Frame(
        drawing=(),
        left_mm=space.left,
        bottom_mm=bottom,
        width_mm=width,
        height_mm=height,
        west_m=(west + east - width / mm_per_m) / 2.0,
        south_m=(south + north - height / mm_per_m) / 2.0,
        mm_per_m=mm_per_m,
    )


def _legend(
    case: Case, space: Space, marks: Marks, insets: tuple[Inset, ...], mm_per_m: float
) -> Column:
    """Fill the top of the column beside the plan; list and notes share what it leaves."""
    panel = Column(space.panel_left, space.high, space.panel_width, space.panel_bottom)
    legend.answer_block(panel, case.zones, case.reason)
    legend.zone_block(panel, case.zones, estimated=case.surface is not None)
    if case.surface is not None and case.shades is not None:
        legend.estimate_block(panel, case.surface, case.evidence, case.shades)
    if case.zones.contours:
        legend.contour_row(panel)
    sheets = case.details(marks, mm_per_m)
    legend.readings_block(panel, marks, case.evidence, insets, sheets)
    legend.plan_block(panel, case.evidence, case.resample)
    return panel


def _share(
    notes: tuple[str, ...], panel: Column, resample: ResampleList, space: Space, spare: float
) -> tuple[int, float]:
    """Return how many notes go beside the plan, and the height (mm) for the others under it.

    All beside it where the list of places leaves room; else all under it; else some here, some
    there.
    """
    left = panel.left_over_mm
    again = legend.again_height(panel.width_mm, resample, left)
    if again + notes_height(panel.width_mm, notes) <= left:
        return len(notes), 0.0
    across = columns_height(space.plan_width, notes, space.further_mm) + 2.0 * _GAP_MM
    if across <= spare:
        return 0, across
    room = max(0.45 * left, left - again) - line_mm(SMALL_PT)
    beside = 0
    while beside < len(notes) - 1 and notes_height(panel.width_mm, notes[: beside + 1]) <= room:
        beside += 1
    across = columns_height(space.plan_width, notes[beside:], space.further_mm) + 2.0 * _GAP_MM
    return beside, max(0.0, min(across, spare))


def _print(
    notes: tuple[str, ...],
    beside: int,
    panel: Column,
    resample: ResampleList,
    space: Space,
    band: float,
) -> tuple[Drawing, bool]:
    """Print the list and the notes; tell whether every note is there."""
    kept = notes_height(panel.width_mm, notes[:beside])
    kept += line_mm(SMALL_PT) if notes[beside:] else 0.0
    legend.again_block(panel, resample, panel.bottom_mm + kept)
    if beside:
        beside = notes_block(panel, notes[:beside], MORE)
    under = Column(space.left, space.low + band - _GAP_MM, space.plan_width, space.low)
    left = len(notes) - beside
    if left:
        done = columns_block(under, notes[beside:], space.further_mm)
        if not done:
            more = MORE.format(n=left)
            panel.line(more if beside else f"{HEADING}: {more}", SMALL_PT, colour=SOFT)
        elif beside:
            panel.line(CONTINUED, SMALL_PT, colour=SOFT)
        left -= done
    return (*panel.done(), *under.done()), left == 0
