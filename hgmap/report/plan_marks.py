"""Readings, numbered places and room names on the plan, with their texts kept apart."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

import numpy as np
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Evidence, FloorEvidence, ResampleList, Zones
from hgmap.report.drawing import PT_PER_MM, Dot, Drawing, Frame, Item, Pen, Stroke
from hgmap.report.ground import Ground
from hgmap.report.labels import Paper
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
from hgmap.report.plan_values import LEADER, Place, Values
from hgmap.report.room_letters import room_letters
from hgmap.report.room_names import names_in_rooms, names_outside
from hgmap.report.wanted import Box, Wanted
from hgmap.site.building import Floor

MANY: Final = 120
"""Places with readings above which only the telling ones are labelled in full."""

FEW_ABOVE: Final = 60
"""Places above the level up to which each gets its value, wherever there is paper."""

_SAME_PLACE_PT: Final = 1.0
_BESIDE_PT: Final = 7.0
_PLUS_PT: Final = 6.0
_USED: Final = ("used", "non-detect")
NO_LETTERS: Final[Mapping[str, str]] = MappingProxyType({})


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
    crowded : dict
        Ids of rooms with readings whose values are not printed, or stand outside the room on a
        leader, and how many those are.
    """

    drawing: Drawing
    kinds: dict[str, int]
    above: int
    drawn: int
    labelled: int
    off_plan: int
    unnamed: tuple[str, ...]
    crowded: dict[str, int] = field(default_factory=dict)


def marks_on_plan(
    evidence: FloorEvidence,
    resample: ResampleList,
    frame: Frame,
    zones: Zones,
    *,
    near: bool = False,
    taken: Sequence[Box] = (),
    lettered: Mapping[str, str] = NO_LETTERS,
    detailed: Collection[str] = (),
    names: bool = True,
) -> Marks:
    """Draw readings, numbered places and room names for a frame that is still empty.

    Marks come first and never move; then the numbers, the room names and the values look for
    free paper. On a crowded plan the values above the level choose before everything else.
    ``near`` leaves out values that find none near their marks, but for a room's highest above the
    level. ``taken`` are boxes (pt from the frame's corner) of texts that stand there already.
    ``lettered`` are rooms (ids) that an inset shows: each has its letter, its values stand there.
    ``detailed`` are rooms (ids) with a sheet of their own: values that would lie far off are left
    to it, but for the room's highest above the level.
    ``names`` False leaves the names of rooms out.
    """
    scale = frame.mm_per_m * PT_PER_MM
    floor = evidence.floor
    on_map = [item for item in evidence.items if item.role != "off the map"]
    places = _places(on_map, frame, scale)
    dense = len(places) > MANY
    shrink = 0.75 if dense else 1.0
    rooms = [_on_paper(room.polygon, frame, scale) for room in floor.rooms]
    ground = Ground(
        rooms,
        [_on_paper(wall, frame, scale) for wall in floor.walls],
        [_on_paper(line, frame, scale) for line in zones.contours if not line.is_empty],
    )
    edge = (1.0, 1.0, frame.width_mm * PT_PER_MM - 1.0, frame.height_mm * PT_PER_MM - 1.0)
    paper = Paper(edge, ground)
    own = [_mark_box(place, shrink) for place in places]
    paper.take(np.array(own))
    paper.take(np.array(taken), text=True)
    paper.take(np.array([_opening_box(one.line, frame, scale) for one in floor.openings]))
    leaders: list[Item] = []
    few = sum(place.above for place in places) <= FEW_ABOVE
    setter = Values(places, own, rooms, evidence.level, frame, paper, dense, shrink, few,
                    near, lettered, detailed)  # fmt: skip
    first = dense and few
    values, labelled = setter.put(True, leaders) if first else ([], 0)
    letters = room_letters(lettered, floor, rooms, frame, paper, leaders)
    badges = _badges(resample, rooms, floor, frame, paper, own, leaders)
    called = [room.name or room.id for room in floor.rooms] if names else []
    named, unset = names_in_rooms(called, rooms[: len(called)], frame, paper)
    if not first:
        values, labelled = setter.put(True, leaders)
    hot = {item.reading.room for item in on_map if item.above}
    unset.sort(key=lambda index: floor.rooms[index].id not in hot)
    unset = [index for index in unset if floor.rooms[index].id not in lettered]
    ids = [room.id for room in floor.rooms]
    outside, lines, unnamed = names_outside(called, rooms, unset, frame, paper, ids)
    quiet, more = setter.put(False, leaders)
    dots = _dots(places, frame, scale, shrink)
    items = [item for place in places for item in place.items]
    return Marks(
        drawing=(*named, *lines, *leaders, *dots, *outside, *values, *quiet, *badges, *letters),
        kinds=dict(Counter(kind_of(item) for item in items)),
        above=sum(item.above for item in items),
        drawn=len(items),
        labelled=labelled + more,
        off_plan=len(on_map) - len(items),
        unnamed=unnamed,
        crowded=dict(Counter(item.reading.room for place in setter.missed for item in place.items)),
    )


