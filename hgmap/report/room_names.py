"""Room names: as large as the room allows, and clear of every mark."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence
from hgmap.report.drawing import PT_PER_MM, Frame, Item, Label
from hgmap.report.labels import Box, Paper, spots_in_room
from hgmap.report.palette import PAPER
from hgmap.report.typeset import LINE_SPACING, fit, printable, width_pt, wrap

_NAME_SIZES_PT: Final = (8.0, 7.0, 6.0, 5.0)


def room_names(
    evidence: FloorEvidence,
    rooms: Sequence[BaseGeometry],
    frame: Frame,
    scale: float,
    paper: Paper,
) -> tuple[list[Item], tuple[str, ...]]:
    """Set the names of the rooms where there is free paper; return those that found none.

    ``rooms`` are the polygons on the paper (pt from the frame's corner); ``scale`` is in pt per m.
    """
    items: list[Item] = []
    unnamed = []
    for room, shape in zip(evidence.floor.rooms, rooms, strict=True):
        found = _name_spot(printable(room.name or room.id), shape, paper)
        if found is None:
            unnamed.append(room.name or room.id)
            continue
        lines, size, box = found
        paper.take(np.array(box))
        middle, top = (box[0] + box[2]) / 2.0, box[3] - 0.5
        for index, line in enumerate(lines):
            items.append(
                Label(
                    frame.west_m + middle / scale,
                    frame.south_m + (top - index * size * LINE_SPACING) / scale,
                    line,
                    size,
                    "#33373b",
                    across="centre",
                    up="top",
                    halo=PAPER,
                )
            )
    return items, tuple(unnamed)


def _name_spot(
    name: str, shape: BaseGeometry, paper: Paper
) -> tuple[tuple[str, ...], float, Box] | None:
    """Try the name in large letters, on two lines, in small letters, and cut short, in turn."""
    west, _, east, _ = shape.bounds
    room_mm = (east - west - 3.0) / PT_PER_MM
    tries: list[tuple[tuple[str, ...], float]] = []
    for size in _NAME_SIZES_PT:
        tries.append(((name,), size))
        lines = wrap(name, size, max(room_mm * 0.9, 1.0))
        words = set(name.split())
        if 1 < len(lines) <= (2 if size > 6.0 else 3) and all(
            set(line.split()) <= words for line in lines
        ):
            tries.append((lines, size))
    for share in (0.9, 0.6):
        short = fit(name, _NAME_SIZES_PT[-1], room_mm * share)
        if len(short) >= 4:
            tries.append(((short,), _NAME_SIZES_PT[-1]))
    for lines, size in tries:
        width = max(width_pt(line, size) for line in lines) + 2.0
        height = size * (0.73 + LINE_SPACING * (len(lines) - 1)) + 0.25 * size + 1.0
        box = spots_in_room(shape, width, height, paper)
        if box is not None:
            return lines, size, box
    return None
