"""Insets: rooms whose values do not all find room, drawn larger where the sheet is free."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.report.drawing import PT_PER_MM, Frame, Stroke
from hgmap.report.free_paper import on_paper
from hgmap.report.plan_marks import Marks, marks_on_plan
from hgmap.report.title_block import coarser, denominator
from hgmap.report.typeset import printable, width_mm
from hgmap.report.wanted import Box
from hgmap.site.building import Floor, Room

MOST_INSETS: Final = 6
_LEAST_VALUES: Final = 3
"""A room with fewer that have no place of their own is not worth an inset."""

LARGER: Final = 1.4
"""An inset, or a detail, shows its room at least so much larger than the map."""

HEAD_MM: Final = 4.4
"""Of an inset, for its letter, its name and its scale."""

HEAD_PT: Final = 6.0
LETTER_MM: Final = 5.6
"""Width of the letter in it."""

_MOST_LARGER: Final = 12.0
_ROUND_MM: Final = 3.5
_LEAST_WIDTH_MM: Final = 30.0
_MOST_NAME_MM: Final = 46.0
_MOST_SHARE: Final = 0.45
_GRID_MM: Final = 1.0
_APART_MM: Final = 2.0
_ROUND_BUILDING_MM: Final = 8.0
"""Kept free round the building for names, numbers and values that stand outside it."""

_VALUE_MM2: Final = 12.0
"""A value with its mark covers about so much."""

_EVERY: Final = 2
_SCALES: Final = 6
_TRIES: Final = 12


@dataclass(frozen=True, slots=True)
class Inset:
    """A room drawn larger: ``frame`` is empty and lies below a head of ``HEAD_MM``."""

    room: Room
    letter: str
    frame: Frame
    marks: Marks

    @property
    def box_mm(self) -> Box:
        """Left, bottom, right, top on the page, with its head."""
        one = self.frame
        return (one.left_mm, one.bottom_mm, one.left_mm + one.width_mm,
                one.bottom_mm + one.height_mm + HEAD_MM)  # fmt: skip


def marks_and_insets(
    evidence: FloorEvidence, resample: ResampleList, frame: Frame, zones: Zones,
    detailed: Collection[str] = (),
) -> tuple[Marks, tuple[Inset, ...]]:  # fmt: skip
    """Draw the marks of a plan, and put rooms too crowded for their values into insets.

    A room has an inset where one on free paper, at least ``LARGER`` as large, prints every value
    of it; then the plan has a letter there instead of the values. Insets are taken back where
    they would cost more values than they print. ``detailed``: see :func:`marks_on_plan`.

    Returns
    -------
    Marks
        Of the plan; ``labelled`` counts the values of the insets too, and ``crowded`` has only
        rooms without an inset.
    tuple of Inset
    """
    plain = marks_on_plan(evidence, resample, frame, zones, detailed=detailed)
    rooms = {one.id: one for one in evidence.floor.rooms}
    wanted = [
        rooms[one] for one in sorted(plain.crowded, key=lambda one: (-plain.crowded[one], one))
        if one in rooms and plain.crowded[one] >= _LEAST_VALUES
    ]  # fmt: skip
    insets = _placed(wanted, evidence, resample, frame, zones) if wanted else ()
    while insets:
        marks = _with_insets(insets, evidence, resample, frame, zones, detailed)
        hidden = _crossed(marks, insets, frame)
        if not hidden and marks.labelled > plain.labelled - _only_far(plain, insets):
            return marks, insets
        insets = _again([one for one in insets if one.letter not in hidden] if hidden else ())
    return plain, ()


def _only_far(plain: Marks, insets: Sequence[Inset]) -> int:
    """Count values that the plan prints too, but far off on leaders: an inset is worth that."""
    return 1 if any(one.room.id in plain.crowded for one in insets) else 0


def _again(insets: Sequence[Inset]) -> tuple[Inset, ...]:
    return tuple(replace(one, letter=chr(ord("A") + n)) for n, one in enumerate(insets))


def _with_insets(
    insets: Sequence[Inset], evidence: FloorEvidence, resample: ResampleList, frame: Frame,
    zones: Zones, detailed: Collection[str],
) -> Marks:  # fmt: skip
    found = marks_on_plan(
        evidence, resample, frame, zones, taken=[_box_pt(one, frame) for one in insets],
        lettered={one.room.id: one.letter for one in insets}, detailed=detailed,
    )  # fmt: skip
    more = sum(one.marks.labelled for one in insets)
    return replace(found, labelled=min(found.labelled + more, found.drawn))


def _box_pt(inset: Inset, frame: Frame) -> Box:
    left, bottom, right, top = inset.box_mm
    west, south = frame.left_mm + 1.0, frame.bottom_mm + 1.0
    return ((left - west) * PT_PER_MM, (bottom - south) * PT_PER_MM,
            (right - west + 2.0) * PT_PER_MM, (top - south + 2.0) * PT_PER_MM)  # fmt: skip


def _crossed(marks: Marks, insets: Iterable[Inset], frame: Frame) -> set[str]:
    """Return letters of insets over which a leader runs."""
    lines = []
    for one in marks.drawing:
        if isinstance(one, Stroke):
            x, y = frame.to_page(one.x, one.y)
            ends = np.array([one.start_pt, one.end_pt]) / PT_PER_MM + (x, y)
            lines.append(shapely.LineString(ends))
    tree = shapely.STRtree(lines)
    return {
        one.letter for one in insets
        if len(tree.query(shapely.box(*one.box_mm), predicate="intersects"))
    }  # fmt: skip


def _placed(
    wanted: Sequence[Room], evidence: FloorEvidence, resample: ResampleList, frame: Frame,
    zones: Zones,
) -> tuple[Inset, ...]:  # fmt: skip
    """Find a place and a scale for as many insets as there is free paper."""
    taken = _taken(evidence, frame)
    found: list[Inset] = []
    for room in wanted[:_TRIES]:
        if len(found) == MOST_INSETS:
            break
        inset = _inset(room, chr(ord("A") + len(found)), evidence, resample, frame, zones, taken)
        if inset is not None:
            found.append(inset)
            _mark(taken, inset.box_mm, frame, _APART_MM)
    return tuple(found)


def _taken(evidence: FloorEvidence, frame: Frame) -> NDArray[np.bool_]:
    """Return which cells of the frame's paper the building and the readings need, row 0 below."""
    shape = int(frame.height_mm / _GRID_MM), int(frame.width_mm / _GRID_MM)
    taken = np.zeros(shape, dtype=bool)
    floor = evidence.floor
    shapes = [on_paper(one, frame) for one in (*floor.walls, *(r.polygon for r in floor.rooms))]
    reach = _ROUND_BUILDING_MM * PT_PER_MM
    x = (np.arange(shape[1]) + 0.5) * _GRID_MM * PT_PER_MM
    y = (np.arange(shape[0]) + 0.5) * _GRID_MM * PT_PER_MM
    points = shapely.points(*(one.ravel() for one in np.meshgrid(x, y)))
    near = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=reach)[0]
    taken.ravel()[near] = True
    for item in evidence.items:
        if item.reading.x is not None and item.reading.y is not None:
            at = frame.to_page(item.reading.x, item.reading.y)
            _mark(taken, (*at, *at), frame, _ROUND_BUILDING_MM)
    return taken


