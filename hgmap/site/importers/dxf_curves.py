"""Curves of a drawing: cubic Bézier curves as an array, or a path as ezdxf has it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ezdxf.math import Matrix44
    from ezdxf.path import Path as Curve

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cubics:
    """Cubic curves end to end.

    Attributes
    ----------
    points : array of shape (3 n + 1, 3)
        The end of each curve, and two control points before it (units).
    """

    points: Points

    def __len__(self) -> int:
        """Return how many curves there are."""
        return (len(self.points) - 1) // 3

    def as_path(self) -> Curve:
        """Return them as ezdxf has them."""
        from ezdxf.path import Path as Curve

        start, *rest = self.points.tolist()
        path = Curve(start)
        for first, second, end in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
            path.curve4_to(end, first, second)
        return path


Loop = Points | Cubics | Any
"""Places, cubic curves, or an ``ezdxf.path.Path``."""


def corners(loop: Loop) -> Points:
    """Return the places of a loop, of a curve its control points, shape (n, 3)."""
    if isinstance(loop, np.ndarray):
        return loop
    if isinstance(loop, Cubics):
        return loop.points
    return np.array([point.xyz for point in loop.control_vertices()], np.float64).reshape(-1, 3)


def flat(loop: Loop, chord: float) -> Points:
    """Return a loop as places that stay within ``chord`` (units) of the curve, shape (n, 3)."""
    if isinstance(loop, np.ndarray):
        return loop
    path = loop.as_path() if isinstance(loop, Cubics) else loop
    return np.array([point.xyz for point in path.flattening(chord, segments=4)])


def moved(loop: Loop, matrix: Matrix44, rows: Points) -> Loop:
    """Return a loop where a block is inserted; ``rows`` is ``matrix`` as an array."""
    if isinstance(loop, np.ndarray):
        return loop @ rows[:3, :3] + rows[3, :3]
    if isinstance(loop, Cubics):
        return Cubics(loop.points @ rows[:3, :3] + rows[3, :3])
    return loop.transform(matrix)


def cubic_runs(loop: Loop) -> list[Points]:
    """Return the curves of a loop between its straight pieces, each as points of :class:`Cubics`.

    A curve of the second degree is one of the third (its control points two thirds of the way).
    """
    if isinstance(loop, np.ndarray):
        return []
    if isinstance(loop, Cubics):
        return [loop.points]
    from ezdxf.path import Command

    runs: list[list[Any]] = []
    before, new = loop.start, True
    for part in loop.commands():
        end = part.end
        if part.type == Command.CURVE4_TO:
            between = [part.ctrl1, part.ctrl2]
        elif part.type == Command.CURVE3_TO:
            between = [before + (part.ctrl - before) * (2 / 3), end + (part.ctrl - end) * (2 / 3)]
        else:
            before, new = end, True
            continue
        if new:
            runs.append([before])
        runs[-1] += [*between, end]
        before, new = end, False
    return [np.array([point.xyz for point in run]) for run in runs]
