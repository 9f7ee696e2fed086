"""Put texts beside their places without covering each other.

Boxes are (left, bottom, right, top) in points on the paper. Texts are placed in the order given,
the first ones choose first; nothing is moved afterwards, so the result is repeatable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.report.crossing import lines_over_boxes, lines_over_lines
from hgmap.report.ground import Ground
from hgmap.report.wanted import Box, Spot, Wanted, all_over, candidates

_DEAR: Final = 12.0
_AT_ONCE: Final = 160
_TRIED: Final = 24
_MOST_TRIED: Final = 480
"""Leaders looked at for one text: where so many are blocked, the next ones are too."""

_OVER_A_MARK: Final = 8.0
"""What each mark costs that a leader runs over: the value reads as that mark's."""

_THROUGH_A_ROOM: Final = 3.0
"""What each room costs that a leader runs through: there it is among the readings of others."""

_TOGETHER: Final = 3.0
_APART_PT: Final = 3.0


@dataclass
class Paper:
    """What is taken on a piece of paper so far; it changes as texts are placed."""

    edge: Box
    ground: Ground = field(default_factory=Ground)
    boxes: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 4)))
    texts: NDArray[np.bool_] = field(default_factory=lambda: np.empty(0, dtype=bool))
    leaders: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2, 2)))

    def take(self, boxes: NDArray[np.float64], *, text: bool = False) -> None:
        """Mark boxes (n, 4) as taken, by texts or by marks."""
        added = np.reshape(boxes, (-1, 4))
        self.boxes = np.concatenate([self.boxes, added])
        self.texts = np.concatenate([self.texts, np.full(len(added), text)])

    def free(self, boxes: NDArray[np.float64], margin: float = 0.0) -> NDArray[np.bool_]:
        """Tell which boxes (n, 4) lie on the paper and touch nothing that is taken."""
        if not len(boxes):
            return np.zeros(0, dtype=bool)
        left, bottom, right, top = boxes.T
        held: NDArray[np.bool_] = (
            (left >= self.edge[0])
            & (bottom >= self.edge[1])
            & (right <= self.edge[2])
            & (top <= self.edge[3])
        )
        close = self._near(left.min(), bottom.min(), right.max(), top.max(), margin)
        if close.any():
            taken = self.boxes[None, close, :]
            one = boxes[:, None, :]
            hits = (
                (one[..., 0] - margin < taken[..., 2])
                & (one[..., 2] + margin > taken[..., 0])
                & (one[..., 1] - margin < taken[..., 3])
                & (one[..., 3] + margin > taken[..., 1])
            )
            held &= ~hits.any(axis=1)
        if len(self.leaders) and held.any():
            held &= ~lines_over_boxes(self.leaders, boxes).any(axis=0)
        return held

    def place(self, wanted: Wanted, own: Box | None = None) -> Spot | None:
        """Find a free spot for a text and take it; None where there is none.

        ``own`` is the box of the text's own mark, which its leader may touch.
        """
        best = self._best(wanted, candidates(wanted), own)
        if wanted.anywhere and (best is None or best[0] > _DEAR):
            # side by side, two far texts would read as one
            apart = replace(wanted, over=True, margin=max(wanted.margin, _APART_PT))
            far = self._best(apart, all_over(wanted, self.edge), own)
            if far is not None and (best is None or far[0] < best[0]):
                best = far
        if best is None:
            return None
        spot = best[1]
        self.take(np.array(spot.box), text=True)
        if spot.leader is not None:
            self.leaders = np.concatenate([self.leaders, [spot.leader]])
        return spot

    def _best(
        self,
        wanted: Wanted,
        candidates: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]],
        own: Box | None,
    ) -> tuple[float, Spot] | None:
        """Return the cheapest free spot with its cost; the cheap ones are looked at first."""
        boxes, costs, near = candidates
        order = np.argsort(costs, kind="stable")
        lowest, found = math.inf, -1
        tried = 0
        for start in range(0, len(order), _AT_ONCE):
            part = order[start : start + _AT_ONCE]
            if costs[part[0]] >= lowest or tried >= _MOST_TRIED:
                break
            part = part[self.free(boxes[part], wanted.margin)]
            if wanted.outside and len(part):
                part = part[~self.ground.in_room(boxes[part])]
            if not len(part):
                continue
            total = costs[part] + self.ground.cost(boxes[part], wanted.home)
            led = np.flatnonzero(~near[part])
            lines = _leaders(wanted, boxes[part[led]])
            total[led] += _THROUGH_A_ROOM * self.ground.passed(lines, wanted.home)
            if wanted.over:
                total += _OVER_A_MARK * self._marks_under(wanted, boxes[part], own)
            ranked = np.argsort(total, kind="stable")
            ranked = ranked[total[ranked] < lowest]
            for first in range(0, len(ranked), _TRIED):
                some = ranked[first : first + _TRIED]
                tried += len(some)
                way = near[part[some]] | ~self._blocked(wanted, boxes[part[some]], own)
                if way.any():
                    cheapest = some[np.argmax(way)]
                    lowest, found = float(total[cheapest]), int(part[cheapest])
                    break
        if found < 0:
            return None
        left, bottom, right, top = (float(edge) for edge in boxes[found])
        if near[found]:
            return lowest, Spot((left, bottom, right, top))
        end = (min(max(wanted.x, left), right), min(max(wanted.y, bottom), top))
        return lowest, Spot((left, bottom, right, top), ((wanted.x, wanted.y), end))

    def _blocked(
        self, wanted: Wanted, boxes: NDArray[np.float64], own: Box | None
    ) -> NDArray[np.bool_]:
        """Tell which leaders, to boxes (n, 4), run over something taken or another leader."""
        lines = _leaders(wanted, boxes)
        low, high = lines.min(axis=(0, 1), initial=math.inf), lines.max(axis=(0, 1), initial=0.0)
        if wanted.through:
            return np.zeros(len(boxes), dtype=bool)
        close = self._near(low[0], low[1], high[0], high[1])
        if wanted.over:
            close &= self.texts
            # a text that already stands on the place cannot be kept clear of
            close &= ~self._near(wanted.x, wanted.y, wanted.x, wanted.y)
        if own is not None:
            close &= ~(self.boxes == np.asarray(own)).all(axis=1)
        over_boxes = lines_over_boxes(lines, self.boxes[close]).any(axis=1)
        # leaders of one place start together
        apart = np.hypot(*(self.leaders[:, 0] - (wanted.x, wanted.y)).T) > _TOGETHER
        over_lines = lines_over_lines(lines, self.leaders[apart]).any(axis=1)
        return np.asarray(over_boxes | over_lines)

    def _marks_under(
        self, wanted: Wanted, boxes: NDArray[np.float64], own: Box | None
    ) -> NDArray[np.int64]:
        """Count the marks that leaders to boxes (n, 4) run over, but for those on the place."""
        marks = ~self.texts & ~self._near(wanted.x, wanted.y, wanted.x, wanted.y)
        if own is not None:
            marks &= ~(self.boxes == np.asarray(own)).all(axis=1)
        under = lines_over_boxes(_leaders(wanted, boxes), self.boxes[marks])
        return np.asarray(under.sum(axis=1), dtype=np.int64)

    def _near(
        self, west: float, south: float, east: float, north: float, margin: float = 0.0
    ) -> NDArray[np.bool_]:
        """Tell which taken boxes meet a window."""
        left, bottom, right, top = self.boxes.T
        meets: NDArray[np.bool_] = (
            (left <= east + margin)
            & (right >= west - margin)
            & (bottom <= north + margin)
            & (top >= south - margin)
        )
        return meets