def _mark(taken: NDArray[np.bool_], box: Box, frame: Frame, reach: float) -> None:
    """Mark a box of the page (mm), and ``reach`` round it, as taken."""
    west, south = frame.left_mm, frame.bottom_mm
    low = [max(0, int((edge - start - reach) / _GRID_MM))
           for edge, start in zip(box[:2], (west, south), strict=True)]  # fmt: skip
    high = [max(0, int((edge - start + reach) / _GRID_MM) + 1)
            for edge, start in zip(box[2:], (west, south), strict=True)]  # fmt: skip
    taken[low[1] : high[1], low[0] : high[0]] = True


def _inset(
    room: Room, letter: str, evidence: FloorEvidence, resample: ResampleList, frame: Frame,
    zones: Zones, taken: NDArray[np.bool_],
) -> Inset | None:  # fmt: skip
    """Return the smallest inset of a room that prints all of its values; None where none can."""
    west, south, east, north = room.polygon.bounds
    own = _own(room, evidence)
    there = ResampleList(tuple(one for one in resample.places if one.room == room.id))
    map_scale = 1000.0 / frame.mm_per_m
    scale = denominator(map_scale / _MOST_LARGER, 0.0, 1000.0, 1.0)
    scales: list[float] = []
    while scale * LARGER <= map_scale and len(scales) < 40:
        scales.append(scale)
        scale = coarser(scale)
    for scale in scales[::-_EVERY][:_SCALES]:
        mm_per_m = 1000.0 / scale
        least = max((east - west) * mm_per_m + 2.0 * _ROUND_MM, _LEAST_WIDTH_MM)
        high = (north - south) * mm_per_m + 2.0 * _ROUND_MM
        if least * high > _MOST_SHARE * frame.width_mm * frame.height_mm:
            return None
        if least * high < _VALUE_MM2 * len(own.items):
            continue  # there is no need to try
        wide = max(least, min(head_width_mm(room), _MOST_NAME_MM))
        corner = _free_corner(taken, wide, high + HEAD_MM, room, frame)
        if corner is None:
            wide = least
            corner = _free_corner(taken, wide, high + HEAD_MM, room, frame)
        if corner is None:
            return None
        inner = Frame(
            (), frame.left_mm + corner[0], frame.bottom_mm + corner[1], wide, high,
            (west + east - wide / mm_per_m) / 2.0, (south + north - high / mm_per_m) / 2.0,
            mm_per_m,
        )  # fmt: skip
        marks = marks_on_plan(own, there, inner, _own_zones(zones, room), names=False)
        if marks.labelled == marks.drawn:
            return Inset(room, letter, inner, marks)
    return None


