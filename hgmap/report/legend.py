"""The column beside the plan: the answer first, then what every sign means, then what to do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType
from typing import Final

import numpy as np
import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, ResamplePlace, ZoneName, Zones
from hgmap.field.surface import Surface
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, heading_mm, line_mm
from hgmap.report.drawing import Area, Label, Path, Pen, Picture
from hgmap.report.insets import Inset
from hgmap.report.marks import MOST_NUMBERED, badge, mark, unnumbered
from hgmap.report.palette import INK, LEVEL_PEN, LEVEL_RIM, NOTICE, SOFT, ZONE_LOOKS
from hgmap.report.plan_drawing import opening_sample
from hgmap.report.plan_marks import Marks
from hgmap.report.room_letters import letter
from hgmap.report.shades import Shades
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.report.words import answer, number, per_cent, square_metres
from hgmap.site.building import Floor, Room

READING_WORDS: Final = {
    "used": "used for this map",
    "non-detect": "used, below its detection limit (<)",
    "other height": "at another height, not used here",
    "cannot see the level": "cannot see this level, not used",
    "held": "held: not used",
}
_MOST_TICKS: Final = 6
_MOST_ELSEWHERE: Final = 8
_QUALIFIER_WORDS: Final = {
    ">": "> saturated: the true value is higher",
    "~": "~ approximate: a wider error",
    "to": "a to b: anything in between",
    "up to": "up to: the highest of several",
}
_SWATCH: Final = (10.0, 4.8)


def answer_block(column: Column, zones: Zones, no_surface: str) -> None:
    """Say in plain words what the sheet says; where there is no estimate, why."""
    if no_surface:
        lines = wrap(f"No estimate was made: {no_surface}", 8.5, column.width_mm - 5.0, bold=True)
        lines = lines if len(lines) <= 6 else (*lines[:5], lines[5] + " …")
        height = len(lines) * line_mm(8.5) + 3.6
        box = shapely.box(
            column.left_mm,
            column.top_mm - height,
            column.left_mm + column.width_mm,
            column.top_mm,
        )
        column.draw(Area(box, fill=NOTICE, pen=Pen(INK, 0.9)))
        column.skip(2.2)
        for line in lines:
            column.line(line, 8.5, bold=True, indent_mm=2.5)
        column.skip(4.2)
    column.text(answer(zones), 9.5, bold=True)
    column.skip(2.4)


def zone_block(column: Column, zones: Zones, estimated: bool) -> None:
    """Show each zone's hatch and outline with its area and its rule.

    ``estimated`` False gives the rule for rooms without an estimate.
    """
    rules: dict[ZoneName, str] = {
        "remediate": "a reading in the room is above it",
        "resample": "readings, none known to be above it",
        "clear": "never without an estimate",
        "no data": "no reading in the room",
    }
    chances: dict[ZoneName, str] = {
        "remediate": f"chance of being above it: {per_cent(zones.remediate_at)} or more",
        "resample": "in between, or too little is known",
        "clear": f"chance of being above it: {per_cent(zones.clear_at)} or less",
        "no data": "no reading speaks for this place",
    }
    meaning = chances if estimated else rules
    column.heading("Zones, for this level")
    wide, high = _SWATCH
    for name in reversed(ZONE_LOOKS):
        look, top, left = ZONE_LOOKS[name], column.top_mm, column.left_mm
        swatch = shapely.box(left, top - high, left + wide, top)
        column.draw(Area(swatch, hatch=look.hatch, pen=look.pen))
        area = square_metres(zones.area_m2(name))
        right = left + column.width_mm
        column.draw(
            Label(right, top, area, TEXT_PT, INK, bold=True, across="right", up="top"),
        )
        used = width_mm(area, TEXT_PT, bold=True) + 2.0
        column.line(name, TEXT_PT, bold=True, indent_mm=wide + 2.5, right_mm=used)
        column.line(meaning[name], SMALL_PT, colour=SOFT, indent_mm=wide + 2.5)
        column.skip(0.6)
    column.skip(0.8)


def estimate_block(
    column: Column, surface: Surface, evidence: FloorEvidence, shades: Shades
) -> None:
    """Draw the colour bar with round values, and the level marked on it."""
    level = evidence.level
    column.heading(f"Estimate, {level.unit}")
    if surface.scale == "log":
        column.line("median at each place; logarithmic scale", SMALL_PT, colour=SOFT)
    else:
        column.line("mean at each place; logarithmic colours", SMALL_PT, colour=SOFT)
    column.skip(0.6)
    left, width = column.left_mm + 1.5, column.width_mm - 3.0
    at = left + width * shades.place(level.value)
    text = f"level {number(level.value)}"
    half = width_mm(text, TEXT_PT, bold=True) / 2.0
    middle = min(max(at, column.left_mm + half), column.left_mm + column.width_mm - half)
    column.draw(
        Label(middle, column.top_mm, text, TEXT_PT, INK, True, across="centre", up="top"),
    )
    column.skip(3.2)
    top, bottom = column.top_mm, column.top_mm - 4.2
    steps = np.linspace(math.log(shades.low), math.log(shades.high), 256)
    column.draw(
        Picture(shades.rgba(steps)[None, :, :], (left, bottom, left + width, top)),
        Area(shapely.box(left, bottom, left + width, top), pen=Pen(INK, 0.5)),
        Path(shapely.LineString([(at, bottom - 0.8), (at, top + 0.5)]), LEVEL_RIM),
        Path(shapely.LineString([(at, bottom - 0.8), (at, top + 0.5)]), LEVEL_PEN),
    )
    ticks = shades.ticks(_MOST_TICKS)
    draw_ticks(column, [(left + width * shades.place(one), number(one)) for one in ticks], bottom)
    column.skip(4.2 + 1.5 + line_mm(SMALL_PT) + 0.4)


def draw_ticks(column: Column, ticks: Iterable[tuple[float, str]], bottom_mm: float) -> None:
    """Draw the ticks of a scale under it; one whose number does not fit is left out.

    ``ticks`` are places (mm, across the page) and their texts, from the left.
    """
    end = -math.inf
    for x, text in ticks:
        half = width_mm(text, SMALL_PT) / 2.0
        centre = min(max(x, column.left_mm + half), column.left_mm + column.width_mm - half)
        if centre - half < end + 0.8:
            continue
        end = centre + half
        column.draw(
            Path(shapely.LineString([(x, bottom_mm), (x, bottom_mm - 0.9)]), Pen(INK, 0.5)),
            Label(centre, bottom_mm - 1.5, text, SMALL_PT, INK, across="centre", up="top"),
        )


def contour_row(column: Column) -> None:
    """Explain the contour."""
    y = column.top_mm - 1.0
    line = shapely.LineString([(column.left_mm, y), (column.left_mm + _SWATCH[0], y)])
    column.draw(Path(line, LEVEL_PEN))
    column.line("estimate equals the level (interpretation)", SMALL_PT, indent_mm=_SWATCH[0] + 2.5)
    column.skip(1.4)


NO_SHEETS: Final[Mapping[str, int]] = MappingProxyType({})
"""No room has a sheet of its own."""


def readings_block(
    column: Column,
    marks: Marks,
    evidence: FloorEvidence,
    insets: Sequence[Inset] = (),
    sheets: Mapping[str, int] = NO_SHEETS,
) -> None:
    """Explain the marks of the readings, how many there are of each, and where all values are.

    ``insets`` are those of the sheet, ``sheets`` has the number of the sheet for the id of a room
    that has one of its own.
    """
    own = [
        (room, sheets[room.id]) for room in evidence.floor.rooms
        if marks.crowded.get(room.id) and room.id in sheets
    ]  # fmt: skip
    column.heading(f"Readings, {evidence.level.unit}")
    rows = [(kind, words) for kind, words in READING_WORDS.items() if marks.kinds.get(kind)]
    for kind, words in rows:
        _mark_row(column, kind, words, str(marks.kinds[kind]))
    if marks.above:
        _mark_row(column, "used", "ring and bold: above the level", str(marks.above), above=True)
    written = {item.reading.qualifier for item in evidence.items if item.role != "off the map"}
    for qualifier, words in _QUALIFIER_WORDS.items():
        if qualifier in written:
            column.line(words, SMALL_PT, indent_mm=8.0)
    if not marks.drawn:
        column.line("none on this plan", SMALL_PT, colour=SOFT)
    if marks.labelled < marks.drawn:
        others = ": those above the level first, the others thinned so that they can be read."
        column.text(
            f"Values printed for {marks.labelled} of {marks.drawn} readings"
            + ("" if own else others),
            SMALL_PT,
            most_lines=3,
        )
    column.skip(1.4)
    _elsewhere_rows(column, insets, own)


def _elsewhere_rows(
    column: Column, insets: Sequence[Inset], own: Sequence[tuple[Room, int]]
) -> None:
    """Say where the values of crowded rooms are: in an inset, or on a sheet of the room's own."""
    if not insets and not own:
        return
    column.skip(-0.6)
    if insets:
        column.skip(0.6)
        column.draw(*letter(insets[0].letter, column.left_mm + 3.0, column.top_mm - 0.95))
        column.line("drawn larger in an inset, values and all", SMALL_PT, indent_mm=8.0)
        column.skip(0.9)
    if own:
        each = [f"{room.name or room.id}: see sheet {sheet}" for room, sheet in own]
        column.text(f"all values of {'; '.join(each)}", SMALL_PT, most_lines=_MOST_ELSEWHERE)
    column.skip(1.4)


