"""Put texts beside their places without covering each other.

Boxes are (left, bottom, right, top) in points on the paper. Texts are placed in the order given,
the first ones choose first; nothing is moved afterwards, so the result is repeatable.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Box = tuple[float, float, float, float]

_NEAR: Final = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
_REACHES_PT: Final = (7.0, 12.0, 18.0, 26.0, 36.0, 50.0, 70.0, 95.0)
_ANGLES: Final = 16
_OUT_OF_ROOM: Final = 2.5
_FAR: Final = 4.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """A text that wants a place.

    Attributes
    ----------
    x, y : float
        Its mark (pt).
    width, height : float
        Of the text (pt).
    gap : float
        Distance from the mark's centre to the nearest edge of the text (pt).
    home : Polygon, optional
        The room (pt); a place inside it is preferred.
    far : bool
        Whether a place further off, with a leader, will do.
    on_mark : bool
        Whether the text may stand on the mark itself.
    margin : float
        Free space kept around it (pt).
    longest : float
        Longest leader, roughly (pt).
    over : bool
        Whether the leader may run over marks and texts.
    """

    x: float
    y: float
    width: float
    height: float
    gap: float
    home: BaseGeometry | None = None
    far: bool = True
    on_mark: bool = False
    margin: float = 0.8
    longest: float = 36.0
    over: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a text goes: its box, and the end of its leader if it needs one (pt)."""

    box: Box
    leader: tuple[tuple[float, float], tuple[float, float]] | None = None

    @property
    def centre(self) -> tuple[float, float]:
        """Middle of the box."""
        left, bottom, right, top = self.box
        return (left + right) / 2.0, (bottom + top) / 2.0


@dataclass
class Paper:
    """What is taken on a piece of paper so far; it changes as texts are placed."""

    edge: Box
    boxes: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 4)))
    leaders: list[BaseGeometry] = field(default_factory=list)

    def take(self, boxes: NDArray[np.float64]) -> None:
        """Mark boxes (n, 4) as taken."""
        self.boxes = np.concatenate([self.boxes, np.reshape(boxes, (-1, 4))])

    def free(self, boxes: NDArray[np.float64], margin: float = 0.0) -> NDArray[np.bool_]:
        """Tell which boxes (n, 4) lie on the paper and touch nothing that is taken."""
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
        if self.leaders and held.any():
            shapes = shapely.box(*boxes.T)
            for leader in self.leaders:
                held &= ~shapely.intersects(shapes, leader)
        return held

    def place(self, wanted: Wanted, own: Box | None = None) -> Spot | None:
        """Find a free spot for a text and take it; None where there is none.

        ``own`` is the box of the text's own mark, which its leader may touch.
        """
        boxes, costs, near = _candidates(wanted)
        free = np.flatnonzero(self.free(boxes, wanted.margin))
        if not len(free):
            return None
        costs = costs[free]
        if wanted.home is not None:
            shapely.prepare(wanted.home)
            inside = shapely.contains(wanted.home, shapely.box(*boxes[free].T))
            costs = costs + np.where(inside, 0.0, _OUT_OF_ROOM)
        for position in np.argsort(costs, kind="stable"):
            index = free[position]
            left, bottom, right, top = (float(edge) for edge in boxes[index])
            box = (left, bottom, right, top)
            if near[index]:
                self.take(boxes[index])
                return Spot(box)
            end = (min(max(wanted.x, left), right), min(max(wanted.y, bottom), top))
            leader = shapely.LineString([(wanted.x, wanted.y), end])
            if not wanted.over and self._crosses(leader, own):
                continue
            self.take(boxes[index])
            self.leaders.append(leader)
            return Spot(box, ((wanted.x, wanted.y), end))
        return None

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

    def _crosses(self, leader: BaseGeometry, own: Box | None) -> bool:
        """Tell whether a leader runs over something that is taken, or another leader."""
        close = self._near(*leader.bounds)
        shapes = shapely.box(*self.boxes[close].T)
        if own is not None:
            shapes = shapes[~(self.boxes[close] == np.asarray(own)).all(axis=1)]
        return bool(shapely.intersects(shapes, leader).any()) or any(
            other.intersects(leader) for other in self.leaders
        )


def _candidates(
    wanted: Wanted,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Boxes (n, 4), their costs, and whether each is beside the mark (so needs no leader)."""
    half_width, half_height, gap = wanted.width / 2.0, wanted.height / 2.0, wanted.gap
    places: list[tuple[float, float, float, bool]] = []
    if wanted.on_mark:
        places.append((0.0, 0.0, -1.0, True))
    for cost, (right, up) in enumerate(_NEAR):
        slant = 0.75 if right and up else 1.0
        places.append(
            (right * (half_width + gap * slant), up * (half_height + gap * slant), 0.3 * cost, True)
        )
    if wanted.far:
        for ring, reach in enumerate(one for one in _REACHES_PT if one <= wanted.longest):
            for step in range(_ANGLES):
                angle = 2.0 * math.pi * (step + 0.5) / _ANGLES
                places.append(
                    (
                        math.cos(angle) * (half_width + gap + reach),
                        math.sin(angle) * (half_height + gap + reach),
                        _FAR + ring,
                        False,
                    )
                )
    table = np.array(places)
    x, y = wanted.x + table[:, 0], wanted.y + table[:, 1]
    boxes = np.column_stack([x - half_width, y - half_height, x + half_width, y + half_height])
    return boxes, table[:, 2], table[:, 3] > 0.0


def spots_in_room(
    room: BaseGeometry, width: float, height: float, paper: Paper, *, steps: int = 15
) -> Box | None:
    """Find the free box of a size (pt) in a room that lies nearest its upper middle."""
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
    if not len(boxes):
        return None
    middle = room.representative_point()
    target_x = (west + east) / 2.0 if room.contains(middle) else middle.x
    target_y = south + 0.72 * (north - south)
    centre_x, centre_y = (boxes[:, 0] + boxes[:, 2]) / 2.0, (boxes[:, 1] + boxes[:, 3]) / 2.0
    best = np.argmin(np.hypot(centre_x - target_x, centre_y - target_y))
    left, bottom, right, top = (float(edge) for edge in boxes[best])
    return left, bottom, right, top
