"""The column beside a change map: the answer, what every sign means, the rooms, the places."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import Final

import numpy as np
import shapely

from hgmap.decide.change_model import FloorChange
from hgmap.decide.model import ZONE_NAMES, ZoneName
from hgmap.decide.paired import PairedStatistics
from hgmap.report.change_plan import interval, pair_mark, said, times
from hgmap.report.change_shades import (
    DOUBT_HATCH,
    GROUND_PENS,
    UNKNOWN_HATCH,
    ChangeShades,
    ratio_ticks,
)
from hgmap.report.change_tables import counted_rooms
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Area, Hatch, Label, Path, Pen, Picture
from hgmap.report.legend import draw_ticks
from hgmap.report.palette import INK, SOFT
from hgmap.report.typeset import width_mm
from hgmap.report.words import number, square_metres

_SWATCH: Final = (10.0, 4.2)
_KEPT_MM: Final = 10.0
"""Of the column, for the first of the notes: the list of rooms ends above it."""


def change_panel(column: Column, change: FloorChange, shades: ChangeShades | None) -> None:
    """Fill the column from the top."""
    column.text(f"{counted_rooms(change.rooms)}.", 9.5, bold=True)
    column.skip(1.8)
    _grounds(column, change)
    if shades is not None:
        _scale(column, shades)
    _pairs(column, change)
    _moves(column, change)
    _rooms(column, change)


def _grounds(column: Column, change: FloorChange) -> None:
    column.heading("What became of the air")
    grounds = change.grounds
    rows: tuple[tuple[str, str, float, Hatch | None, Pen], ...] = (
        ("rose", "the 95 % interval of the ratio is above 1", grounds.rose.area, None,
         GROUND_PENS["rose"]),
        ("fell", "the 95 % interval of the ratio is below 1", grounds.fell.area, None,
         GROUND_PENS["fell"]),
        ("cannot tell", "the interval covers no change", grounds.doubtful.area, DOUBT_HATCH,
         GROUND_PENS["cannot tell"]),
        ("not read in both rounds", "nothing is said of it", grounds.unknown.area, UNKNOWN_HATCH,
         GROUND_PENS["cannot tell"]),
    )  # fmt: skip
    wide, high = _SWATCH
    for title, words, area, hatch, pen in rows:
        top, left = column.top_mm, column.left_mm
        box = shapely.box(left, top - high, left + wide, top)
        column.draw(Area(box, hatch=hatch, pen=pen))
        text = square_metres(area)
        right = left + column.width_mm
        column.draw(Label(right, top, text, TEXT_PT, INK, True, across="right", up="top"))
        used = width_mm(text, TEXT_PT, bold=True) + 2.0
        column.line(title, TEXT_PT, bold=True, indent_mm=wide + 2.5, right_mm=used)
        column.line(words, SMALL_PT, colour=SOFT, indent_mm=wide + 2.5)
        column.skip(0.4)
    column.skip(0.6)


def _scale(column: Column, shades: ChangeShades) -> None:
    """Draw the bar of ratios, with no change marked in its middle."""
    column.heading("Ratio of the estimates, after / before")
    half = column.left_mm + column.width_mm / 2.0
    column.draw(
        Label(column.left_mm, column.top_mm, "less after", SMALL_PT, SOFT, up="top"),
        Label(half, column.top_mm, "no change", SMALL_PT, INK, across="centre", up="top"),
        Label(column.left_mm + column.width_mm, column.top_mm, "more after", SMALL_PT, SOFT,
              across="right", up="top"),
    )  # fmt: skip
    column.skip(3.2)
    left, width = column.left_mm + 1.5, column.width_mm - 3.0
    top, bottom = column.top_mm, column.top_mm - 3.8
    steps = np.linspace(math.log(shades.low), math.log(shades.high), 257)
    middle = left + width / 2.0
    column.draw(
        Picture(shades.rgba(steps)[None, :, :], (left, bottom, left + width, top)),
        Area(shapely.box(left, bottom, left + width, top), pen=Pen(INK, 0.5)),
        Path(shapely.LineString([(middle, bottom - 0.8), (middle, top + 0.6)]), Pen(INK, 1.2)),
    )
    draw_ticks(
        column,
        [(left + width * shades.place(one), number(one, 2)) for one in ratio_ticks(shades)],
        bottom,
    )
    column.skip(3.8 + 1.5 + line_mm(SMALL_PT) + 0.6)


def _pairs(column: Column, change: FloorChange) -> None:
    column.heading("Places measured in both rounds")
    paired = change.paired
    if not paired.pairs:
        column.line("none within 0.5 m of each other", SMALL_PT, colour=SOFT)
        column.skip(1.0)
        return
    step = column.width_mm / 3.0
    for place, (way, count, word) in enumerate(
        ((-1, paired.fell, "fell"), (1, paired.rose, "rose"), (0, paired.undecided, "undecided"))
    ):
        x = column.left_mm + place * step
        column.draw(
            pair_mark(way, x + 1.6, column.top_mm - 0.9),
            Label(x + 4.2, column.top_mm, f"{count} {word}", SMALL_PT, INK, up="top"),
        )
    column.skip(line_mm(SMALL_PT) + 0.3)
    column.line("by their sign, however little they moved", SMALL_PT, colour=SOFT)
    for text in paired_lines(paired):
        column.text(text, SMALL_PT, most_lines=3)
    column.skip(1.0)


def paired_lines(paired: PairedStatistics) -> tuple[str, ...]:
    """Write the paired statistics in lines."""
    lines = [f"all pairs together: {paired.word}"]
    if paired.ratio is not None and paired.low is not None and paired.high is not None:
        lines.append(
            f"mean ratio {number(paired.ratio, 2)} (95 % interval {number(paired.low, 2)} to "
            f"{number(paired.high, 2)}, Student's t on {paired.numbers} pairs of numbers)"
        )
    tests = [
        f"{name} p = {chance(p)}"
        for name, p in (("signed ranks", paired.p_wilcoxon), ("signs", paired.p_sign))
        if p is not None
    ]
    if tests:
        lines.append("; ".join(tests))
    if paired.numbers < paired.pairs:
        lines.append("non-detects are in the test of signs only, as what they can lie between")
    return tuple(lines)


def chance(p: float) -> str:
    """Write a probability of a test.

    Examples
    --------
    >>> chance(0.04126), chance(1e-7)
    ('0.041', 'under 0.001')
    """
    return "under 0.001" if p < 0.001 else f"{p:.2g}"


def _moves(column: Column, change: FloorChange) -> None:
    """Say how much ground went from one zone into another, what got worse first, in bold."""
    area: dict[tuple[ZoneName, ZoneName], float] = defaultdict(float)
    worse = {(move.before, move.after) for move in change.moves if move.worse}
    for move in change.moves:
        area[move.before, move.after] += move.area_m2
    order = [(x, y) for x in ZONE_NAMES for y in ZONE_NAMES if x != y and area[x, y] > 0.0]
    column.heading("Ground that changed zone")
    if not order:
        column.line("none", SMALL_PT, colour=SOFT)
    for x, y in sorted(order, key=lambda pair: (pair not in worse, -area[pair]))[:6]:
        text, bold = square_metres(area[x, y]), (x, y) in worse
        right = column.left_mm + column.width_mm
        column.draw(
            Label(right, column.top_mm, text, SMALL_PT, INK, bold, across="right", up="top")
        )
        used = width_mm(text, SMALL_PT, bold) + 2.0
        column.line(f"{x} before, {y} after", SMALL_PT, bold=bold, right_mm=used)
    column.skip(1.0)


def _rooms(column: Column, change: FloorChange) -> None:
    """List the rooms by their numbers on the plan, as far as there is room."""
    column.heading("Rooms: ratio of the means, 95 % interval")
    right = column.left_mm + column.width_mm
    for place, room in enumerate(change.rooms, start=1):
        if column.left_over_mm < _KEPT_MM and place < len(change.rooms):
            more = len(change.rooms) - place + 1
            column.line(f"and {more} more, in compare-rooms.csv", SMALL_PT, colour=SOFT)
            break
        figure = "" if room.ratio is None else f"{times(room.ratio)} ({interval(room)})"
        word = said(room)
        kept = 22.0 + (width_mm(figure, SMALL_PT) if figure else 0.0)
        column.draw(
            Label(right - 20.0, column.top_mm, figure, SMALL_PT, INK, across="right", up="top"),
            Label(right, column.top_mm, word, SMALL_PT, INK, room.rebounded or room.word == "rose",
                  across="right", up="top"),
        )  # fmt: skip
        column.line(f"{place}  {room.room.name or room.room.id}", SMALL_PT, right_mm=kept)
    column.skip(1.0)


def ground_line(change: FloorChange) -> str:
    """Say in one line how much ground fell, rose, and how much nobody can tell of."""
    grounds = change.grounds
    return (
        f"ground: fell {square_metres(grounds.fell.area)}, "
        f"rose {square_metres(grounds.rose.area)}, "
        f"cannot tell {square_metres(grounds.doubtful.area)}, "
        f"not read in both {square_metres(grounds.unknown.area)}"
    )


def places_line(paired: PairedStatistics) -> str:
    """Say in one line what the places that were measured in both rounds show."""
    if not paired.pairs:
        return "places measured in both rounds: none within 0.5 m of each other"
    return (
        f"places measured in both rounds: {paired.pairs} ({paired.fell} fell, {paired.rose} rose, "
        f"{paired.undecided} undecided); {'; '.join(paired_lines(paired))}"
    )
