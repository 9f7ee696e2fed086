"""How much of the plane lies near a regular grid of points, in closed form."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError

Floats = NDArray[np.float64]
GridShape = Literal["square", "triangular", "rectangle"]

GRID_SHAPES: Final[dict[GridShape, tuple[tuple[float, float], tuple[float, float]]]] = {
    "square": ((1.0, 0.0), (0.0, 1.0)),
    "triangular": ((1.0, 0.0), (0.5, 3**0.5 / 2)),
    "rectangle": ((1.0, 0.0), (0.0, 2.0)),
}
"""The two steps of each grid, in spacings; that of a rectangle 1:2 is its short side."""


def steps_of(shape: GridShape) -> Floats:
    """Return the two steps of a grid of spacing 1, one a row, shape (2, 2).

    Raises
    ------
    EstimateError
        If the shape is unknown.
    """
    if shape not in GRID_SHAPES:
        raise EstimateError(
            f"no grid is called {shape!r}", todo=f"use one of {', '.join(GRID_SHAPES)}"
        )
    return np.array(GRID_SHAPES[shape])


def covered_share(steps: Floats, radius: float) -> float:
    """Return the share of the plane within ``radius`` of a point of the grid.

    It is the area that the circle round one point shares with the cell of places nearest to that
    point, over the area of the cell. The cell is bounded by the bisectors of the three shortest
    steps of a reduced basis and of their opposites (Conway and Sloane 1992, Low-dimensional
    lattices VI, "value from memory"); the area in a circle is summed edge by edge.

    Parameters
    ----------
    steps : array of shape (2, 2)
        The two steps of the grid, one a row.
    radius : float
        In the unit of the steps.
    """
    near = _bounding_steps(steps)
    distance = np.hypot(*near.T) / 2
    towards = np.arctan2(near[:, 1], near[:, 0])
    order = np.argsort(towards)
    near, distance, towards = near[order], distance[order], towards[order]
    after = np.roll(near, -1, axis=0)
    # the corner between two bisectors p.v = |v|²/2
    corner = np.linalg.solve(
        np.stack([near, after], axis=1), np.stack([_half_square(near), _half_square(after)], axis=1)
        [:, :, None],
    )[:, :, 0]  # fmt: skip
    end = np.arctan2(corner[:, 1], corner[:, 0])
    area = _swept(_turn(end - towards), distance, radius) - _swept(
        _turn(np.roll(end, 1) - towards), distance, radius
    )
    return float(np.clip(area.sum() / abs(np.linalg.det(steps)), 0.0, 1.0))


def covering_radius(steps: Floats) -> float:
    """Return the greatest distance of any place from the grid, in the unit of the steps.

    It is the radius of the circle through three neighbouring points, ``abc / (4 area)``.
    """
    sides = np.hypot(*_bounding_steps(steps)[:3].T)
    return float(sides.prod() / (2 * abs(np.linalg.det(steps))))


def _bounding_steps(steps: Floats) -> Floats:
    """Return six steps whose bisectors bound the cell, three and their opposites.

    Lagrange's reduction; of the three, which add up to 0, no two make an acute angle.
    """
    a, b = steps[0].copy(), steps[1].copy()
    while True:
        if a @ a > b @ b:
            a, b = b, a
        turns = np.rint((a @ b) / (a @ a))
        if turns == 0:
            break
        b = b - turns * a
    if a @ b > 0:
        b = -b
    three = np.array([a, b, -a - b])
    return np.vstack([three, -three])


def _half_square(steps: Floats) -> Floats:
    return np.asarray((steps**2).sum(axis=1) / 2)


def _turn(angle: Floats) -> Floats:
    """Bring angles into -π to π."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def _swept(angle: Floats, distance: Floats, radius: float) -> Floats:
    """Return the area swept from the foot of a line to ``angle``, inside line and circle."""
    meets = np.arccos(np.clip(distance / max(radius, 1e-300), 0.0, 1.0))
    flat = np.minimum(np.abs(angle), meets)
    area = distance**2 * np.tan(flat) / 2 + radius**2 * (np.abs(angle) - flat) / 2
    return np.asarray(np.sign(angle) * area)
