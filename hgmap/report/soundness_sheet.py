"""The sheet of a plan's soundness: the floor as it is drawn, with the findings by their numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hgmap.editing.finding_places import finding_places
from hgmap.editing.plan_check import FloorCheck, NumberedFinding
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.stacking import STACKED
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Area, Drawing, Frame, Hatch, Item, Label, Path, Pen, Sheet
from hgmap.report.free_paper import free_paper, on_paper
from hgmap.report.numbered import NumberedMark, numbered_marks
from hgmap.report.palette import INK, PAPER, SOFT
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_page import (
    LONG_MM,
    MARGIN_MM,
    PAD_MM,
    SHORT_MM,
    Head,
    filled,
    foot_items,
    head_items,
    name_on_plan,
    page_number,
)
from hgmap.report.room_names import names_in_rooms, names_outside
from hgmap.report.title_block import arrow_to_north, bar_width_mm, denominator, scale_bar
from hgmap.report.typeset import wrap
from hgmap.site.building import Floor
from hgmap.site.model import Site
from hgmap.site.plan import OPENING_REACH_M

FOOT: Final = (
    "What is named here may be a mistake of the drawing, or stand so in the building: compare. A "
    "plan with an error is not read, and no map is made of it."
)
PANEL_MM: Final = 84.0
_STRIP_MM: Final = 15.0
_GUTTER_MM: Final = 5.0
_NUMBER_MM: Final = 7.0
_MOST_LINES: Final = 7
_LEAST_M: Final = 1.0

# Hues after Okabe and Ito (2008), "Color Universal Design", darkened; from memory. The dashes say
# the same without colour.
COLOURS: Final = {"error": "#a33a00", "warning": "#00508a", "note": SOFT}
_PENS: Final = {
    "error": Pen(COLOURS["error"], 1.8),
    "warning": Pen(COLOURS["warning"], 1.5, (4.5, 2.2)),
    "note": Pen(COLOURS["note"], 1.0, (1.2, 1.8)),
}
_HATCHES: Final = {
    "error": Hatch("diagonal", COLOURS["error"], 4.0, 0.8),
    "warning": Hatch("dots", COLOURS["warning"], 5.0, 1.3),
}


@dataclass(frozen=True, slots=True)
class SheetWords:
    """What such a sheet says beside the plan.

    Attributes
    ----------
    name : str
        Of the site.
    question : str
        Before the floor's title.
    line : callable
        A sentence on a floor.
    heading : str
        Over the numbered list.
    texts : callable
        What is listed of a finding, and below it smaller what to do.
    foot : str
    invented : bool
        Whether the data are.
    author : str
    elsewhere : str
        Where the findings are that found no room.
    """

    name: str
    question: str
    line: Callable[[FloorCheck], str]
    heading: str
    texts: Callable[[NumberedFinding], tuple[str, str]]
    foot: str
    invented: bool = False
    author: str = ""
    elsewhere: str = "the check itself lists all"


def soundness_sheets(site: Site, floors: Sequence[FloorCheck]) -> list[tuple[str, Sheet]]:
    """Lay out a sheet of A4 for each floor whose file is a plan; returns their names, too."""
    words = SheetWords(
        site.name, "Is the plan sound?", _line, "Findings", _texts, FOOT, site.invented,
        site.title_block.prepared_by,
    )  # fmt: skip
    return numbered_sheets(words, floors)


def numbered_sheets(words: SheetWords, floors: Sequence[FloorCheck]) -> list[tuple[str, Sheet]]:
    """Lay out a sheet of A4 for each floor that can be drawn, with what is numbered on it."""
    drawn = [one for one in floors if one.draft is not None]
    return [
        (one.name, _sheet(words, one, one.draft, number, len(drawn)))
        for number, one in enumerate(drawn, start=1)
        if one.draft is not None
    ]


def _sheet(words: SheetWords, check: FloorCheck, draft: PlanDraft, number: int, of: int) -> Sheet:
    floor = _drawn(check, draft)
    west, south, east, north = _bounds(draft, check)
    tall = (north - south) > 1.2 * (east - west)
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    title = f"{words.question} {check.title}"
    head = Head(words.name, title, (words.line(check),), words.invented)
    top, items = head_items(head, width, height)
    foot, low = foot_items(words.foot, width)
    panel_mm = PANEL_MM if not tall else PANEL_MM - 20.0
    plan_mm = width - 2.0 * MARGIN_MM - panel_mm - _GUTTER_MM
    frame = _frame((west, south, east, north), plan_mm, low + _STRIP_MM, top)
    column = Column(width - MARGIN_MM - panel_mm, top - 1.0, panel_mm, low + 1.0)
    listed = _list(column, check, words)
    drawing, unnamed = _plan(floor, check, listed, frame)
    if unnamed:
        column.text(f"Rooms whose names found no place: {', '.join(unnamed)}", SMALL_PT,
                    colour=SOFT, most_lines=3)  # fmt: skip
    page = (
        *items,
        *foot,
        *scale_bar(MARGIN_MM + 2.0, low + 6.0, min(46.0, bar_width_mm(frame)), frame.mm_per_m,
                   "A4 paper"),
        *arrow_to_north(MARGIN_MM + 70.0, low + 7.4, check.north_deg),
        *column.done(),
        page_number(width, number, of),
    )  # fmt: skip
    return Sheet(width, height, (filled(frame, drawing),), page, f"{words.name}: {title}",
                 words.author)  # fmt: skip


def _line(check: FloorCheck) -> str:
    open_ones = sum(one.open for one in check.findings)
    words = {
        "sound": "Sound: nothing stands against it but what is noted.",
        "look": f"To look at: {open_ones}. The plan is read as it is drawn.",
        "not read": "Not read as it is drawn: an error stands against it.",
    }
    return words[check.state] if check.findings else "Sound: nothing was found."


def _drawn(check: FloorCheck, draft: PlanDraft) -> Floor:
    """Return the floor as far as it is sound."""
    lines = [
        part
        for one in draft.walls
        if one.geometry is not None and not one.complaint
        for part in shapely.get_parts(one.geometry)
        if isinstance(part, LineString)
    ]
    rooms, doors = tuple(draft.sound_rooms.values()), tuple(draft.sound_openings.values())
    return Floor(check.name, check.title, rooms, tuple(lines), doors, check.north_deg)


def _bounds(draft: PlanDraft, check: FloorCheck) -> tuple[float, float, float, float]:
    """Return west, south, east, north (m) of all that is drawn, sound or not."""
    shapes = [one.geometry for one in draft.features if one.kind and one.geometry is not None]
    shapes += [one.finding.place for one in check.findings if one.finding.rule == STACKED]
    if not shapes:
        return 0.0, 0.0, _LEAST_M, _LEAST_M
    west, south, east, north = map(float, shapely.total_bounds(shapes))
    if max(east - west, north - south) < _LEAST_M:
        east, north = west + _LEAST_M, south + _LEAST_M
    return west, south, east, north


def _frame(
    bounds: tuple[float, float, float, float], plan_mm: float, low: float, top: float
) -> Frame:
    west, south, east, north = bounds
    high = top - low - 1.0
    scale = denominator(
        east - west, north - south, plan_mm - 2.0 * PAD_MM, high - 2.0 * PAD_MM
    )  # fmt: skip
    mm_per_m = 1000.0 / scale
    seen = plan_mm / mm_per_m, high / mm_per_m
    return Frame(
        (), MARGIN_MM, low, plan_mm, high, (west + east - seen[0]) / 2.0,
        (south + north - seen[1]) / 2.0, mm_per_m,
    )  # fmt: skip


def _plan(
    floor: Floor, check: FloorCheck, listed: int, frame: Frame
) -> tuple[Drawing, tuple[str, ...]]:
    rooms = [on_paper(room.polygon, frame) for room in floor.rooms]
    paper = free_paper(floor, frame, rooms)
    marks = [
        NumberedMark(one.number, x, y, _home((x, y), floor, rooms), COLOURS[one.finding.severity])
        for one in check.findings[:listed]  # a number that no line explains says nothing
        for x, y in finding_places(one.finding)
    ]
    lines, circles = numbered_marks(marks, frame, paper)  # first: names give way to them
    names = [name_on_plan(room.name) for room in floor.rooms]
    named, unset = names_in_rooms(names, rooms, frame, paper)
    outside, leaders, unnamed = names_outside(names, rooms, unset, frame, paper)
    return (
        *(item for one in check.findings for item in _below(one)),
        *(building(floor) if floor.rooms else ()),
        *(openings(floor, frame.mm_per_m) if floor.rooms else ()),
        *(item for one in check.findings for item in _look(one)),
        *leaders,
        *named,
        *outside,
        *lines,
        *circles,
    ), unnamed


def _home(
    at: tuple[float, float], floor: Floor, rooms: Sequence[BaseGeometry]
) -> BaseGeometry | None:
    """Return the room on the paper that a place (m) lies in or at: its number is to stay there."""
    point = shapely.Point(at)
    near = [
        (room.polygon.distance(point), k)
        for k, room in enumerate(floor.rooms)
        if room.polygon.dwithin(point, OPENING_REACH_M)
    ]
    return rooms[min(near)[1]] if near else None


def _below(one: NumberedFinding) -> list[Item]:
    """Draw the outline of the floor that this one does not lie on."""
    place = one.finding.place
    if one.finding.rule != STACKED or place is None:
        return []
    outlines = [Path(part.exterior, _PENS["note"]) for part in shapely.get_parts(place)]
    west, _, _, north = place.bounds
    text = f"{one.number}: outline of the floor below"
    label = Label(west, north, text, SMALL_PT, SOFT, halo=PAPER, offset_pt=(0.0, 3.0))
    return [*outlines, label]


def _look(one: NumberedFinding) -> list[Item]:
    """Mark the place of a finding; what is no sound shape shows its lines."""
    place, severity = one.finding.place, one.finding.severity
    if place is None or place.is_empty or not one.finding.features:
        return []
    items: list[Item] = []
    for part in shapely.get_parts(place):
        if part.geom_type == "Polygon":
            if part.is_valid and part.area > 0 and severity in _HATCHES:
                items.append(Area(part, hatch=_HATCHES[severity]))
            rings = [part.exterior, *part.interiors]
            items.append(Path(shapely.MultiLineString(rings), _PENS[severity]))
        elif part.geom_type in ("LineString", "LinearRing") and part.length > 0:
            items.append(Path(part, _PENS[severity]))
    return items


def _list(column: Column, check: FloorCheck, words: SheetWords) -> int:
    """Set the findings by their numbers; what does not fit is counted. Returns how many are set."""
    column.heading(words.heading)
    step = line_mm(TEXT_PT)
    for done, one in enumerate(check.findings):
        text, repair = words.texts(one)
        lines = wrap(text, TEXT_PT, column.width_mm - _NUMBER_MM, most_lines=_MOST_LINES)
        mends = wrap(repair, SMALL_PT, column.width_mm - _NUMBER_MM, most_lines=_MOST_LINES) \
            if repair else []  # fmt: skip
        need = len(lines) * step + len(mends) * line_mm(SMALL_PT) + step
        if need > column.left_over_mm:
            more = f"and {len(check.findings) - done} more; {words.elsewhere}"
            for line in wrap(more, SMALL_PT, column.width_mm, most_lines=_MOST_LINES):
                column.line(line, SMALL_PT, colour=SOFT)
            return done
        colour = COLOURS[one.finding.severity]
        column.draw(Label(column.left_mm, column.top_mm, str(one.number), TEXT_PT, colour, True,
                          up="top"))  # fmt: skip
        for line in lines:
            column.line(line, TEXT_PT, indent_mm=_NUMBER_MM, colour=INK)
        for line in mends:
            column.line(line, SMALL_PT, indent_mm=_NUMBER_MM, colour=SOFT)
        column.skip(0.8)
    if not check.findings:
        column.line("none", TEXT_PT, colour=SOFT)
    return len(check.findings)


def _texts(one: NumberedFinding) -> tuple[str, str]:
    finding = one.finding
    word = "kept as drawn" if finding.kept else finding.severity
    repair = f"Repair: {finding.repair.text}" if finding.repair else f"To do: {finding.todo}"
    return f"{word}: {finding.message}", "" if finding.kept else repair
