"""The plan of a comparison: shades of change, the ground by what became of it, what rooms say."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.change_model import ChangeWord, FloorChange, RoomChange
from hgmap.decide.paired import PlacePair
from hgmap.field.surface import Surface
from hgmap.report.change_shades import (
    DOUBT_HATCH,
    FELL,
    GROUND_PENS,
    ROSE,
    UNKNOWN_HATCH,
    ChangeShades,
)
from hgmap.report.column import line_mm
from hgmap.report.drawing import PT_PER_MM, Area, Dot, Drawing, Item, Label, Pen
from hgmap.report.palette import INK, PAPER
from hgmap.report.shades import pictures
from hgmap.report.typeset import printable, width_mm
from hgmap.report.words import number

_SIZES_PT: Final = (7.5, 6.5, 5.5, 4.8)
_INSET_MM: Final = 1.2
_MARK_MM: Final = 1.0


def change_ground(change: FloorChange, shades: ChangeShades | None, mm_per_m: float) -> Drawing:
    """Paint the ratio, and mark the ground where it fell, where it rose and where none can tell."""
    grounds, floor = change.grounds, change.after.evidence.floor
    items: list[Item] = []
    surface, cells = change.after.surface, change.cells
    if surface is not None and cells is not None and shades is not None:
        ratio = _as_surface(surface, cells.log_ratio)
        items.extend(pictures(ratio, floor, shades, 1.0, mm_per_m, grounds.unknown))
    if not grounds.unknown.is_empty:
        items.append(Area(grounds.unknown, hatch=UNKNOWN_HATCH))
    if not grounds.doubtful.is_empty:
        items.append(Area(grounds.doubtful, hatch=DOUBT_HATCH))
    for word, ground in (("fell", grounds.fell), ("rose", grounds.rose)):
        items.extend(_outlined(ground, "fell" if word == "fell" else "rose", mm_per_m))
    return tuple(items)


def _as_surface(surface: Surface, log_ratio: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
                ) -> Surface:  # fmt: skip
    """Return the ratio as a surface, so that it is painted as an estimate is."""
    return replace(surface, mean=log_ratio, scale="log")


def _outlined(ground: BaseGeometry, word: ChangeWord, mm_per_m: float) -> list[Item]:
    if ground.is_empty:
        return []
    pen = GROUND_PENS[word]
    inner = ground.buffer(-(0.25 + 0.18 * pen.width_pt) / mm_per_m, join_style="mitre")
    outline = ground if inner.is_empty else inner.simplify(0.05 / mm_per_m)
    return [Area(outline, pen=Pen(PAPER, pen.width_pt + 1.4)), Area(outline, pen=pen)]


def pair_mark(way: int, x: float, y: float) -> Dot:
    """Draw a place measured in both rounds: a disc where it fell, a triangle where it rose."""
    if way < 0:
        return Dot(x, y, 3.8, "circle", FELL, Pen(PAPER, 0.6))
    if way > 0:
        return Dot(x, y, 5.2, "triangle", ROSE, Pen(PAPER, 0.6))
    return Dot(x, y, 3.8, "circle", PAPER, Pen(INK, 0.8))


def pair_marks(pairs: tuple[PlacePair, ...]) -> Drawing:
    """Draw every place measured in both rounds, where it was measured the second time."""
    return tuple(pair_mark(one.way(), one.after.x, one.after.y) for one in pairs)


def times(ratio: float) -> str:
    """Write a ratio.

    Examples
    --------
    >>> times(0.3123), times(2.0)
    ('× 0.31', '× 2')
    """
    return f"× {number(ratio, 2)}"


def interval(room: RoomChange) -> str:
    """Write a room's interval, an open end in words; empty where it has none."""
    if room.low is None or room.high is None:
        return ""
    if room.low <= 0.0:
        return f"under {_end(room.high)}"
    if math.isinf(room.high):
        return f"over {_end(room.low)}"
    return f"{_end(room.low)} to {_end(room.high)}"


def _end(ratio: float) -> str:
    """Write an end of an interval: rounding never takes it onto 1, the other side of which counts.

    Examples
    --------
    >>> _end(1.3), _end(1.04), _end(0.9996), _end(1.0)
    ('1.3', '1.04', '0.9996', '1')
    """
    shown = (number(ratio, digits) for digits in range(2, 8))
    return next((text for text in shown if text != "1"), "1")


def said(room: RoomChange) -> str:
    """Say what became of a room, in a word or two."""
    if room.rebounded:
        return "rebounded"
    if room.word == "cannot tell" and room.stayed_clear:
        return "clear both times"
    return room.word


def room_labels(change: FloorChange, mm_per_m: float) -> Drawing:
    """Print each room's number, its ratio and what became of it, as large as the room allows.

    A room too small for that has its number alone; the list beside the plan has all of them.
    """
    items: list[Item] = []
    reach = _MARK_MM / mm_per_m
    marks = shapely.union_all(
        [shapely.box(x - reach, y - reach, x + reach, y + reach)
         for x, y in ((one.after.x, one.after.y) for one in change.pairs)]
    )  # fmt: skip
    for place, room in enumerate(change.rooms, start=1):
        inner = room.room.polygon.buffer(-_INSET_MM / mm_per_m)
        if inner.is_empty:
            inner = room.room.polygon
        name = f"{place}  {printable(room.room.name or room.room.id)}"
        figure = [] if room.ratio is None else [f"{times(room.ratio)} ({interval(room)})"]
        short = [] if room.ratio is None else [times(room.ratio)]
        words = [said(room)]
        tries = (
            [name, *figure, *words],
            [name, *short, *words],
            [str(place), *short, *words],
            [str(place), *short],
            [str(place)],
        )
        for lines in tries:
            bare = inner.difference(marks)
            found = _spot(lines, bare, mm_per_m) or _spot(lines, inner, mm_per_m)
            if found is not None:
                items.extend(_set(lines, *found, mm_per_m))
                break
        else:
            spot = inner.representative_point()
            items.extend(_set([str(place)], spot.x, spot.y, _SIZES_PT[-1], mm_per_m))
    return tuple(items)


def _spot(
    lines: list[str], room: BaseGeometry, mm_per_m: float
) -> tuple[float, float, float] | None:
    """Find where lines stand wholly inside a room, nearest to its middle: x, y (m) and size."""
    west, south, east, north = room.bounds
    x, y = (one.ravel() for one in np.meshgrid(
        np.linspace(west, east, 23)[1:-1], np.linspace(south, north, 23)[1:-1]
    ))  # fmt: skip
    middle = room.centroid
    order = np.argsort(np.hypot(x - middle.x, y - middle.y), kind="stable")
    for size in _SIZES_PT:
        wide = max(width_mm(one, size, bold=k == 0) for k, one in enumerate(lines)) / mm_per_m
        high = len(lines) * line_mm(size) / mm_per_m
        boxes = shapely.box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
        held = shapely.covers(room, boxes[order])
        if held.any():
            first = order[int(np.argmax(held))]
            return float(x[first]), float(y[first]), size
    return None


def _set(lines: list[str], x: float, y: float, size: float, mm_per_m: float) -> list[Item]:
    step = line_mm(size) * PT_PER_MM
    top = (len(lines) - 1) * step / 2.0
    return [
        Label(
            x, y, text, size, INK, bold=k == 0 or text == "rebounded", across="centre",
            up="middle", halo=PAPER, offset_pt=(0.0, top - k * step),
        )
        for k, text in enumerate(lines)
    ]  # fmt: skip
