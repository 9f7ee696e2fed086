"""The sheet of what was read: every reading of a floor, which count, which do not, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

import shapely

from hgmap.decide.model import Evidence, FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.column import SMALL_PT, Column, heading_mm, line_mm
from hgmap.report.drawing import Area, Dot, Item, Label, Pen, Sheet
from hgmap.report.inset_plan import inset_frame, inset_head
from hgmap.report.insets import marks_and_insets
from hgmap.report.legend import (
    NO_SHEETS,
    no_data_row,
    openings_row,
    readings_block,
)
from hgmap.report.marks import half_width_pt, kind_of, mark
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.palette import INK, NOTICE, PAPER, ZONE_LOOKS
from hgmap.report.plan_drawing import building, openings, unknown_ground
from hgmap.report.sheet_page import sheet_page
from hgmap.report.sheet_setup import PLAIN, SheetSetup
from hgmap.report.typeset import wrap
from hgmap.report.words import named
from hgmap.site.model import Round, Site
from hgmap.site.quality.quality import QualityReport

_FRAME: Final = Pen("#7a4a00", 0.9)
_FRAME_RIM: Final = Pen(PAPER, 2.0)


def readings_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    quality: QualityReport,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
    setup: SheetSetup = PLAIN,
    sheets: Mapping[str, int] = NO_SHEETS,
) -> Sheet:
    """Lay out the readings of one floor on its bare plan, and whether they can be trusted.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence : FloorEvidence
        Every reading with its part in the map.
    surface : Surface or None
        For the foot alone; it is not drawn.
    zones : Zones
        Of the same floor; of them only the ground without data is drawn.
    quality : QualityReport
        Of the whole round, which is said.
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
    titled = replace(round_, title=f"{round_.title or round_.name}, readings and their quality")
    page = sheet_page(
        site, titled, evidence, surface, setup=setup, panels_mm=(66.0, 78.0),
        sheet_line=f"readings, {title_block.where_line(floor.name, round_.name, version)}",
    )  # fmt: skip
    frame, mm_per_m = page.frame()
    bare = replace(zones, zones=(), contours=())
    marks, insets = marks_and_insets(evidence, ResampleList(()), frame, bare, sheets)
    doubted = [
        one for one in evidence.items
        if one.role not in ("held", "off the map") and one.reading.cautions
    ]  # fmt: skip
    unread = unknown_ground(zones)
    look = ZONE_LOOKS["no data"]
    hatched = () if unread.is_empty else (Area(unread, hatch=look.hatch),)
    drawing = (
        *hatched,
        *building(floor),
        *openings(floor, mm_per_m),
        *_frames(doubted),
        *marks.drawing,
    )
    panel = page.panel()
    _verdict(panel, quality)
    readings_block(panel, marks, evidence, insets, sheets)
    if any(one.reading.x is not None for one in doubted):
        at = (panel.left_mm + 3.0, panel.top_mm - 0.95)
        panel.draw(*_frame_at(*at, 2.0 * half_width_pt("used", above=False)), *mark("used", *at))
        many = str(len(doubted))
        right = panel.left_mm + panel.width_mm
        panel.draw(Label(right, panel.top_mm, many, SMALL_PT, INK, across="right", up="top"))
        panel.line("in a frame: used or at hand with a caution", SMALL_PT, indent_mm=8.0,
                   right_mm=6.0)  # fmt: skip
        panel.skip(1.8)
    panel.heading("On the plan")
    openings_row(panel, floor)
    if hatched:
        no_data_row(panel)
    notes = notes_of(site, round_, replace(evidence, items=()), surface, marks, warnings, cautions)
    for heading, texts, share in (
        ("Not used, and why", _why(evidence.set_aside), 0.45),
        ("Cautions about readings", _about(doubted), 0.45),
        ("What to do first", quality.fitness.todo, 0.5),
    ):
        _list(panel, heading, texts, share)
    notes_block(panel, notes, MORE)
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    larger = [
        inset_frame(one, evidence, None, None, bare,
                    _frames(item for item in doubted if item.reading.room == one.room.id))
        for one in insets
    ]  # fmt: skip
    heads = [item for one in insets for item in inset_head(one)]
    frames = (replace(frame, drawing=drawing), *larger)
    return page.done(frames, (*panel.done(), *heads), title)


def _frame_at(x: float, y: float, size_pt: float) -> tuple[Item, ...]:
    return (
        Dot(x, y, size_pt, "square", None, _FRAME_RIM),
        Dot(x, y, size_pt, "square", None, _FRAME),
    )


def _frames(doubted: Iterable[Evidence]) -> tuple[Item, ...]:
    """Draw a frame close round each mark: values stand outside it."""
    places: dict[tuple[float, float], float] = {}
    for one in doubted:
        x, y = one.reading.x, one.reading.y
        if x is not None and y is not None:
            size = 2.0 * half_width_pt(kind_of(one), above=one.above)
            places[x, y] = max(size, places.get((x, y), 0.0))
    return tuple(item for (x, y), size in sorted(places.items()) for item in _frame_at(x, y, size))


def _verdict(panel: Column, quality: QualityReport) -> None:
    """Say in a box whether the readings of the round are fit to map."""
    said = quality.fitness.sentence
    lines = wrap(f"{said[:1].upper()}{said[1:]}", 8.0, panel.width_mm - 5.0, bold=True,
                 most_lines=7)  # fmt: skip
    high = len(lines) * line_mm(8.0) + 3.4
    box = shapely.box(panel.left_mm, panel.top_mm - high, panel.left_mm + panel.width_mm,
                      panel.top_mm)  # fmt: skip
    plain = quality.fitness.verdict == "fit to map"
    panel.draw(Area(box, fill=PAPER if plain else NOTICE, pen=Pen(INK, 0.9)))
    panel.skip(2.0)
    for line in lines:
        panel.line(line, 8.0, bold=True, indent_mm=2.5)
    panel.skip(2.6)
    panel.line("of the whole round; every check stands on the quality page", SMALL_PT)
    panel.skip(1.4)


def _why(items: Iterable[Evidence]) -> tuple[str, ...]:
    """List readings that are not used, those with the same reason together."""
    found: dict[str, list[str]] = {}
    for one in items:
        reason = "; ".join(one.reasons) or one.role
        found.setdefault(reason, []).append(one.reading.id or one.reading.where)
    return tuple(f"{named(ids, 8)}: {reason}" for reason, ids in found.items())


def _about(items: Iterable[Evidence]) -> tuple[str, ...]:
    found: Counter[str] = Counter()
    ids: dict[str, list[str]] = {}
    for one in items:
        for text in one.reading.cautions:
            found[text] += 1
            ids.setdefault(text, []).append(one.reading.id or one.reading.where)
    return tuple(f"{named(ids[text], 4)}: {text}" for text, _ in found.most_common())


def _list(panel: Column, heading: str, texts: tuple[str, ...], share: float) -> None:
    """Set a list in at most a share of what is left of the panel."""
    if not texts or panel.left_over_mm < heading_mm() + 2.0 * line_mm(SMALL_PT):
        return
    panel.heading(heading)
    part = Column(panel.left_mm, panel.top_mm, panel.width_mm,
                  panel.top_mm - share * panel.left_over_mm)  # fmt: skip
    part.entries(texts, "and {n} more", most_lines=4)
    panel.draw(*part.done())
    panel.top_mm = part.top_mm
    panel.skip(1.4)