def _leaders(wanted: Wanted, boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the leaders (n, 2, 2) from a place to boxes (n, 4)."""
    lines = np.empty((len(boxes), 2, 2))
    lines[:, 0] = wanted.x, wanted.y
    lines[:, 1, 0] = np.clip(wanted.x, boxes[:, 0], boxes[:, 2])
    lines[:, 1, 1] = np.clip(wanted.y, boxes[:, 1], boxes[:, 3])
    return lines


def spots_in_room(
    room: BaseGeometry,
    width: float,
    height: float,
    paper: Paper,
    *,
    steps: int = 15,
    clear_of_lines: bool = False,
) -> Box | None:
    """Find the free box of a size (pt) in a room that lies nearest its upper middle.

    ``clear_of_lines`` keeps it off walls and contours.
    """
    west, south, east, north = room.bounds
    if east - west < width or north - south < height:
        return None
    x = np.linspace(west + width / 2.0, east - width / 2.0, steps)
    y = np.linspace(south + height / 2.0, north - height / 2.0, steps)
    x, y = (grid.ravel() for grid in np.meshgrid(x, y))
    boxes = np.column_stack([x - width / 2, y - height / 2, x + width / 2, y + height / 2])
    shapely.prepare(room)
    boxes = boxes[shapely.contains(room, shapely.box(*boxes.T))]
    boxes = boxes[paper.free(boxes, 0.8)] if len(boxes) else boxes
    if clear_of_lines and len(boxes):
        boxes = boxes[~paper.ground.on_line(boxes)]
    if not len(boxes):
        return None
    middle = room.representative_point()
    target_x = (west + east) / 2.0 if room.contains(middle) else middle.x
    target_y = south + 0.72 * (north - south)
    centre_x, centre_y = (boxes[:, 0] + boxes[:, 2]) / 2.0, (boxes[:, 1] + boxes[:, 3]) / 2.0
    best = np.argmin(np.hypot(centre_x - target_x, centre_y - target_y))
    left, bottom, right, top = (float(edge) for edge in boxes[best])
    return left, bottom, right, top
