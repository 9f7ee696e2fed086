"""Which straight leaders run over which texts and over each other: many at once, no shapes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_NOTHING = 1e-9


def lines_over_boxes(lines: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Tell which lines (k, 2, 2) touch which boxes (m, 4), shape (k, m).

    A line is cut by the two pairs of sides in turn (Liang and Barsky, 1984; value from memory).
    """
    enters, leaves = np.zeros((len(lines), 1)), np.ones((len(lines), 1))
    for axis in (0, 1):
        start = lines[:, None, 0, axis]
        along = lines[:, None, 1, axis] - start
        along = np.where(np.abs(along) < _NOTHING, _NOTHING, along)
        first = (boxes[None, :, axis] - start) / along
        second = (boxes[None, :, axis + 2] - start) / along
        enters = np.maximum(enters, np.minimum(first, second))
        leaves = np.minimum(leaves, np.maximum(first, second))
    return np.asarray(enters <= leaves)


def lines_over_lines(lines: Floats, others: Floats) -> NDArray[np.bool_]:
    """Tell which lines (k, 2, 2) cross which others (m, 2, 2), shape (k, m)."""
    a, b = lines[:, None, 0, :], lines[:, None, 1, :]
    c, d = others[None, :, 0, :], others[None, :, 1, :]
    apart = _side(a, b, c) * _side(a, b, d) <= 0.0
    across: NDArray[np.bool_] = apart & (_side(c, d, a) * _side(c, d, b) <= 0.0)
    return across


def _side(a: Floats, b: Floats, point: Floats) -> Floats:
    """Return on which side of the line from a to b a point lies, by sign."""
    along, to = b - a, point - a
    side: Floats = along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0]
    return side
