"""What texts would stand on: a value belongs into its own room, and no text on a wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

OTHER_ROOM: Final = 18.0
ON_WALL: Final = 12.0
ON_CONTOUR: Final = 2.5
OUTSIDE: Final = 1.0
"""Costs, beside those of :mod:`hgmap.report.labels`: a leader of 36 pt costs 8."""

_MARGIN_PT: Final = 0.5
_CLEAR_PT: Final = 1.2


@dataclass(frozen=True)
class Ground:
    """Rooms, walls and contours on the paper (pt).

    Attributes
    ----------
    rooms : sequence of Polygon
    walls, contours : sequence of LineString
        Rooms' outlines are walls too.
    """

    rooms: Sequence[BaseGeometry] = ()
    walls: Sequence[BaseGeometry] = ()
    contours: Sequence[BaseGeometry] = ()
    _rooms: shapely.STRtree = field(init=False, repr=False, compare=False)
    _walls: shapely.STRtree = field(init=False, repr=False, compare=False)
    _contours: shapely.STRtree = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        shapely.prepare(list(self.rooms))
        outlines = [room.boundary for room in self.rooms]
        object.__setattr__(self, "_rooms", shapely.STRtree(list(self.rooms)))
        object.__setattr__(self, "_walls", shapely.STRtree(_pieces([*outlines, *self.walls])))
        object.__setattr__(self, "_contours", shapely.STRtree(_pieces(self.contours)))

    def cost(self, boxes: NDArray[np.float64], home: BaseGeometry | None) -> NDArray[np.float64]:
        """Return what it costs to put a text into each box (n, 4), shape (n,).

        ``home`` is the room that the text belongs to, one of ``rooms``; None for no room.
        """
        cost = np.zeros(len(boxes))
        if not len(boxes):
            return cost
        grow = np.array([-_MARGIN_PT, -_MARGIN_PT, _MARGIN_PT, _MARGIN_PT])
        shapes = shapely.box(*(boxes + grow).T)
        box, room = self._rooms.query(shapes, predicate="intersects")
        inside = np.zeros(len(boxes), dtype=bool)
        inside[box] = True
        cost[~inside] += OUTSIDE
        own = np.array([one is home for one in self.rooms], dtype=bool)
        other = np.zeros(len(boxes), dtype=bool)
        other[box[~own[room]]] = True
        cost[other] += OTHER_ROOM
        cost[self._on(self._walls, shapes)] += ON_WALL
        cost[self._on(self._contours, shapes)] += ON_CONTOUR
        return cost

    def passed(self, lines: NDArray[np.float64], home: BaseGeometry | None) -> NDArray[np.int64]:
        """Count the rooms, but for ``home``, that each line (n, 2, 2) runs into, shape (n,)."""
        drawn = shapely.linestrings(lines)
        line, room = self._rooms.query(drawn)
        other = np.array([one is not home for one in self.rooms], dtype=bool)[room]
        line, room = line[other], room[other]
        meets = shapely.intersects(np.array(self.rooms, dtype=object)[room], drawn[line])
        return np.bincount(line[meets], minlength=len(lines)).astype(np.int64)

    def in_room(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which boxes (n, 4) reach into a room."""
        return self._on(self._rooms, shapely.box(*boxes.T))

    def on_line(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which boxes (n, 4) come close to a wall or a contour."""
        grow = np.array([-_CLEAR_PT, -_CLEAR_PT, _CLEAR_PT, _CLEAR_PT])
        shapes = shapely.box(*(boxes + grow).T)
        return self._on(self._walls, shapes) | self._on(self._contours, shapes)

    @staticmethod
    def _on(tree: shapely.STRtree, shapes: NDArray[np.object_]) -> NDArray[np.bool_]:
        hit = np.zeros(len(shapes), dtype=bool)
        hit[tree.query(shapes, predicate="intersects")[0]] = True
        return hit


def _pieces(lines: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Break lines into single segments: a tree of short ones answers at once."""
    pieces: list[BaseGeometry] = []
    for line in lines:
        for part in shapely.get_parts(line):
            ends = shapely.get_coordinates(part)
            if len(ends) >= 2:
                pieces.extend(shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1)))
    return pieces