def _mark_row(column: Column, kind: str, words: str, how_many: str, above: bool = False) -> None:
    y = column.top_mm - 0.95
    column.draw(*mark(kind, column.left_mm + 3.0, y, above=above))
    right = column.left_mm + column.width_mm
    column.draw(Label(right, column.top_mm, how_many, SMALL_PT, INK, across="right", up="top"))
    column.line(words, SMALL_PT, indent_mm=8.0, right_mm=width_mm(how_many, SMALL_PT) + 2.0)
    column.skip(0.75)


def plan_block(column: Column, evidence: FloorEvidence, resample: ResampleList) -> None:
    """Explain the openings that occur, and the numbered squares."""
    if not evidence.floor.openings and not resample.places:
        return
    column.heading("On the plan")
    openings_row(column, evidence.floor)
    if resample.places:
        column.skip(0.6)
        column.draw(*badge(1, column.left_mm + 3.0, column.top_mm - 0.95))
        column.line("measure again here, number 1 first", SMALL_PT, indent_mm=8.0)
        if len(resample.places) > MOST_NUMBERED:
            column.draw(unnumbered(column.left_mm + 3.0, column.top_mm - 0.95))
            column.line("and here: numbered in the resample list", SMALL_PT, indent_mm=8.0)
        column.skip(0.6)
    column.skip(1.4)


