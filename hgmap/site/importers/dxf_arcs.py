"""Circular arcs as cubic Bézier curves, ten thousand at once.

Each arc is cut into curves of 45 degrees at most, whose control points lie on the tangents, 4/3 of
the tangent of a quarter of the angle away: true to 4e-6 of the radius. ezdxf makes the same
curves of them, one by one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.importers.dxf_curves import Cubics

Floats = NDArray[np.float64]

PIECE_DEG: Final = 45.0
"""A curve stands for no more than this (degrees) of an arc."""
_SWEEPS_DEG: Final = (1.0, 355.0)
"""Arcs that sweep less or more may be points, or whole circles: another look is taken at them."""
_TURNS_DEG: Final = 3600.0
"""An angle beyond this is no angle of a drawing."""
_SHARE: Final = 1e-6
"""An arc smaller than this share of its distance from the origin drowns in the last digits."""


def are_usual(
    centres: Floats, radii: Floats, starts_deg: Floats, ends_deg: Floats
) -> NDArray[np.bool_]:
    """Tell which arcs are neither points nor circles, nor lost in the last digits.

    Parameters
    ----------
    centres : array of shape (n, 3)
        In units.
    radii : array of shape (n,)
        In units.
    starts_deg, ends_deg : arrays of shape (n,)
        Angles of both ends, counter-clockwise from x.
    """
    sweeps = (ends_deg - starts_deg) % 360.0
    angles = np.maximum(np.abs(starts_deg), np.abs(ends_deg))
    found: NDArray[np.bool_] = (
        (sweeps >= _SWEEPS_DEG[0])
        & (sweeps <= _SWEEPS_DEG[1])
        & (angles <= _TURNS_DEG)
        & (radii > _SHARE * (1.0 + np.abs(centres).max(axis=1)))
    )
    return found


def cubics_of(centres: Floats, radii: Floats, starts_deg: Floats, ends_deg: Floats) -> list[Cubics]:
    """Return the curves that stand for arcs which :func:`are_usual`.

    Parameters
    ----------
    centres : array of shape (n, 3)
        In units.
    radii : array of shape (n,)
        In units.
    starts_deg, ends_deg : arrays of shape (n,)
        Angles of both ends, counter-clockwise from x.

    Examples
    --------
    >>> one = np.ones(1)
    >>> (quarter,) = cubics_of(np.zeros((1, 3)), 2 * one, 0 * one, 90 * one)
    >>> quarter.points[[0, 3, 6], :2].round(3).tolist()
    [[2.0, 0.0], [1.414, 1.414], [0.0, 2.0]]
    """
    pieces = np.ceil((ends_deg - starts_deg) % 360.0 / PIECE_DEG).astype(np.intp)
    found = np.empty(len(radii), dtype=object)
    for number in np.unique(pieces).tolist():
        these = np.flatnonzero(pieces == number)
        points = _points(centres[these], radii[these], starts_deg[these], ends_deg[these], number)
        found[these] = [Cubics(one) for one in points]
    return list(found)


def _points(
    centres: Floats, radii: Floats, starts_deg: Floats, ends_deg: Floats, pieces: int
) -> Floats:
    """Return the points of arcs that are cut into equally many pieces, shape (n, 3 k + 1, 3)."""
    first, last = np.radians(starts_deg), np.radians(ends_deg)
    start = first % math.tau
    end = np.where(np.isclose(last, math.tau, 1e-9, 1e-10), last, last % math.tau)
    step = (np.where(end < start, end + math.tau, end) - start) / pieces
    steps = np.repeat(step[:, None], pieces, axis=1)
    angles = np.cumsum(np.column_stack([start, steps]), axis=1)
    x, y = _each(math.cos, angles), _each(math.sin, angles)
    away = 4.0 / 3.0 * _each(math.tan, step / 4.0)[:, None]
    on_unit = np.empty((len(radii), 3 * pieces + 1, 2))
    on_unit[:, 0::3] = np.stack([x, y], axis=2)
    on_unit[:, 1::3] = np.stack([x - y * away, y + x * away], axis=2)[:, :-1]
    on_unit[:, 2::3] = np.stack([x + y * away, y - x * away], axis=2)[:, 1:]
    on_unit[:, 0] = np.column_stack([_each(math.cos, first), _each(math.sin, first)])
    points = np.repeat(centres[:, None], 3 * pieces + 1, axis=1)
    points[:, :, :2] += radii[:, None, None] * on_unit
    return points


def _each(function: Callable[[float], float], values: Floats) -> Floats:
    """Return a function of each value: NumPy's own may differ in the last digit."""
    return np.array([function(one) for one in values.ravel().tolist()]).reshape(values.shape)
