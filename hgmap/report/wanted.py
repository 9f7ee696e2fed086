"""A text that wants a place, and the places it may take, the better ones cheaper (pt)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""

_NEAR: Final = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
_REACHES_PT: Final = (7.0, 12.0, 18.0, 26.0, 36.0, 50.0, 70.0, 95.0)
_ANGLES: Final = 16
_FAR: Final = 4.0
_PT_PER_COST: Final = 12.0
FARTHEST_PT: Final = 260.0


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
        The room (pt), one of the ground's; a place inside it is preferred.
    far : bool
        Whether a place further off, with a leader, will do.
    on_mark : bool
        Whether the text may stand on the mark itself.
    beside : bool
        Whether it may stand beside the mark, with no leader.
    margin : float
        Free space kept around it (pt).
    longest : float
        Longest leader, roughly (pt).
    over, through : bool
        Whether the leader may run over marks; and over texts and other leaders too.
    anywhere : bool
        Whether any place on the paper will do, where the near ones are dear or taken.
    farthest : float
        How far off it may be then (pt).
    outside : bool
        Whether it has to stand where no room is.
    """

    x: float
    y: float
    width: float
    height: float
    gap: float
    home: BaseGeometry | None = None
    far: bool = True
    on_mark: bool = False
    beside: bool = True
    margin: float = 0.8
    longest: float = 36.0
    over: bool = False
    through: bool = False
    anywhere: bool = False
    farthest: float = FARTHEST_PT
    outside: bool = False


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


def candidates(
    wanted: Wanted,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Boxes (n, 4), their costs, and whether each is beside the mark (so needs no leader)."""
    half_width, half_height, gap = wanted.width / 2.0, wanted.height / 2.0, wanted.gap
    places: list[tuple[float, float, float, bool]] = []
    if wanted.on_mark:
        places.append((0.0, 0.0, -3.0, True))
    for cost, (right, up) in enumerate(_NEAR if wanted.beside else ()):
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


def all_over(
    wanted: Wanted, edge: Box
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Boxes (n, 4) all over the paper, cheaper the nearer they are; none is beside the mark."""
    half_width, half_height = wanted.width / 2.0, wanted.height / 2.0
    x = np.arange(edge[0] + half_width, edge[2] - half_width, max(half_width, 6.0))
    y = np.arange(edge[1] + half_height, edge[3] - half_height, max(wanted.height, 6.0))
    x, y = (grid.ravel() for grid in np.meshgrid(x, y))
    boxes = np.column_stack([x - half_width, y - half_height, x + half_width, y + half_height])
    gap = np.hypot(
        np.maximum(np.abs(x - wanted.x) - half_width, 0.0),
        np.maximum(np.abs(y - wanted.y) - half_height, 0.0),
    )
    held = (gap > wanted.gap) & (gap < wanted.farthest)
    return boxes[held], _FAR + gap[held] / _PT_PER_COST, np.zeros(int(held.sum()), dtype=bool)
