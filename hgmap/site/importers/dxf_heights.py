"""Heights of a drawing: one storey is laid flat, several are refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_curves import corners
from hgmap.site.importers.dxf_entities import Shape

STOREY_M: Final = 1.8
"""Shapes whose lowest points are apart by more (m), with none between, are two storeys."""
FLAT_M: Final = 0.01
"""Heights that differ by less (m) are not worth a word."""
STRAYS: Final = 0.05
"""A share of the shapes so small, at a height of its own, is left out."""
_ALIKE: Final = 0.9
"""The share of an upper storey's shapes that lie over lower ones, where it is an upper edge."""
_FAR: Final = 20.0
"""Shapes farther off than so many times the rest,"""
_FAR_SHARE: Final = 0.02
"""and no more of them than this share, were not meant to be there."""


@dataclass(frozen=True, slots=True)
class OneStorey:
    """The shapes of the storey, the height of its floor (m), and what is to be said."""

    kept: NDArray[np.bool_]
    elevation_m: float | None
    notes: tuple[str, ...]


def one_storey(
    shapes: Sequence[Shape], boxes: NDArray[np.float64], *, metres: float, file: str
) -> OneStorey:
    """Find the storey, and refuse a drawing that has several.

    The upper edges of a drawing in three dimensions lie over its lower ones, and are dropped.

    Parameters
    ----------
    shapes : sequence of Shape
    boxes : ndarray, shape (n, 6)
        Of :func:`boxes_of`.
    metres : float
        Length of a unit.
    file : str
        Named in messages.

    Raises
    ------
    PlanError
        If shapes stand at several heights and do not lie over one another.
    """
    kept = np.ones(len(shapes), dtype=bool)
    spans = boxes[:, [2, 5]] * metres
    if not len(spans) or spans.max() - spans.min() <= FLAT_M:
        level = float(spans[0, 0]) if len(spans) else 0.0
        return OneStorey(kept, level if abs(level) > FLAT_M else None, ())
    order = np.argsort(spans[:, 0], kind="stable")
    starts = np.flatnonzero(np.diff(spans[order, 0]) > STOREY_M) + 1
    storeys = np.split(order, starts)
    main = max(storeys, key=len)
    notes: list[str] = []
    others: list[NDArray[np.intp]] = []
    ground = {_on_plan(shapes[number]) for number in main}
    for storey in storeys:
        if storey is main:
            continue
        over = sum(_on_plan(shapes[number]) in ground for number in storey)
        at = f"at a height of {spans[storey, 0].min():.2f} m"
        if over >= _ALIKE * len(storey):
            notes.append(f"{_count(len(storey))} {at} lie over others and were left out")
        elif len(storey) <= STRAYS * len(shapes):
            notes.append(f"{_count(len(storey))} {at}, off the others, were left out")
        else:
            others.append(storey)
            continue
        kept[storey] = False
    if others:
        heights = ", ".join(
            f"{spans[storey, 0].min():.2f} m ({_count(len(storey))})"
            for storey in sorted([main, *others], key=lambda one: spans[one, 0].min())
        )
        raise PlanError(
            f"has several storeys over one another: {heights}",
            where=file,
            todo="export one storey alone; a plan is flat",
        )
    low, high = float(spans[kept, 0].min()), float(spans[kept, 1].max())
    if high - low > FLAT_M:
        notes.append(f"heights from {low:.2f} to {high:.2f} m were laid flat")
    return OneStorey(kept, low if abs(low) > FLAT_M else None, tuple(notes))


def boxes_of(shapes: Sequence[Shape]) -> NDArray[np.float64]:
    """Return the least and the greatest x, y, z of each shape (of a curve's control points).

    Returns
    -------
    ndarray, shape (n, 6)
        In units: three least, three greatest.
    """
    if not shapes:
        return np.empty((0, 6))
    loops = [_points(shape) for shape in shapes]
    starts = np.concatenate([[0], np.cumsum([len(loop) for loop in loops])[:-1]])
    points = np.concatenate(loops)
    low, high = (way.reduceat(points, starts, axis=0) for way in (np.minimum, np.maximum))
    boxes: NDArray[np.float64] = np.hstack([low, high])
    return boxes


def far_off(boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far (units) shapes lie off that are few and far away; 0 for all others."""
    near = np.zeros(len(boxes))
    if len(boxes) < 1 / _FAR_SHARE:
        return near
    centres = (boxes[:, :2] + boxes[:, 3:5]) / 2
    away: NDArray[np.float64] = np.hypot(*(centres - np.median(centres, axis=0)).T)
    far = away > _FAR * np.quantile(away, 0.9)
    return np.where(far, away, 0.0) if 0 < far.mean() <= _FAR_SHARE else near


def _points(shape: Shape) -> NDArray[np.float64]:
    if len(shape.loops) == 1:
        return corners(shape.loops[0])
    return np.vstack([corners(loop) for loop in shape.loops])


def _on_plan(shape: Shape) -> tuple[tuple[float, float], ...]:
    corners = {(round(float(x), 3), round(float(y), 3)) for x, y, _ in _points(shape)}
    return tuple(sorted(corners))


def _count(n: int) -> str:
    return "1 shape" if n == 1 else f"{n} shapes"
