"""A day of one analyser drawn along its hours: a row for each kind of check and each verdict.

What a mark means stands in words at the left of its row, so nothing rests on colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, time
from typing import Final, get_args

import shapely

from hgmap.report.drawing import Area, Dot, DotShape, Drawing, Hatch, Item, Label, Path, Pen
from hgmap.report.palette import INK, PAPER, RULE, SOFT, ZONE_LOOKS
from hgmap.report.timeline_days import Day
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.report.words import count
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
_MOST_REASON_LINES: Final = 34

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
    "Filled mark, or a bar filled dark: written down as failed. Held spans are numbered, with "
    "their reason below. Times are those of the clock on the wall."
)

Span = tuple[datetime, datetime, str]


def height_mm(day: Day, width: float) -> float:
    """Return how much of a page (mm) a day takes, with the gap below it."""
    reasons = sum(len(lines) for lines in _reasons(day, width))
    rows = len(_kinds(day)) + len(_verdicts(day)) + len(_stacked(day.spans))
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
    start, hours = left + NAME_MM, width - NAME_MM - COUNT_MM
    first, last, step = _scale(*day.hours())

    def at(when: datetime) -> float:
        passed = (clock(when) - datetime.combine(day.day, time())).total_seconds() / 3600.0
        return start + hours * min(max((passed - first) / (last - first), 0.0), 1.0)

    title = f"{day_words(day.day)}, {day.instrument}"
    items: list[Item] = [
        Label(left, top, fit(title, TITLE_PT, width, True), TITLE_PT, INK, True, up="top")
    ]
    y = top - _TITLE_MM
    rows = len(_kinds(day)) + len(_verdicts(day)) + len(_stacked(day.spans))
    bottom = y - rows * ROW_MM
    items += _axis(first, last, step, start, hours, y, bottom)
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
    numbers = {id(one): k for k, one in enumerate(day.spans, start=1)}
    for k, stack in enumerate(_stacked(day.spans)):
        if k == 0:
            items += _name("held spans", str(len(day.spans)), left, width, middle)
        for span in stack:
            items += _span(numbers[id(span)], at(span[0]), at(span[1]), middle)
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


def _stacked(spans: Sequence[Span]) -> list[list[Span]]:
    """Put spans into rows in which none lies on another; very many share the last row."""
    rows: list[list[Span]] = []
    for one in sorted(spans, key=lambda span: span[:2]):
        free = next((row for row in rows if row[-1][1] < one[0]), None)
        if free is not None:
            free.append(one)
        elif len(rows) < _MOST_SPAN_ROWS:
            rows.append([one])
        else:
            rows[-1].append(one)
    return rows


def _reasons(day: Day, width: float) -> list[tuple[str, ...]]:
    """Return the numbered reasons of the held spans; a list too long for a page is cut short."""
    texts: list[tuple[str, ...]] = []
    for k, (start, end, why) in enumerate(day.spans, start=1):
        text = f"{k}  {start:%H:%M} to {end:%H:%M}: {why}"
        lines = wrap(text, SMALL_PT, width, most_lines=3)
        if sum(map(len, texts)) + len(lines) > _MOST_REASON_LINES:
            texts.append((f"and {len(day.spans) - k + 1} more held spans",))
            break
        texts.append(lines)
    return texts


def _scale(first: float, last: float) -> tuple[float, float, float]:
    """Return round hours for both ends of the axis and the step between its marks (h)."""
    low, high = math.floor(first * 2.0) / 2.0, math.ceil(last * 2.0) / 2.0
    if high - low < 1.0:
        low, high = max(0.0, low - 0.5), min(24.0, high + 0.5)
    step = next(one for one in (0.25, 0.5, 1.0, 2.0, 3.0) if (high - low) / one <= 12.0)
    return low, high, step


def _axis(
    first: float, last: float, step: float, left: float, width: float, top: float, bottom: float
) -> list[Item]:
    items: list[Item] = []
    for k in range(math.ceil(first / step - 1e-9), math.floor(last / step + 1e-9) + 1):
        hour = k * step
        x = left + width * (hour - first) / (last - first)
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


def _span(number: int, start: float, end: float, middle: float) -> list[Item]:
    end = max(end, start + 0.8)
    box = shapely.box(start, middle - 1.5, end, middle + 1.5)
    hatch = Hatch("diagonal", HELD, 3.2, 0.5)
    text = str(number)
    inside = end - start > width_mm(text, TEXT_PT) + 1.0
    x = (start + end) / 2.0 if inside else end + 0.6
    return [
        Area(box, fill=PAPER, hatch=hatch, pen=Pen(HELD, 0.9)),
        Label(
            x, middle, text, TEXT_PT, INK, True, across="centre" if inside else "left",
            up="middle", halo=PAPER,
        ),
    ]  # fmt: skip


def day_line(day: Day) -> str:
    """Say in one line what a day holds, for a reader who does not see the drawing."""
    counts = day.counts
    verdicts = ", ".join(f"{counts[one]} {one}" for one in get_args(Verdict))
    return (
        f"{day_words(day.day)}, {day.instrument}: {count(len(day.readings), 'reading')} "
        f"({verdicts}), {count(len(day.checks), 'check')}, {count(len(day.spans), 'held span')}"
    )
