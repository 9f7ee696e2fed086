"""What every page in map coordinates has: a frame of the map, its grid, and names of buildings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import CAP_HEIGHT, PT_PER_MM, Drawing, Frame, Item, Label, Path, Pen
from hgmap.report.free_paper import on_paper
from hgmap.report.ground import Ground
from hgmap.report.labels import Paper
from hgmap.report.palette import PAPER, SOFT
from hgmap.report.plan_page import SMALL_PT, TEXT_PT, Head, PlanPage, plan_page
from hgmap.report.typeset import fit, width_mm, width_pt
from hgmap.report.wanted import Wanted
from hgmap.site.building import Floor, Room

OTHER: Final = Pen("#9aa1a7", 0.8)
"""The outline of a building that a page is not about."""
ROUND: Final = (1.0, 2.0, 5.0)
_GRID: Final = Pen("#d5dadd", 0.5)
_WALL_M: Final = 0.3
"""How far an outer wall reaches beyond its rooms."""
_AROUND: Final = 0.06


def map_page(
    head: Head, shapes: Sequence[BaseGeometry], foot: str
) -> tuple[PlanPage, NDArray[np.float64]]:
    """Lay out a page round shapes on the map (m), up is grid north.

    Returns
    -------
    page : PlanPage
    base : array of shape (2,)
        Place of the map (m) that the page's own metres count from: paper is laid out in metres
        from a corner, and those of a map are millions.
    """
    west, south, east, north = shapely.total_bounds(list(shapes)).tolist()
    base = np.floor([(west + east) / 2.0, (south + north) / 2.0])
    pad = max(_AROUND * max(east - west, north - south), 1.0)
    box = (west - base[0] - pad, south - base[1] - pad, east - base[0] + pad, north - base[1] + pad)
    ground = Floor("map", "map", (Room("map", "", shapely.box(*box)),), north_deg=0.0,
                   north_is_grid=True)  # fmt: skip
    return plan_page(head, ground, box, foot), base


def near(shape: BaseGeometry, base: NDArray[np.float64]) -> BaseGeometry:
    """Move a shape from the map to a page's own metres."""
    return affinity.translate(shape, *-base)


def whole(shape: BaseGeometry) -> BaseGeometry:
    """Return rooms as one ground with the walls between and about them."""
    wide = shape.buffer(2.0 * _WALL_M, join_style="mitre")
    return wide.buffer(-_WALL_M, join_style="mitre")


def paper_of(shapes: Sequence[BaseGeometry], frame: Frame) -> Paper:
    """Return the frame's paper; texts keep off the edges of shapes, in rooms and out."""
    lines = [on_paper(shape.boundary, frame) for shape in shapes]
    edge = (2.0, 2.0, frame.width_mm * PT_PER_MM - 2.0, frame.height_mm * PT_PER_MM - 2.0)
    return Paper(edge, Ground((), lines))


def map_net(frame: Frame, base: NDArray[np.float64], paper: Paper) -> tuple[list[Item], list[Item]]:
    """Draw the map's grid at round coordinates; their numbers stand at the frame's edges."""
    west, south, east, north = frame.seen_m
    rough = 45.0 / frame.mm_per_m
    tens = 10.0 ** math.floor(math.log10(rough))
    step = max(one * tens for one in ROUND if one * tens <= rough)
    digits = max(0, -math.floor(math.log10(step)))
    lines: list[Item] = []
    texts: list[Item] = []
    for axis, (low, high) in enumerate(((west, east), (south, north))):
        first = math.ceil((low + base[axis]) / step)
        for k in range(first, math.floor((high + base[axis]) / step) + 1):
            at = k * step - base[axis]
            ends = [(at, south), (at, north)] if axis == 0 else [(west, at), (east, at)]
            lines.append(Path(shapely.LineString(ends), _GRID))
            text = f"{k * step:.{digits}f} {'E' if axis == 0 else 'N'}"
            half = width_mm(text, SMALL_PT) / 2.0
            if axis == 0:
                x, y = frame.to_page(at, south)
                if not frame.left_mm + half < x < frame.left_mm + frame.width_mm - half:
                    continue
                texts.append(Label(x, y + 1.0, text, SMALL_PT, SOFT, across="centre", halo=PAPER))
                left, low_mm = x - half, y + 1.0
            else:
                x, y = frame.to_page(west, at)
                if y < frame.bottom_mm + 5.0 or y > frame.bottom_mm + frame.height_mm - 3.0:
                    continue  # the eastings stand there
                texts.append(Label(x + 1.0, y + 0.6, text, SMALL_PT, SOFT, halo=PAPER))
                left, low_mm = x + 1.0, y + 0.6
            high_mm = low_mm + SMALL_PT * CAP_HEIGHT / PT_PER_MM
            west_mm, south_mm = left - frame.left_mm, low_mm - frame.bottom_mm
            box = np.array([west_mm, south_mm, west_mm + 2.0 * half,
                            high_mm - frame.bottom_mm])  # fmt: skip
            paper.take(box * PT_PER_MM, text=True)
    return lines, texts


def building_name(
    name: str, shape: BaseGeometry, paper: Paper, frame: Frame, *, beside: bool = False
) -> Drawing:
    """Write the name of a building that was not fitted, in or beside its ground."""
    corners = shapely.get_coordinates(shape)
    place = shapely.Point(corners[np.argmax(corners[:, 1])]) if beside else (
        shape.representative_point())  # fmt: skip
    at = on_paper(place, frame)
    text = fit(name, TEXT_PT, 45.0)
    spot = paper.place(
        Wanted(at.x, at.y, width_pt(text, TEXT_PT), TEXT_PT, 4.0, on_mark=not beside, longest=95.0)
    )
    if spot is None:
        return ()
    step = 1.0 / (frame.mm_per_m * PT_PER_MM)
    x, y = spot.centre
    return (Label(frame.west_m + x * step, frame.south_m + y * step, text, TEXT_PT, SOFT,
                  across="centre", up="middle", halo=PAPER),)  # fmt: skip
