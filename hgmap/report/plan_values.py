"""Values beside their marks on the plan, those above the level first."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Evidence
from hgmap.report.drawing import PT_PER_MM, Drawing, Frame, Item, Label, Pen, Stroke
from hgmap.report.labels import Paper
from hgmap.report.marks import half_width_pt
from hgmap.report.palette import INK, PAPER
from hgmap.report.typeset import printable, width_pt
from hgmap.report.wanted import FARTHEST_PT, Box, Spot, Wanted
from hgmap.report.words import evidence_text
from hgmap.site.model import ActionLevel

VALUE_PT: Final = 6.5
LEADER: Final = Pen(INK, 0.5)

FEW: Final = 80
"""Places up to which a value may go anywhere on the paper; more leaders would hide the plan."""

_CROWD_PT: Final = 30.0

_THINNED_PT: Final = 3.0
"""Free paper round a value that is set only where there is some to spare."""

_FARTHEST_QUIET_PT: Final = 130.0
"""Of a value that is not above the level: further off it is left to the tables."""

_NEAR_PT: Final = 18.0
"""Of a leader on a screen: it points at its mark, and crosses nothing on its way."""


@dataclass(frozen=True, slots=True)
class Place:
    """Readings of one kind at one place of the paper (pt)."""

    x: float
    y: float
    kind: str
    items: tuple[Evidence, ...]

    @property
    def highest(self) -> float:
        """Highest concentration read here; a saturated reading comes before its own value."""
        found = [
            math.nextafter(value, math.inf) if item.reading.qualifier == ">" else value
            for item in self.items
            if (value := item.reading.concentration) is not None
        ]
        return max(found, default=0.0)

    @property
    def above(self) -> bool:
        """Whether one of them is above the level."""
        return any(item.above for item in self.items)


@dataclass(frozen=True, slots=True)
class Values:
    """What is needed to set values; ``own`` are the boxes of the marks (pt).

    ``dense`` sets only those above the level in full, and the others where paper is to spare;
    ``few`` of them may go anywhere on the paper. ``near`` leaves out what has no place near its
    mark, but never a room's highest above the level: on a screen one comes closer for the rest.
    So it is for rooms whose ids are ``detailed``: a sheet of their own has every value.
    Values of rooms whose ids are ``elsewhere`` are not set.
    """

    places: Sequence[Place]
    own: Sequence[Box]
    rooms: Sequence[BaseGeometry]
    level: ActionLevel
    frame: Frame
    paper: Paper
    dense: bool
    shrink: float
    few: bool
    near: bool = False
    elsewhere: Collection[str] = ()
    detailed: Collection[str] = ()
    missed: list[Place] = field(default_factory=list)
    """Places whose value found no room, or none in their own rooms; it grows."""

    def put(self, above: bool, leaders: list[Item]) -> tuple[list[Item], int]:
        """Set the values above the level, or the others.

        Returns the texts and how many readings they speak for; ``leaders`` grows.
        """
        homes = self._homes()
        highest = self._highest(homes) if self.near or self.detailed else frozenset()
        items: list[Item] = []
        labelled = 0
        for index in self._order(above):
            place = self.places[index]
            if all(item.reading.room in self.elsewhere for item in place.items):
                continue
            text = printable(evidence_text(place.items, self.level))
            anywhere = index in highest or not (self.near or self._detailed(place))
            spot = self._spot(place, text, self.own[index], homes.get(index), anywhere)
            if spot is None:
                self.missed.append(place)
                continue
            if spot.leader is not None and not _within(spot.box, homes.get(index)):
                self.missed.append(place)
            labelled += len(place.items)
            scale = self.frame.mm_per_m * PT_PER_MM
            x, y = self.frame.west_m + place.x / scale, self.frame.south_m + place.y / scale
            leaders.extend(_leader(spot, place, x, y))
            items.append(
                Label(
                    x,
                    y,
                    text,
                    self._size_pt,
                    INK,
                    bold=place.above,
                    across="centre",
                    up="middle",
                    halo=PAPER,
                    offset_pt=(spot.centre[0] - place.x, spot.centre[1] - place.y),
                )
            )
        return items, labelled

    @property
    def _size_pt(self) -> float:
        return VALUE_PT - 1.0 if self.dense else VALUE_PT

    def _spot(
        self, place: Place, text: str, own: Box, home: BaseGeometry | None, anywhere: bool
    ) -> Spot | None:
        telling = place.above or not self.dense
        near = not anywhere
        margin = 0.6 if telling else _THINNED_PT
        wanted = Wanted(
            place.x,
            place.y,
            width_pt(text, self._size_pt, bold=place.above) + 1.0,
            0.95 * self._size_pt,
            half_width_pt(place.kind, above=place.above, shrink=self.shrink) + margin + 0.4,
            home=home,
            far=telling,
            margin=margin,
            longest=_NEAR_PT if near else 36.0 if self.dense else 70.0,
            anywhere=not near and self.few and (place.above or len(self.places) <= FEW),
            farthest=FARTHEST_PT if place.above else _FARTHEST_QUIET_PT,
        )
        spot = self.paper.place(wanted, own)
        if spot is None and telling and not near:
            spot = self.paper.place(replace(wanted, over=True), own)
        if spot is None and place.above and self.few and not near:
            spot = self.paper.place(replace(wanted, over=True, through=True), own)
        return spot

    def _detailed(self, place: Place) -> bool:
        return any(item.reading.room in self.detailed for item in place.items)

    def _highest(self, homes: Mapping[int, BaseGeometry]) -> frozenset[int]:
        """Return the place of each room that reads highest above the level."""
        found: dict[int, int] = {}
        for index, place in enumerate(self.places):
            room = id(homes.get(index))
            if place.above and (
                room not in found or place.highest > self.places[found[room]].highest
            ):
                found[room] = index
        return frozenset(found.values())

    def _order(self, above: bool) -> list[int]:
        """Return positions of places, the most hemmed in first."""
        at = np.array([(place.x, place.y) for place in self.places]).reshape(-1, 2)
        chosen = [index for index, place in enumerate(self.places) if place.above == above]
        crowd = {one: int((np.hypot(*(at - at[one]).T) < _CROWD_PT).sum()) for one in chosen}
        return sorted(chosen, key=lambda index: (-crowd[index], index))

    def _homes(self) -> dict[int, BaseGeometry]:
        homes: dict[int, BaseGeometry] = {}
        if self.places:
            points = shapely.points([(place.x, place.y) for place in self.places])
            pairs = shapely.STRtree(list(self.rooms)).query(points, predicate="intersects")
            for position, room in pairs.T:
                homes.setdefault(int(position), self.rooms[room])
        return homes


def _within(box: Box, home: BaseGeometry | None) -> bool:
    return home is None or bool(home.covers(shapely.box(*box)))


def _leader(spot: Spot, place: Place, x: float, y: float) -> Drawing:
    if spot.leader is None:
        return ()
    end = (spot.leader[1][0] - place.x, spot.leader[1][1] - place.y)
    return (
        Stroke(x, y, (0.0, 0.0), end, Pen(PAPER, 1.6)),
        Stroke(x, y, (0.0, 0.0), end, LEADER),
    )
