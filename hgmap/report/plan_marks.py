"""Readings, numbered places and room names on the plan, with their texts kept apart."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Evidence, FloorEvidence, ResampleList
from hgmap.report.drawing import PT_PER_MM, Dot, Drawing, Frame, Item, Label, Pen, Stroke
from hgmap.report.labels import Box, Paper, Spot, Wanted
from hgmap.report.marks import (
    MOST_NUMBERED,
    badge,
    badge_side_pt,
    half_width_pt,
    kind_of,
    mark,
    unnumbered,
)
from hgmap.report.palette import INK, PAPER
from hgmap.report.room_names import room_names
from hgmap.report.typeset import printable, width_pt
from hgmap.report.words import evidence_text

MANY: Final = 120
"""Places with readings above which only the telling ones are labelled in full."""

VALUE_PT: Final = 6.5
_LEADER: Final = Pen(INK, 0.5)
_SAME_PLACE_PT: Final = 1.0
_BESIDE_PT: Final = 7.0
_CROWD_PT: Final = 30.0
_USED: Final = ("used", "non-detect")


@dataclass(frozen=True, slots=True)
class Marks:
    """What was drawn, and what could not be.

    Attributes
    ----------
    kinds : dict
        Number of readings drawn, by the kind of mark.
    above : int
        Readings above the level among them.
    drawn, labelled : int
        Readings with a mark; those whose value is printed beside it.
    off_plan : int
        Readings with no place, or one outside the sheet.
    unnamed : tuple of str
        Rooms too small on paper for their names.
    """

    drawing: Drawing
    kinds: dict[str, int]
    above: int
    drawn: int
    labelled: int
    off_plan: int
    unnamed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Place:
    """Readings of one kind at one place of the paper (pt)."""

    x: float
    y: float
    kind: str
    items: tuple[Evidence, ...]

    @property
    def above(self) -> bool:
        return any(item.above for item in self.items)


def marks_on_plan(evidence: FloorEvidence, resample: ResampleList, frame: Frame) -> Marks:
    """Draw readings, numbered places and room names for a frame that is still empty.

    Marks come first and never move; then the numbers, the room names and the values look for
    free paper, values above the level before the others.
    """
    scale = frame.mm_per_m * PT_PER_MM
    places = _places(evidence, frame, scale)
    dense = len(places) > MANY
    shrink = 0.75 if dense else 1.0
    paper = Paper((1.0, 1.0, frame.width_mm * PT_PER_MM - 1.0, frame.height_mm * PT_PER_MM - 1.0))
    own = [_mark_box(place, shrink) for place in places]
    paper.take(np.array(own))
    paper.take(np.array([_opening_box(one.line, frame, scale) for one in evidence.floor.openings]))
    rooms = [
        affinity.affine_transform(
            room.polygon, (scale, 0, 0, scale, -frame.west_m * scale, -frame.south_m * scale)
        )
        for room in evidence.floor.rooms
    ]
    drawn = [
        mark(
            place.kind,
            frame.west_m + place.x / scale,
            frame.south_m + place.y / scale,
            above=place.above,
            shrink=shrink,
        )
        for place in sorted(places, key=lambda place: (place.above, place.kind))
    ]
    # layer by layer, so that no rim covers a neighbour's mark
    dots = [one[layer - 4] for layer in range(4) for one in drawn if layer >= 4 - len(one)]
    leaders: list[Item] = []
    badges = _badges(resample, frame, scale, paper, leaders)
    names, unnamed = room_names(evidence, rooms, frame, scale, paper)
    values, labelled = _values(
        places, own, rooms, evidence, frame, paper, leaders, dense=dense, shrink=shrink
    )
    items = [item for place in places for item in place.items]
    return Marks(
        drawing=(*names, *leaders, *dots, *values, *badges),
        kinds=dict(Counter(kind_of(item) for item in items)),
        above=sum(item.above for item in items),
        drawn=len(items),
        labelled=labelled,
        off_plan=len(evidence.items) - len(items),
        unnamed=unnamed,
    )


def _places(evidence: FloorEvidence, frame: Frame, scale: float) -> list[_Place]:
    """Gather readings of one kind whose marks would lie on each other."""
    gathered: dict[tuple[str, int, int], list[Evidence]] = {}
    for item in evidence.items:
        reading = item.reading
        if reading.x is None or reading.y is None:
            continue
        x, y = (reading.x - frame.west_m) * scale, (reading.y - frame.south_m) * scale
        if 0 <= x <= frame.width_mm * PT_PER_MM and 0 <= y <= frame.height_mm * PT_PER_MM:
            key = (kind_of(item), round(x / _SAME_PLACE_PT), round(y / _SAME_PLACE_PT))
            gathered.setdefault(key, []).append(item)
    places = []
    for (kind, _, _), items in gathered.items():
        first = items[0].reading
        assert first.x is not None
        assert first.y is not None
        x, y = (first.x - frame.west_m) * scale, (first.y - frame.south_m) * scale
        places.append(_Place(x, y, kind, tuple(items)))
    return _side_by_side(places)


def _side_by_side(places: list[_Place]) -> list[_Place]:
    """Move marks of set-aside readings off those they would hide; used ones never move."""
    settled = [place for place in places if place.kind in _USED]
    for place in places:
        if place.kind in _USED:
            continue
        x, y = place.x, place.y
        for right, up in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1)):
            x, y = place.x + right * _BESIDE_PT, place.y + up * _BESIDE_PT
            if all(math.hypot(x - one.x, y - one.y) > 0.8 * _BESIDE_PT for one in settled):
                break
        else:
            x, y = place.x, place.y
        settled.append(_Place(x, y, place.kind, place.items))
    return settled


def _mark_box(place: _Place, shrink: float) -> Box:
    half = half_width_pt(place.kind, above=place.above, shrink=shrink)
    return place.x - half, place.y - half, place.x + half, place.y + half


def _opening_box(line: BaseGeometry, frame: Frame, scale: float) -> Box:
    west, south, east, north = line.bounds
    return (
        (west - frame.west_m) * scale - 2.0,
        (south - frame.south_m) * scale - 2.0,
        (east - frame.west_m) * scale + 2.0,
        (north - frame.south_m) * scale + 2.0,
    )


def _badges(
    resample: ResampleList, frame: Frame, scale: float, paper: Paper, leaders: list[Item]
) -> list[Item]:
    items: list[Item] = []
    for place in resample.places:
        if place.rank > MOST_NUMBERED:
            items.append(unnumbered(place.x, place.y))
            continue
        x, y = (place.x - frame.west_m) * scale, (place.y - frame.south_m) * scale
        side = badge_side_pt(place.rank) + 0.8
        spot = paper.place(Wanted(x, y, side, side, 4.0, on_mark=True)) or paper.place(
            Wanted(x, y, side, side, 4.0, longest=95.0, over=True)
        )
        offset = (0.0, 0.0)
        if spot is None:  # a full corner: a number over a mark is better than no number
            paper.take(np.array([x - side / 2, y - side / 2, x + side / 2, y + side / 2]))
        else:
            offset = (spot.centre[0] - x, spot.centre[1] - y)
        if max(abs(offset[0]), abs(offset[1])) > 0.1:
            leaders.append(Stroke(place.x, place.y, (0.0, 0.0), offset, _LEADER))
            leaders.append(Dot(place.x, place.y, 5.0, "plus", None, Pen(INK, 0.9)))
        items.extend(badge(place.rank, place.x, place.y, offset))
    return items


def _values(
    places: Sequence[_Place],
    own: Sequence[Box],
    rooms: Sequence[BaseGeometry],
    evidence: FloorEvidence,
    frame: Frame,
    paper: Paper,
    leaders: list[Item],
    *,
    dense: bool,
    shrink: float,
) -> tuple[list[Item], int]:
    """Print values beside their marks; return the texts and how many readings they speak for."""
    scale = frame.mm_per_m * PT_PER_MM
    tree = shapely.STRtree(list(rooms))
    homes: dict[int, int] = {}
    if places:
        points = shapely.points([(place.x, place.y) for place in places])
        for position, room in tree.query(points, predicate="intersects").T:
            homes.setdefault(int(position), int(room))
    at = np.array([(place.x, place.y) for place in places]).reshape(-1, 2)
    crowd = [int((np.hypot(*(at - one).T) < _CROWD_PT).sum()) for one in at]
    # the most hemmed in choose first
    order = sorted(
        range(len(places)), key=lambda index: (not places[index].above, -crowd[index], index)
    )
    size = VALUE_PT - 1.0 if dense else VALUE_PT
    items: list[Item] = []
    labelled = 0
    for index in order:
        place = places[index]
        text = printable(evidence_text(place.items, evidence.level))
        telling = place.above or not dense
        wanted = Wanted(
            place.x,
            place.y,
            width_pt(text, size, bold=place.above) + 1.0,
            0.95 * size,
            half_width_pt(place.kind, above=place.above, shrink=shrink) + 1.0,
            home=rooms[homes[index]] if index in homes else None,
            far=telling,
            margin=0.6 if telling else 4.0,
            longest=36.0 if dense else 70.0,
        )
        spot = paper.place(wanted, own[index])
        if spot is None and not dense:
            spot = paper.place(replace(wanted, over=True), own[index])
        if spot is None:
            continue
        labelled += len(place.items)
        x, y = frame.west_m + place.x / scale, frame.south_m + place.y / scale
        leaders.extend(_leader(spot, place, x, y))
        items.append(
            Label(
                x,
                y,
                text,
                size,
                INK,
                bold=place.above,
                across="centre",
                up="middle",
                halo=PAPER,
                offset_pt=(spot.centre[0] - place.x, spot.centre[1] - place.y),
            )
        )
    return items, labelled


def _leader(spot: Spot, place: _Place, x: float, y: float) -> Drawing:
    if spot.leader is None:
        return ()
    end = (spot.leader[1][0] - place.x, spot.leader[1][1] - place.y)
    return (
        Stroke(x, y, (0.0, 0.0), end, Pen(PAPER, 1.6)),
        Stroke(x, y, (0.0, 0.0), end, _LEADER),
    )