def head_width_mm(room: Room) -> float:
    """Return how wide an inset's head is with the whole name of its room (mm)."""
    name = width_mm(printable(room.name or room.id), HEAD_PT, bold=True)
    return LETTER_MM + name + width_mm("1 : 1250", HEAD_PT) + 4.0


def _own(room: Room, evidence: FloorEvidence) -> FloorEvidence:
    """Return the readings of one room, on a floor that has it alone."""
    items = tuple(one for one in evidence.items if one.reading.room == room.id)
    return replace(evidence, floor=alone(evidence.floor, room), items=items)


def alone(floor: Floor, room: Room) -> Floor:
    """Return the floor with one room, and the walls and openings that are its own."""
    near = room.polygon.buffer(0.35)
    walls = tuple(
        part for wall in floor.walls for part in shapely.get_parts(wall.intersection(near))
        if part.geom_type == "LineString" and part.length > 0.0
    )  # fmt: skip
    openings = tuple(one for one in floor.openings if near.covers(one.line))
    return replace(floor, rooms=(room,), walls=walls, openings=openings)


def _own_zones(zones: Zones, room: Room) -> Zones:
    """Return the zones of one room, and the contours in it."""
    contours = tuple(
        part for line in zones.contours
        for part in shapely.get_parts(line.intersection(room.polygon))
        if part.geom_type == "LineString" and not part.is_empty
    )  # fmt: skip
    own = tuple(one for one in zones.zones if one.room == room.id)
    return replace(zones, zones=own, contours=contours)


def zones_of(zones: Zones, inset: Inset) -> Zones:
    """Return what an inset shows of the zones."""
    return _own_zones(zones, inset.room)


def _free_corner(
    taken: NDArray[np.bool_], wide: float, high: float, room: Room, frame: Frame
) -> tuple[float, float] | None:
    """Return the lower left corner (mm in the frame) of the free place nearest a room."""
    rows, columns = int(np.ceil(high / _GRID_MM)) + 1, int(np.ceil(wide / _GRID_MM)) + 1
    if rows > taken.shape[0] or columns > taken.shape[1]:
        return None
    free = ndimage.maximum_filter(taken, (rows, columns), origin=(-(rows // 2), -(columns // 2)))
    low, left = np.nonzero(~free[: taken.shape[0] - rows + 1, : taken.shape[1] - columns + 1])
    if not len(low):
        return None
    x, y = frame.to_page(room.polygon.centroid.x, room.polygon.centroid.y)
    far = np.hypot(frame.left_mm + left + columns / 2.0 - x, frame.bottom_mm + low + rows / 2.0 - y)
    best = int(np.argmin(far))
    return float(left[best]) * _GRID_MM + 0.5, float(low[best]) * _GRID_MM + 0.5
