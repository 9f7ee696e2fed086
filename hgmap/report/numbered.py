"""Numbered circles on a plan: at their places, or beside them with a line to a small cross."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from shapely.geometry.base import BaseGeometry

from hgmap.decide.design.places import DesignPlace
from hgmap.report.drawing import PT_PER_MM, Dot, Frame, Item, Label, Pen, Stroke
from hgmap.report.labels import Paper
from hgmap.report.palette import INK, PAPER
from hgmap.report.typeset import width_pt
from hgmap.report.wanted import Wanted

SIDE_PT: Final = 11.0
NUMBER_PT: Final = 6.5
_LINE: Final = Pen(INK, 0.5)


@dataclass(frozen=True, slots=True)
class NumberedMark:
    """A number at a place of a plan (m); in its ``home`` on the paper (pt) where that is given."""

    number: int
    x: float
    y: float
    home: BaseGeometry | None = None
    colour: str = INK


def numbered_places(
    places: Sequence[tuple[int, DesignPlace]],
    home: Mapping[str, BaseGeometry],
    frame: Frame,
    paper: Paper,
) -> tuple[list[Item], list[Item]]:
    """Put numbers at places of a walk, none on another; return the lines and the circles.

    ``home`` are the rooms on the paper (pt), by id.
    """
    marks = [
        NumberedMark(number, place.x, place.y, home.get(place.room))
        for number, place in places
        if place.x is not None and place.y is not None
    ]
    return numbered_marks(marks, frame, paper)


def numbered_marks(
    marks: Sequence[NumberedMark], frame: Frame, paper: Paper
) -> tuple[list[Item], list[Item]]:
    """Put numbers at places of a plan, none on another; return the lines and the circles."""
    scale = frame.mm_per_m * PT_PER_MM
    leaders: list[Item] = []
    circles: list[Item] = []
    for mark in marks:
        x, y = (mark.x - frame.west_m) * scale, (mark.y - frame.south_m) * scale
        side = circle_pt(mark.number)
        wanted = Wanted(
            x, y, side, side, 5.0, mark.home, on_mark=True, longest=60.0, anywhere=True
        )  # fmt: skip
        spot = (
            paper.place(wanted)
            or paper.place(replace(wanted, over=True))
            or paper.place(replace(wanted, over=True, through=True))
        )
        offset = (0.0, 0.0)
        if spot is None:  # a full sheet: a number over a mark is better than no number
            half = side / 2.0
            paper.take(np.array([x - half, y - half, x + half, y + half]), text=True)
        else:
            offset = (spot.centre[0] - x, spot.centre[1] - y)
        if max(map(abs, offset)) > 0.1:
            leaders += [
                Stroke(mark.x, mark.y, (0.0, 0.0), offset, Pen(PAPER, 1.6)),
                Stroke(mark.x, mark.y, (0.0, 0.0), offset, _LINE),
                Dot(mark.x, mark.y, 5.0, "plus", None, Pen(INK, 1.1)),
            ]
        circles += [
            Dot(mark.x, mark.y, side - 1.0, "circle", PAPER, Pen(mark.colour, 1.0), offset),
            Label(mark.x, mark.y, str(mark.number), NUMBER_PT, mark.colour, True, across="centre",
                  up="middle", offset_pt=offset),
        ]  # fmt: skip
    return leaders, circles


def circle_pt(number: int) -> float:
    """Return the width of a numbered circle with its rim (pt)."""
    return max(SIDE_PT, width_pt(str(number), NUMBER_PT, bold=True) + 3.5) + 1.0