def _on_paper(shape: BaseGeometry, frame: Frame, scale: float) -> BaseGeometry:
    """Take a shape from metres to points from the frame's corner."""
    return affinity.affine_transform(
        shape, (scale, 0, 0, scale, -frame.west_m * scale, -frame.south_m * scale)
    )


def _dots(places: Sequence[Place], frame: Frame, scale: float, shrink: float) -> list[Item]:
    """Draw the marks layer by layer, so that no rim covers a neighbour's mark."""
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
    return [one[layer - 4] for layer in range(4) for one in drawn if layer >= 4 - len(one)]


def _places(evidence: Sequence[Evidence], frame: Frame, scale: float) -> list[Place]:
    """Gather readings of one kind whose marks would lie on each other."""
    gathered: dict[tuple[str, int, int], list[Evidence]] = {}
    for item in evidence:
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
        places.append(Place(x, y, kind, tuple(items)))
    return _side_by_side(places)


def _side_by_side(places: list[Place]) -> list[Place]:
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
        settled.append(Place(x, y, place.kind, place.items))
    return settled


def _mark_box(place: Place, shrink: float) -> Box:
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
    resample: ResampleList,
    rooms: Sequence[BaseGeometry],
    floor: Floor,
    frame: Frame,
    paper: Paper,
    marks: Sequence[Box],
    leaders: list[Item],
) -> list[Item]:
    """Draw the numbers in their own rooms; else with a leader to a plus at the true place."""
    scale = frame.mm_per_m * PT_PER_MM
    home = {room.id: shape for room, shape in zip(floor.rooms, rooms, strict=True)}
    at = {
        place.rank: ((place.x - frame.west_m) * scale, (place.y - frame.south_m) * scale)
        for place in resample.places
    }
    items: list[Item] = []
    small = [place for place in resample.places if place.rank > MOST_NUMBERED]
    for place in small:
        x, y = at[place.rank]
        paper.take(np.array([x - 2.3, y - 2.3, x + 2.3, y + 2.3]))
        items.append(unnumbered(place.x, place.y))
    for place in resample.places:
        if place.rank > MOST_NUMBERED:
            continue
        x, y = at[place.rank]
        side = badge_side_pt(place.rank) + 0.8
        wanted = Wanted(
            x, y, side, side, 4.5, home.get(place.room), on_mark=True, longest=95.0, anywhere=True
        )
        spot = (
            paper.place(wanted)
            or paper.place(replace(wanted, over=True))
            or paper.place(replace(wanted, over=True, through=True))
        )
        offset = (0.0, 0.0)
        if spot is None:  # a full sheet: a number over a mark is better than no number
            box = np.array([x - side / 2, y - side / 2, x + side / 2, y + side / 2])
            paper.take(box, text=True)
        else:
            offset = (spot.centre[0] - x, spot.centre[1] - y)
        if max(abs(offset[0]), abs(offset[1])) > 0.1:
            leaders.append(Stroke(place.x, place.y, (0.0, 0.0), offset, Pen(PAPER, 1.6)))
            leaders.append(Stroke(place.x, place.y, (0.0, 0.0), offset, LEADER))
            size = _plus_pt(x, y, marks)
            leaders.append(Dot(place.x, place.y, size + 1.0, "plus", None, Pen(PAPER, 2.4)))
            leaders.append(Dot(place.x, place.y, size, "plus", None, Pen(INK, 1.1)))
        items.extend(badge(place.rank, place.x, place.y, offset))
    return items


def _plus_pt(x: float, y: float, marks: Sequence[Box]) -> float:
    """Return the size of a plus (pt): its arms reach out from under a mark at its place."""
    here = [
        right - left
        for left, bottom, right, top in marks
        if left <= x <= right and bottom <= y <= top
    ]
    return max([_PLUS_PT, *(side + 2.5 for side in here)])
