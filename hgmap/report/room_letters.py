"""Letters on the plan: which room an inset shows larger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import PT_PER_MM, Dot, Drawing, Frame, Item, Label, Pen, Stroke
from hgmap.report.labels import Paper
from hgmap.report.palette import INK, PAPER
from hgmap.report.wanted import Wanted
from hgmap.site.building import Floor

LETTER_PT: Final = 7.0
_SIDE_PT: Final = 10.5
_LEADER: Final = Pen(INK, 0.5)


def letter(text: str, x: float, y: float, offset_pt: tuple[float, float] = (0.0, 0.0)) -> Drawing:
    """Draw the letter of an inset: dark in a white circle, unlike any number and any reading."""
    return (
        Dot(x, y, _SIDE_PT + 1.6, "circle", PAPER, Pen(PAPER, 0.4), offset_pt),
        Dot(x, y, _SIDE_PT, "circle", PAPER, Pen(INK, 0.8), offset_pt),
        Label(x, y, text, LETTER_PT, INK, True, "centre", "middle", offset_pt=offset_pt),
    )


def room_letters(
    lettered: Mapping[str, str], floor: Floor, rooms: Sequence[BaseGeometry], frame: Frame,
    paper: Paper, leaders: list[Item],
) -> list[Item]:  # fmt: skip
    """Set the letter of each room that an inset shows, in the room or beside it with a leader.

    ``rooms`` are its polygons on the paper (pt); ``leaders`` grows.
    """
    scale = frame.mm_per_m * PT_PER_MM
    items: list[Item] = []
    for room, shape in zip(floor.rooms, rooms, strict=True):
        text = lettered.get(room.id)
        if text is None:
            continue
        point = shape.representative_point()
        side = _SIDE_PT + 1.0
        wanted = Wanted(point.x, point.y, side, side, 1.0, shape, on_mark=True, anywhere=True)
        spot = paper.place(wanted)
        x, y = frame.west_m + point.x / scale, frame.south_m + point.y / scale
        offset = (0.0, 0.0)
        if spot is None:  # a full plan: a letter over a mark is better than none
            half = side / 2.0
            paper.take(np.array([point.x - half, point.y - half, point.x + half, point.y + half]),
                       text=True)  # fmt: skip
        else:
            offset = (spot.centre[0] - point.x, spot.centre[1] - point.y)
        if spot is not None and spot.leader is not None:
            leaders.append(Stroke(x, y, (0.0, 0.0), offset, Pen(PAPER, 1.6)))
            leaders.append(Stroke(x, y, (0.0, 0.0), offset, _LEADER))
        items.extend(letter(text, x, y, offset))
    return items
