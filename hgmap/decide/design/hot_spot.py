"""The chance that a regular grid of points finds a hot spot, and the spacing for a chance.

A hot spot is a circle, or an ellipse that lies in any direction, anywhere with equal chance; the
grid finds it when one of its points lies in it, and a reading there never misses it (Gilbert 1987,
Statistical Methods for Environmental Pollution Monitoring, ch. 10). There are no walls here; on a
plan with walls see :mod:`hgmap.decide.design.on_plan`.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.optimize import brentq

from hgmap.decide.design.lattice import GridShape, covered_share, covering_radius, steps_of
from hgmap.errors import EstimateError

DIRECTIONS: Final = 180
"""Directions of an ellipse over half a turn (midpoint rule)."""


def detection_probability(
    grid: GridShape, *, spacing_m: float, radius_m: float, aspect: float = 1.0
) -> float:
    """Return the chance that a grid finds one hot spot.

    Parameters
    ----------
    grid : {"square", "triangular", "rectangle"}
        Of the rectangle, 1:2, the spacing is the short side.
    spacing_m, radius_m : float
        Distance between neighbours, and radius of the circle or semi-major axis of the ellipse (m).
    aspect : float
        Semi-minor over semi-major axis, above 0 and at most 1.

    Raises
    ------
    EstimateError
        If a length is not above 0, the aspect not in 0 to 1, or the grid unknown.
    """
    _above_zero(spacing_m, "spacing")
    _above_zero(radius_m, "radius of a hot spot")
    _check_aspect(aspect)
    ratio = radius_m / spacing_m
    return circle_probability(grid, ratio) if aspect == 1 else _ellipse(grid, ratio, aspect)


def circle_probability(grid: GridShape, ratio: float) -> float:
    r"""Return the chance for a circle whose radius is ``ratio`` spacings, in closed form.

    The circles round the points of the grid cover the share
    :math:`(\pi r^2 - \sum_k s(r, d_k)) / A`, with :math:`A` the area of a cell of the grid and
    :math:`s(r, d) = 2 (r^2 \arccos(d / 2r) - d \sqrt{r^2 - d^2 / 4} / 2)` the lens that two circles
    share whose centres are :math:`d < 2r` apart: one of each step of a square or rectangle, three
    of a triangular grid. No three circles overlap before every place is covered, so no lens is
    taken off twice.
    """
    steps = steps_of(grid)
    if ratio >= covering_radius(steps):
        return 1.0
    distances = {
        "square": (1.0, 1.0),
        "triangular": (1.0, 1.0, 1.0),
        "rectangle": (1.0, 2.0),
    }[grid]
    area = math.pi * ratio**2 - sum(_lens(ratio, one) for one in distances)
    return float(min(max(area / abs(np.linalg.det(steps)), 0.0), 1.0))


def spacing_for(
    grid: GridShape, *, radius_m: float, probability: float, aspect: float = 1.0
) -> float:
    """Return the widest spacing (m) that finds a hot spot with at least this chance.

    Parameters
    ----------
    grid, radius_m, aspect
        As for :func:`detection_probability`.
    probability : float
        Above 0 and at most 1.

    Raises
    ------
    EstimateError
        If a number is out of its range, or the grid unknown.
    """
    _above_zero(radius_m, "radius of a hot spot")
    _check_aspect(aspect)
    if not 0 < probability <= 1:
        raise EstimateError(
            f"a probability of {probability:g} cannot be asked for",
            todo="give one above 0, at most 1",
        )
    steps = steps_of(grid)
    full = covering_radius(steps) / aspect  # here even the worst direction covers all
    if probability == 1:
        return radius_m / full
    # no hot spot is found more often than by its area
    least = math.sqrt(probability * abs(float(np.linalg.det(steps))) / (math.pi * aspect))

    def missing(ratio: float) -> float:
        found = detection_probability(grid, spacing_m=1.0, radius_m=ratio, aspect=aspect)
        return found - probability

    return radius_m / float(brentq(missing, least * (1 - 1e-9), full, xtol=1e-10))


def points_for(grid: GridShape, *, spacing_m: float, area_m2: float) -> float:
    """Return how many points of a grid fall on an area (m²) on average, not rounded."""
    _above_zero(spacing_m, "spacing")
    return area_m2 / (spacing_m**2 * abs(float(np.linalg.det(steps_of(grid)))))


def spacing_of_points(grid: GridShape, *, points: int, area_m2: float) -> float:
    """Return the spacing (m) at which so many points fall on an area (m²) on average.

    Square: ``sqrt(A / n)``; triangular: ``sqrt(A / (0.866 n))`` (NUREG-1575 rev. 1, eqs 5-6 to 5-9;
    equation numbers from memory).
    """
    if points < 1:
        raise EstimateError(f"{points} points make no grid", todo="give 1 or more")
    _above_zero(area_m2, "area")
    return math.sqrt(area_m2 / (points * abs(float(np.linalg.det(steps_of(grid))))))


def _lens(ratio: float, apart: float) -> float:
    if apart >= 2 * ratio:
        return 0.0
    return 2 * (
        ratio**2 * math.acos(apart / (2 * ratio))
        - apart * math.sqrt(ratio**2 - apart**2 / 4) / 2
    )  # fmt: skip


def _ellipse(grid: GridShape, ratio: float, aspect: float) -> float:
    """Average over directions; squeezed along its axes the ellipse is a circle, the grid skew."""
    steps = steps_of(grid)
    angles = (np.arange(DIRECTIONS) + 0.5) * np.pi / DIRECTIONS
    shares = []
    for angle in angles:
        along = steps @ [math.cos(angle), math.sin(angle)]
        across = steps @ [-math.sin(angle), math.cos(angle)]
        shares.append(covered_share(np.column_stack([along, across / aspect]), ratio))
    return float(np.mean(shares))


def _above_zero(length: float, name: str) -> None:
    if not (math.isfinite(length) and length > 0):
        raise EstimateError(f"a {name} of {length:g} cannot be used", todo="give one above 0")


def _check_aspect(aspect: float) -> None:
    if not 0 < aspect <= 1:
        raise EstimateError(
            f"an aspect of {aspect:g} is not that of an ellipse",
            todo="give semi-minor over semi-major axis, above 0 and at most 1",
        )
