"""A day of one analyser drawn along its hours: a row for each kind of check and each verdict.

What a mark means stands in words at the left of its row, so nothing rests on colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Final, get_args

import shapely

from hgmap.report.drawing import Across, Area, Dot, DotShape, Drawing, Hatch, Item, Label, Path, Pen
from hgmap.report.palette import INK, PAPER, RULE, SOFT, ZONE_LOOKS
from hgmap.report.timeline_days import Day
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.report.words import day as day_words
from hgmap.site.instruments.model import Check, CheckKind
from hgmap.site.quality.figures import clock
from hgmap.site.reading import Verdict

TITLE_PT: Final = 8.5
TEXT_PT: Final = 7.0
SMALL_PT: Final = 6.2
ROW_MM: Final = 4.4
NAME_MM: Final = 36.0
COUNT_MM: Final = 14.0
_TITLE_MM: Final = 6.0
_AXIS_MM: Final = 7.0
_GAP_MM: Final = 5.0
_LINE_MM: Final = 3.1
_MOST_SPAN_ROWS: Final = 6
_LEAST_SPAN_MM: Final = 0.8
_MOST_REASON_LINES: Final = 34
_MOST_MARKS: Final = 12.0
_MARK_MM: Final = 8.5
_STEPS_H: Final = (0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0)

HELD: Final = ZONE_LOOKS["remediate"].pen.colour
CAUTION: Final = ZONE_LOOKS["resample"].pen.colour
_BARS: Final = ("regeneration", "warm-up")
_SHAPES: Final[dict[CheckKind, DotShape]] = {
    "zero-air": "circle",
    "span": "square",
    "saturation": "diamond",
    "battery": "plus",
    "end-of-day": "triangle",
    "control point": "cross",
}
_ROW_NAMES: Final[dict[Verdict, str]] = {
    "usable": "readings: usable",
    "usable with a caution": "readings: with a caution",
    "held": "readings: held",
}
KEY: Final = (
    "Filled black: written down as failed. Dashed line: saturation. Held spans are numbered, with "
    "their reason below. Times are those of the clock on the wall."
)


@dataclass(frozen=True, slots=True)
class Axis:
    """The hours of a day along the paper: from, to, the step between marks (h), the length (mm)."""

    midnight: datetime
    first: float
    last: float
    step: float
    length_mm: float

    @classmethod
    def of(cls, day: Day, width: float) -> Axis:
        """Return the axis of a day whose drawing has a width (mm)."""
        midnight = datetime.combine(day.day, time())
        length = width - NAME_MM - COUNT_MM
        most = min(_MOST_MARKS, length / _MARK_MM)
        return cls(midnight, *_scale(*day.hours(), most), length)

    def along(self, when: datetime) -> float:
        """Return how far along (mm) a time stands; one beyond an end stands at it."""
        hour = (clock(when) - self.midnight).total_seconds() / 3600.0
        share = (hour - self.first) / (self.last - self.first)
        return self.length_mm * min(max(share, 0.0), 1.0)


@dataclass(frozen=True, slots=True)
class Placed:
    """A held span along the axis (mm from its start); ``number`` None is not written."""

    number: int | None
    west: float
    east: float

    @property
    def inside(self) -> bool:
        """Whether the number fits into the bar."""
        return self.east - self.west > self._wide + 1.0

    @property
    def reach(self) -> float:
        """Where the bar ends, or the number that stands behind it."""
        return self.east if self.inside else self.east + 1.2 + self._wide

    @property
    def _wide(self) -> float:
        return width_mm(str(self.number), TEXT_PT, True)


def height_mm(day: Day, width: float) -> float:
    """Return how much of a page (mm) a day takes, with the gap below it."""
    reasons = sum(len(lines) for lines in _reasons(day, width))
    rows = len(_kinds(day)) + len(_verdicts(day)) + len(_stacked(day, width))
    return _TITLE_MM + rows * ROW_MM + _AXIS_MM + reasons * _LINE_MM + _GAP_MM


def draw_day(day: Day, left: float, top: float, width: float) -> Drawing:
    """Draw a day into a box whose upper left corner is given (mm).

    Parameters
    ----------
    day : Day
        With one reading, check or span at least.
    left, top, width : float
        On the page (mm).
    """
    start = left + NAME_MM
    axis = Axis.of(day, width)

    def at(when: datetime) -> float:
        return start + axis.along(when)

    title = f"{day_words(day.day)}, {day.instrument}"
    items: list[Item] = [
        Label(left, top, fit(title, TITLE_PT, width, True), TITLE_PT, INK, True, up="top")
    ]
    y = top - _TITLE_MM
    stacks = _stacked(day, width)
    rows = len(_kinds(day)) + len(_verdicts(day)) + len(stacks)
    bottom = y - rows * ROW_MM
    items += _marks(axis, start, y, bottom)
    for row in range(rows + 1):
        level = y - row * ROW_MM
        line = shapely.LineString([(left, level), (left + width, level)])
        items.append(Path(line, Pen(RULE, 0.4)))
    for check in day.checks:
        if check.kind == "saturation":
            x = at(check.start)
            line = shapely.LineString([(x, y), (x, bottom)])
            items.append(Path(line, Pen(HELD, 0.7, (2.5, 1.5))))
    middle = y - ROW_MM / 2.0
    for kind in _kinds(day):
        found = [one for one in day.checks if one.kind == kind]
        items += _name(kind, str(len(found)), left, width, middle)
        for one in found:
            items += _check(one, at(one.start), at(one.end), middle)
        middle -= ROW_MM
    for verdict in _verdicts(day):
        items += _name(_ROW_NAMES[verdict], str(day.counts[verdict]), left, width, middle)
        items += _ticks([at(when) for when, one in day.readings if one == verdict], verdict, middle)
        middle -= ROW_MM
    for k, stack in enumerate(stacks):
        piled = stack[0].number is None
        number = str(len(day.spans)) if k == 0 else ""
        name = "more, one over another" if piled else "held spans" if k == 0 else ""
        items += _name(name, number, left, width, middle)
        for span in stack:
            items += _span(span, start, middle)
        middle -= ROW_MM
    y = bottom - _AXIS_MM
    for lines in _reasons(day, width):
        for text in lines:
            items.append(Label(left, y, text, SMALL_PT, INK, up="top"))
            y -= _LINE_MM
    return tuple(items)


def _kinds(day: Day) -> list[CheckKind]:
    found = {one.kind for one in day.checks}
    return [one for one in get_args(CheckKind) if one in found]


def _verdicts(day: Day) -> list[Verdict]:
    counts = day.counts
    return [one for one in get_args(Verdict) if counts[one]]


def _stacked(day: Day, width: float) -> list[list[Placed]]:
    """Put spans into rows in which none, nor its number, lies on another.

    Those that no longer fit share a last row, one over another and without numbers.
    """
    rows: list[list[Placed]] = []
    piled: list[Placed] = []
    axis = Axis.of(day, width)
    found = enumerate(day.spans, start=1)
    for number, (start, end, _) in sorted(found, key=lambda one: one[1][:2]):
        west = axis.along(start)
        east = max(axis.along(end), west + _LEAST_SPAN_MM)
        one = Placed(number, west, east)
        free = next((row for row in rows if row[-1].reach < west), None)
        if free is not None:
            free.append(one)
        elif len(rows) < _MOST_SPAN_ROWS:
            rows.append([one])
        else:
            piled.append(replace(one, number=None))
    return [*rows, piled] if piled else rows


def _reasons(day: Day, width: float) -> list[tuple[str, ...]]:
    """Return the numbered reasons of the held spans; a list too long for a page is cut short."""
    texts: list[tuple[str, ...]] = []
    for k, (start, end, why) in enumerate(day.spans, start=1):
        until = "24:00" if end.date() > day.day else f"{end:%H:%M}"
        text = f"{k}  {start:%H:%M} to {until}: {why}"
        lines = wrap(text, SMALL_PT, width, most_lines=3)
        if sum(map(len, texts)) + len(lines) > _MOST_REASON_LINES:
            texts.append((f"and {len(day.spans) - k + 1} more held spans",))
            break
        texts.append(lines)
    return texts


def _scale(first: float, last: float, most: float) -> tuple[float, float, float]:
    """Return round hours for both ends of the axis and the step between its marks (h).

    ``most``: how many steps there is room for.
    """
    low, high = math.floor(first * 2.0) / 2.0, math.ceil(last * 2.0) / 2.0
    if high - low < 1.0:
        low, high = max(0.0, low - 0.5), min(24.0, high + 0.5)
    step = next((one for one in _STEPS_H if (high - low) / one <= most), _STEPS_H[-1])
    return low, high, step


def _marks(axis: Axis, left: float, top: float, bottom: float) -> list[Item]:
    items: list[Item] = []
    low, high = math.ceil(axis.first / axis.step - 1e-9), math.floor(axis.last / axis.step + 1e-9)
    for k in range(low, high + 1):
        hour = k * axis.step
        x = left + axis.along(axis.midnight + timedelta(hours=hour))
        items.append(Path(shapely.LineString([(x, top), (x, bottom - 1.0)]), Pen(RULE, 0.5)))
        minutes = round(hour * 60.0)
        text = f"{minutes // 60:02d}:{minutes % 60:02d}"
        items.append(Label(x, bottom - 1.8, text, SMALL_PT, SOFT, across="centre", up="top"))
    return items


def _name(text: str, number: str, left: float, width: float, middle: float) -> list[Item]:
    return [
        Label(left, middle, fit(text, TEXT_PT, NAME_MM - 2.0), TEXT_PT, INK, up="middle"),
        Label(left + width, middle, number, TEXT_PT, INK, across="right", up="middle"),
    ]


def _check(check: Check, start: float, end: float, middle: float) -> list[Item]:
    failed = check.passed is False and check.kind != "saturation"
    if check.kind in _BARS:
        box = shapely.box(start, middle - 1.1, max(end, start + 0.6), middle + 1.1)
        return [Area(box, fill=INK if failed else RULE, pen=Pen(INK, 0.6))]
    shape = _SHAPES[check.kind]
    edge = Pen(HELD if check.kind == "saturation" else INK, 0.9)
    fill = INK if failed else HELD if check.kind == "saturation" else PAPER
    if shape in ("cross", "plus") and failed:
        shape = "square"  # a cross has no inside to fill
    return [Dot(start, middle, 5.2, shape, fill, edge)]


def _ticks(places: Sequence[float], verdict: Verdict, middle: float) -> list[Item]:
    """Draw a tick for each reading; those on one spot of paper are one tick."""
    tall, pen = {
        "usable": (1.1, Pen(INK, 0.6)),
        "usable with a caution": (1.1, Pen(CAUTION, 0.9)),
        "held": (1.5, Pen(HELD, 1.1)),
    }[verdict]
    spots = sorted({round(one / 0.15) * 0.15 for one in places})
    lines = [[(x, middle - tall), (x, middle + tall)] for x in spots]
    return [Path(shapely.MultiLineString(lines), pen)] if lines else []


def _span(span: Placed, left: float, middle: float) -> list[Item]:
    box = shapely.box(left + span.west, middle - 1.5, left + span.east, middle + 1.5)
    hatch = Hatch("diagonal", HELD, 3.2, 0.5)
    items: list[Item] = [Area(box, fill=PAPER, hatch=hatch, pen=Pen(HELD, 0.9))]
    if span.number is None:
        return items
    inside = span.inside
    x = (span.west + span.east) / 2.0 if inside else span.east + 0.6
    across: Across = "centre" if inside else "left"
    return [
        *items,
        Label(left + x, middle, str(span.number), TEXT_PT, INK, True, across, "middle", PAPER),
    ]
