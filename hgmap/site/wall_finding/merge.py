"""Pieces that continue each other become one; directions that a building has are kept."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.wall_finding.pieces import Floats, Piece

ALIKE_DEG: Final = 3.0
"""Pieces that differ by less run the same way."""

DIRECTION_SHARE: Final = 0.08
"""A direction that a smaller share of all length has is nobody's direction. Ours."""

MOST_DIRECTIONS: Final = 6
SQUARE_DEG: Final = 0.75
"""Two directions this near to a right angle are at a right angle."""

SNAP_PX: Final = 1.0
"""A piece is turned to a direction of the building where no end of it moves farther. Ours."""


def ends_of(pieces: Sequence[Piece]) -> Floats:
    """Return x, y of starts and ends, shape (n, 4)."""
    return np.array([(*one.start, *one.end) for one in pieces], float).reshape(-1, 4)


def local(piece: Piece, places: Floats) -> tuple[Floats, Floats]:
    """Return how far places (n, 2) lie along a piece from its start, and how far left of it."""
    along = piece.along
    away = places - piece.start
    return away @ along, away @ np.array([-along[1], along[0]])


def turned_by(one: float, other: float) -> float:
    """Return how far two directions differ (degrees, 0 to 90)."""
    away = abs(one - other) % 180.0
    return min(away, 180.0 - away)


def merge_collinear(pieces: Sequence[Piece], gap: float, side: float) -> list[Piece]:
    """Make one piece of those that lie on one line with less than ``gap`` px between them.

    ``side`` is how far (px) both ends of one may lie beside the line of the other. Pieces of
    different kinds, or one more than twice as wide as the other, stay apart.
    """
    left = sorted(pieces, key=lambda one: (-one.length, one.start, one.end))
    done: list[Piece] = []
    while left:
        piece = left.pop(0)
        while left:
            next_one = _nearest(piece, left, gap, side)
            if next_one is None:
                break
            piece = _joined(piece, left.pop(next_one))
        done.append(piece)
    return done


def _nearest(piece: Piece, others: Sequence[Piece], gap: float, side: float) -> int | None:
    ends = ends_of(others)
    u0, v0 = local(piece, ends[:, :2])
    u1, v1 = local(piece, ends[:, 2:])
    widths = np.array([one.width for one in others])
    same = np.array([one.kind == piece.kind for one in others])
    apart = np.maximum(np.minimum(u0, u1) - piece.length, -np.maximum(u0, u1))
    fits = same & (np.maximum(np.abs(v0), np.abs(v1)) <= side) & (apart <= gap)
    fits &= np.maximum(widths, piece.width) <= 2.0 * np.minimum(widths, piece.width) + 1.0
    if not fits.any():
        return None
    return int(np.argmin(np.where(fits, apart, np.inf)))


def _joined(one: Piece, other: Piece) -> Piece:
    """Lay one piece through both, each with the weight of its length."""
    longer, shorter = (one, other) if one.length >= other.length else (other, one)
    places = ends_of([longer, shorter]).reshape(-1, 2)
    weights = np.repeat([longer.length, shorter.length], 2)
    u, v = local(longer, places)
    mean_u, mean_v = np.average(u, weights=weights), np.average(v, weights=weights)
    spread = float(np.sum(weights * (u - mean_u) ** 2))
    slope = float(np.sum(weights * (u - mean_u) * (v - mean_v))) / spread if spread else 0.0
    along = longer.along
    across = np.array([-along[1], along[0]])
    first, last = float(u.min()), float(u.max())
    start, end = (
        longer.start + along * at + across * (mean_v + slope * (at - mean_u))
        for at in (first, last)
    )
    length = max(last - first, 1e-9)
    held = longer.length * longer.support + shorter.length * shorter.support
    width = float(np.average([longer.width, shorter.width], weights=weights[::2]))
    return Piece(
        (float(start[0]), float(start[1])), (float(end[0]), float(end[1])), width,
        min(1.0, held / length), longer.kind,
    )  # fmt: skip


def directions(pieces: Sequence[Piece]) -> list[float]:
    """Return the directions (degrees, 0 up to 180) that most of the length has, the chief first."""
    angles = np.array([one.angle for one in pieces])
    lengths = np.array([one.length for one in pieces])
    whole = float(lengths.sum())
    found: list[float] = []
    left = lengths.copy()
    while len(found) < MOST_DIRECTIONS and left.sum() > 0:
        near = _apart(angles[:, None], np.arange(0.0, 180.0, 0.5)[None, :]) <= 1.0
        peak = 0.5 * int(np.argmax(left @ near))
        for _ in range(3):
            away = _signed(angles, peak)
            weight = np.where(np.abs(away) <= 1.5, left, 0.0)
            if weight.sum() <= 0:
                break
            # a long piece says its direction more exactly, and there is more of it
            peak += float(np.average(away, weights=weight * lengths))
        share = float(np.where(_apart(angles, peak) <= 2.0, left, 0.0).sum()) / whole
        if share < DIRECTION_SHARE:
            break
        found.append(peak % 180.0)
        left[_apart(angles, peak) <= ALIKE_DEG] = 0.0
    return _squared(found)


def _squared(found: list[float]) -> list[float]:
    """Make directions that are nearly at a right angle to the chief one wholly so."""
    if not found:
        return []
    chief = found[0]
    square = (chief + 90.0) % 180.0
    return [chief] + [square if turned_by(one, square) <= SQUARE_DEG else one for one in found[1:]]


def _signed(angles: NDArray[np.float64], base: float) -> NDArray[np.float64]:
    return (angles - base + 90.0) % 180.0 - 90.0


def _apart(angles: NDArray[np.float64], base: float | NDArray[np.float64]) -> NDArray[np.float64]:
    away = np.abs(angles - base) % 180.0
    return np.minimum(away, 180.0 - away)


def snapped(piece: Piece, to: Sequence[float]) -> Piece:
    """Turn a piece about its middle to a direction, where no end of it moves more than a pixel."""
    if not to:
        return piece
    best = min(to, key=lambda one: turned_by(piece.angle, one))
    turn = math.radians(float(_signed(np.array([best]), piece.angle)[0]))
    if abs(turn) > math.radians(ALIKE_DEG) or abs(turn) * piece.length / 2 > SNAP_PX:
        return piece
    along = piece.along
    half = piece.length / 2
    c, s = math.cos(turn), math.sin(turn)
    x, y = along[0] * c - along[1] * s, along[0] * s + along[1] * c
    middle = ((piece.start[0] + piece.end[0]) / 2, (piece.start[1] + piece.end[1]) / 2)
    return replace(
        piece,
        start=(float(middle[0] - x * half), float(middle[1] - y * half)),
        end=(float(middle[0] + x * half), float(middle[1] + y * half)),
    )