def no_data_row(column: Column) -> None:
    """Explain the hatch of ground that no reading speaks for, on a sheet without zones."""
    look, top = ZONE_LOOKS["no data"], column.top_mm
    swatch = shapely.box(column.left_mm, top - 3.6, column.left_mm + _SWATCH[0], top)
    column.draw(Area(swatch, hatch=look.hatch, pen=look.pen))
    column.skip(0.8)
    column.line("no data: no reading speaks here", SMALL_PT, indent_mm=_SWATCH[0] + 2.5)
    column.skip(1.6)


def openings_row(column: Column, floor: Floor) -> None:
    """Explain the openings that occur on a floor."""
    states = [
        state
        for state in ("open", "closed", "sealed")
        if any(opening.state == state for opening in floor.openings)
    ]
    if states:
        step = column.width_mm / 3.0
        for index, state in enumerate(states):
            x, y = column.left_mm + index * step, column.top_mm - 0.95
            column.draw(*opening_sample(state, x + 2.6, y, 4.2))
            word = fit(f"{state}", SMALL_PT, step - 10.6)
            column.draw(Label(x + 10.2, column.top_mm, word, SMALL_PT, INK, up="top"))
        column.skip(line_mm(SMALL_PT) + 0.3)
        column.line("openings: air passes an open one", SMALL_PT, colour=SOFT)
        column.skip(0.6)


def again_block(column: Column, resample: ResampleList, floor: float) -> None:
    """List the places to measure again down to ``floor`` mm; the rest is counted."""
    if not resample.places:
        return
    column.heading("Measure again")
    bottom, column.bottom_mm = column.bottom_mm, floor
    rows = _again_rows(resample)
    indent, done = _indent(rows), 0
    for which, places, text in rows:
        lines = wrap(text, SMALL_PT, column.width_mm - indent, most_lines=3)
        last = done + places == len(resample.places)
        if (len(lines) + (not last)) * line_mm(SMALL_PT) + 0.3 > column.left_over_mm:
            more = len(resample.places) - done
            column.line(f"and {more} more, in the resample list", SMALL_PT, colour=SOFT)
            break
        column.draw(Label(column.left_mm, column.top_mm, which, SMALL_PT, INK, True, up="top"))
        for line in lines:
            column.line(line, SMALL_PT, indent_mm=indent)
        column.skip(0.3)
        done += places
    column.bottom_mm = bottom
    column.skip(1.2)


def again_height(width: float, resample: ResampleList, enough: float) -> float:
    """Return how much the whole list would take at a width (mm), counted up to ``enough``."""
    if not resample.places:
        return 0.0
    height = heading_mm() + 1.2
    rows = _again_rows(resample)
    indent = _indent(rows)
    for _, _, text in rows:
        lines = wrap(text, SMALL_PT, width - indent, most_lines=3)
        height += len(lines) * line_mm(SMALL_PT) + 0.3
        if height > enough:
            break
    return height


def _again_rows(resample: ResampleList) -> list[tuple[str, int, str]]:
    """Return numbers, how many places, and what is said of them; alike ones in turn are one row."""
    rows = []
    for text, group in groupby(resample.places, _again_text):
        places = list(group)
        first, last = places[0].rank, places[-1].rank
        rows.append((f"{first}" if first == last else f"{first}–{last}", len(places), text))
    return rows


def _indent(rows: Sequence[tuple[str, int, str]]) -> float:
    return max(4.0, *(width_mm(f"{which} ", SMALL_PT, bold=True) + 0.6 for which, _, _ in rows))


def _again_text(place: ResamplePlace) -> str:
    why = "; ".join(place.reasons) or "reason not stated"
    height = f", {place.height_m:g} m high" if place.height_m is not None else ""
    return f"{place.room_name or place.room}{height}: {why}"
