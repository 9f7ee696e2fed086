"""Interpolation at Chebyshev nodes: a smooth function over a tile from a few values of it.

Where the function is analytic inside an ellipse with foci at the ends of an interval, the error
of interpolation at p nodes falls like rho**-p, rho being the ellipse's parameter (the sum of its
half axes over half the interval; Trefethen 2013, Approximation Theory and Approximation Practice,
theorem 8.2). Functions of a distance stop being analytic where the distance is zero, in complex
coordinates.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Axis:
    """One axis of a tile.

    Attributes
    ----------
    middle, half : float
        Of the interval that the centres of its cells span.
    centres : array of shape (cells,)
    nodes : array of shape (p,)
        Where the function has to be known.
    basis : array of shape (cells, p)
        Takes the values at the nodes to the centres of the cells.
    """

    middle: float
    half: float
    centres: Floats
    nodes: Floats
    basis: Floats


def lay_axis(centres: Floats, count: int) -> Axis:
    """Return the axis of a tile with ``count`` nodes."""
    middle = float(centres[0] + centres[-1]) / 2
    # a tile of one row or column is as thin as can be told from a line
    half = max(float(centres[-1] - centres[0]) / 2, 1e-9 * max(abs(middle), 1.0))
    angle = (2 * np.arange(count) + 1) * np.pi / (2 * count)
    return Axis(middle, half, centres, middle + half * np.cos(angle),
                lagrange((centres - middle) / half, angle))  # fmt: skip


def lagrange(x: Floats, angle: Floats) -> Floats:
    """Return the Lagrange polynomials of the nodes cos(angle) at x, shape (len(x), nodes).

    Barycentric form for Chebyshev points of the first kind (Berrut and Trefethen 2004, SIAM
    Review 46, eq. 4.2 and 5.3).

    Examples
    --------
    The parabola through its values at three nodes is the parabola:

    >>> angle = np.pi * np.array([1, 3, 5]) / 6
    >>> basis = lagrange(np.array([0.5, -1.0]), angle)
    >>> (basis @ np.cos(angle) ** 2).round(12).tolist()
    [0.25, 1.0]
    """
    difference = x[:, None] - np.cos(angle)
    at_node = np.abs(difference) < 1e-14
    difference[at_node] = 1.0
    basis = (-1.0) ** np.arange(len(angle)) * np.sin(angle) / difference
    basis /= basis.sum(axis=1, keepdims=True)
    hit = at_node.any(axis=1)
    basis[hit] = at_node[hit]
    return np.asarray(basis)


def ellipse_parameters(xy: Floats, across: Axis, along: Axis, metric: Floats) -> Floats:
    """Return how well functions of the distance from each datum can be interpolated over a tile.

    Parameters
    ----------
    xy : array of shape (n, 2)
        Data.
    across, along : Axis
        The tile's axes in x and in y.
    metric : array of shape (2, 2)
        M of the squared distance d' M d; the identity for plain distance.

    Returns
    -------
    array of shape (n,)
        Parameter of the largest ellipse free of the zeros of the distance, the smaller of the two
        axes'.
    """
    dx, dy = xy[:, 0] - across.middle, xy[:, 1] - along.middle
    (a, c), (_, b) = metric.tolist()
    root = math.sqrt(max(a * b - c * c, 0.0))
    return np.minimum(
        _ellipse_parameter(dx, dy, across.half, along.half, c / a, root / a),
        _ellipse_parameter(dy, dx, along.half, across.half, c / b, root / b),
    )


def _ellipse_parameter(
    dx: Floats, dy: Floats, half_x: float, half_y: float, slope: float, spread: float
) -> Floats:
    """Return the parameter of the ellipse, along x, through the nearest zero of the distance.

    At a real y that is t off the datum, a dx² + 2 c dx t + b t² = 0 where x is off the datum by
    t (-c ± i sqrt(a b - c²)) / a; ``slope`` is c / a and ``spread`` sqrt(a b - c²) / a. The
    smallest ellipse is sought over the y of the tile.
    """
    if slope == 0.0:
        t = np.clip(0.0, dy - half_y, dy + half_y)[:, None]
    else:
        t = dy[:, None] + half_y * np.linspace(-1.0, 1.0, 17)
    z = (dx[:, None] + t * slope + 1j * t * spread) / half_x
    half_sum = ((np.abs(z - 1.0) + np.abs(z + 1.0)) / 2.0).min(axis=1)
    return np.asarray(half_sum + np.sqrt(np.maximum(half_sum**2 - 1.0, 0.0)))
