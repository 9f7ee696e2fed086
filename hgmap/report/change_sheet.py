"""The sheet of a comparison: one floor, two rounds, what fell and what cannot be told."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from hgmap.decide.change_model import FloorChange
from hgmap.report import title_block
from hgmap.report.change_legend import change_panel
from hgmap.report.change_notes import change_notes
from hgmap.report.change_plan import change_ground, pair_marks, room_labels
from hgmap.report.change_shades import change_shades
from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Sheet
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
from hgmap.report.plan_page import filled
from hgmap.report.sheet_page import STRIP_MM, sheet_page
from hgmap.report.sheet_setup import MARGIN_MM, PLAIN, SheetSetup
from hgmap.report.words import round_line
from hgmap.site.model import Round, Site

_MOST_BAND: Final = 0.3


def change_sheet(
    site: Site,
    rounds: tuple[Round, Round],
    change: FloorChange,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
    setup: SheetSetup = PLAIN,
) -> Sheet:
    """Lay out the change map of one floor.

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
    setup : SheetSetup, optional

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide.
    """
    evidence = change.after.evidence
    floor = evidence.floor
    first, last = rounds
    both = replace(
        last, title=f"change from {round_line(first)}, to {last.title or last.name}", date=last.date
    )
    surface = change.after.surface
    laid = sheet_page(
        site, both, evidence, surface, setup=setup, panels_mm=(66.0, 78.0),
        method=f"ratio of two estimates, each: {title_block.method_line(surface, evidence)}",
        sheet_line=f"change, floor {floor.name}, {first.name} to {last.name}; hgmap {version}",
    )  # fmt: skip
    shades = None if change.cells is None else change_shades(change.cells.log_ratio)
    panel = laid.panel()
    change_panel(panel, change, shades)
    notes = change_notes(change, rounds, warnings, cautions)
    beside = _whole(panel, notes)
    rest = notes[beside:]
    if beside:
        notes_block(panel, notes[:beside], MORE)
        if rest:
            panel.line(CONTINUED, SMALL_PT, colour=SOFT)
    band = 0.0
    if rest:
        wanted = columns_height(laid.plan_mm, rest, STRIP_MM - 1.0) + 2.0
        band = min(wanted, laid.most_band(_MOST_BAND))
    under = Column(MARGIN_MM, laid.low_mm + band - 1.0, laid.plan_mm, laid.low_mm)
    done = columns_block(under, rest, STRIP_MM - 1.0) if rest else 0
    if rest and not done:
        panel.line(MORE.format(n=len(rest)), SMALL_PT, colour=SOFT)

    frame, mm_per_m = laid.frame(band)
    drawing = (
        *change_ground(change, shades, mm_per_m),
        *building(floor),
        *openings(floor, mm_per_m),
        *pair_marks(change.pairs),
        *room_labels(change, mm_per_m),
    )
    title = (
        f"{site.name}: {floor.title or floor.name}, change from {first.title or first.name} to "
        f"{last.title or last.name}"
    )
    return laid.done((filled(frame, drawing),), (*panel.done(), *under.done()), title)


def _whole(panel: Column, notes: tuple[str, ...]) -> int:
    """Return how many notes stand whole beside the plan, with a line to say that more follow."""
    held = 0
    while held < len(notes):
        last = 0.0 if held + 1 == len(notes) else line_mm(SMALL_PT)
        if notes_height(panel.width_mm, notes[: held + 1]) + last > panel.left_over_mm:
            break
        held += 1
    return held
