"""The sheet of a comparison: one floor, two rounds, what fell and what cannot be told."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from hgmap.decide.change_model import FloorChange
from hgmap.report import title_block
from hgmap.report.cells import set_row
from hgmap.report.change_legend import change_panel
from hgmap.report.change_plan import change_ground, pair_marks, room_labels
from hgmap.report.change_shades import change_shades
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Frame, Sheet
from hgmap.report.extent import extent
from hgmap.report.notes import (
    CONTINUED,
    MORE,
    columns_block,
    columns_height,
    notes_block,
    notes_height,
)
from hgmap.report.palette import SOFT
from hgmap.report.plan_drawing import building, openings
from hgmap.report.sheet import LONG_MM, MARGIN_MM, SHORT_MM
from hgmap.report.words import day, round_line
from hgmap.site.model import Round, Site

_GUTTER_MM: Final = 6.0
_STRIP_MM: Final = 15.0
_ARROW_MM: Final = 88.0
_CAUTION_MM: Final = 5.5
_PAD_MM: Final = 2.5
_CELL_LINES: Final = 4
_MOST_BAND: Final = 0.3


def change_sheet(
    site: Site,
    rounds: tuple[Round, Round],
    change: FloorChange,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
) -> Sheet:
    """Lay out the change map of one floor on A4.

    Parameters
    ----------
    site : Site
    rounds : tuple of Round
        Before and after; both are named in the head.
    change : FloorChange
    warnings, cautions : tuple of str
        Printed first among the notes, and after them.
    version : str
        Of the program.

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide.
    """
    evidence = change.after.evidence
    floor = evidence.floor
    west, south, east, north = extent(floor)
    tall = north - south > east - west
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    panel_mm = 66.0 if tall else 78.0
    inner = width - 2.0 * MARGIN_MM
    plan_mm = inner - panel_mm - _GUTTER_MM

    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    first, last = rounds
    both = replace(
        last, title=f"change from {round_line(first)}, to {last.title or last.name}", date=last.date
    )
    title_block.head(head, site, both, evidence)
    top = head.top_mm
    caution = title_block.caution_labels(title_block.caution(site), MARGIN_MM, MARGIN_MM, inner)
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    sheet_line = f"change, floor {floor.name}, {first.name} to {last.name}; hgmap {version}".strip()
    rows = title_block.foot_rows(
        site,
        f"ratio of two estimates, each: {title_block.method_line(change.after.surface, evidence)}",
        sheet_line,
        plan_mm,
        _CELL_LINES,
    )
    foot = Column(MARGIN_MM, bottom + sum(row.height_mm for row in rows), plan_mm, bottom)
    strip = foot.top_mm
    for row in rows:
        set_row(foot, row)

    shades = None if change.cells is None else change_shades(change.cells.log_ratio)
    panel = Column(width - MARGIN_MM - panel_mm, top - 2.0, panel_mm, bottom + 1.0)
    change_panel(panel, change, shades)
    notes = _notes(change, rounds, warnings, cautions)
    low, high = strip + _STRIP_MM, top - 2.0
    beside = _whole(panel, notes)
    rest = notes[beside:]
    if beside:
        notes_block(panel, notes[:beside], MORE)
        if rest:
            panel.line(CONTINUED, SMALL_PT, colour=SOFT)
    band = 0.0
    if rest:
        wanted = columns_height(plan_mm, rest, _STRIP_MM - 1.0) + 2.0
        band = min(wanted, _MOST_BAND * (high - low))
    scale = title_block.denominator(
        east - west, north - south, plan_mm - 2.0 * _PAD_MM, high - low - band - 2.0 * _PAD_MM
    )
    under = Column(MARGIN_MM, low + band - 1.0, plan_mm, low)
    done = columns_block(under, rest, _STRIP_MM - 1.0) if rest else 0
    if rest and not done:
        panel.line(MORE.format(n=len(rest)), SMALL_PT, colour=SOFT)

    mm_per_m = 1000.0 / scale
    frame = Frame(
        (
            *change_ground(change, shades, mm_per_m),
            *building(floor),
            *openings(floor, mm_per_m),
            *pair_marks(change.pairs),
            *room_labels(change, mm_per_m),
        ),
        MARGIN_MM,
        low + band,
        plan_mm,
        high - low - band,
        (west + east - plan_mm / mm_per_m) / 2.0,
        (south + north - (high - low - band) / mm_per_m) / 2.0,
        mm_per_m,
    )
    bar_mm = title_block.bar_width_mm(frame)
    page = (
        *head.done(),
        title_block.thin_rule(MARGIN_MM, width - MARGIN_MM, top),
        *foot.done(),
        *title_block.scale_bar(MARGIN_MM + 2.0, strip + 6.0, bar_mm, mm_per_m, "A4 paper"),
        *title_block.north_arrow(MARGIN_MM + _ARROW_MM, strip + 7.4, floor.north_deg),
        *panel.done(),
        *under.done(),
        *caution,
    )
    title = (
        f"{site.name}: {floor.title or floor.name}, change from {first.title or first.name} to "
        f"{last.title or last.name}"
    )
    return Sheet(width, height, (frame,), page, title, site.title_block.prepared_by)


def _whole(panel: Column, notes: tuple[str, ...]) -> int:
    """Return how many notes stand whole beside the plan, with a line to say that more follow."""
    held = 0
    while held < len(notes):
        last = 0.0 if held + 1 == len(notes) else line_mm(SMALL_PT)
        if notes_height(panel.width_mm, notes[: held + 1]) + last > panel.left_over_mm:
            break
        held += 1
    return held


def _notes(
    change: FloorChange,
    rounds: tuple[Round, Round],
    warnings: tuple[str, ...],
    cautions: tuple[str, ...],
) -> tuple[str, ...]:
    """Gather what a reader has to know, each once: warnings, rooms' reasons, cautions, the rest."""
    notes = list(warnings)
    notes += [
        f"{one.room.name or one.room.id}: {reason}"
        for one in change.rooms
        for reason in one.reasons
        if one.rebounded or "alone could explain" in reason
    ]
    notes += cautions
    for round_, visit in zip(rounds, (change.before, change.after), strict=True):
        own = visit.surface.notes if visit.surface is not None else ()
        notes += [
            f"{round_.title or round_.name}: {text}" for text in (*own, *visit.evidence.notes)
        ]
    if any(one.date is None for one in rounds):
        notes.append("; ".join(f"{one.title or one.name}: {day(one.date)}" for one in rounds))
    return tuple(dict.fromkeys(note for note in notes if note.strip()))
