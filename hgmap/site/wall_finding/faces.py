"""Two lines with nothing between them are the faces of one wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.wall_finding.merge import ends_of, local, turned_by
from hgmap.site.wall_finding.pieces import Floats, Piece

PARALLEL_DEG: Final = 2.5
FULL: Final = 0.5
"""Where more of the middle between two lines is ink, they are no two faces. Ours."""

INSIDE: Final = 0.8
"""A line so much of which lies in a wall is part of its drawing. Ours."""

Interval = tuple[float, float]


@dataclass
class _Face:
    """A line, and what of it is no wall's face yet (px from its start)."""

    piece: Piece
    free: list[Interval] = field(default_factory=list)
    thickness: float = 0.0


def pair_faces(
    pieces: Sequence[Piece], ink: NDArray[np.bool_], nearest: float, farthest: float, least: float
) -> list[Piece]:
    """Put the two faces of walls together.

    Parameters
    ----------
    pieces : sequence of Piece
        Those of another kind than ``"line"`` pass through.
    ink : array of bool
    nearest, farthest : float
        Distance between the middles of two faces (px).
    least : float
        Faces run beside each other for so long (px), and longer than they are apart.
    """
    lines = [one for one in pieces if one.kind == "line"]
    walls = [one for one in pieces if one.kind != "line"]
    faces = [_Face(one, [(0.0, one.length)]) for one in lines]
    chosen = sorted(_candidates(lines, ink, nearest, farthest, least), reverse=True)
    for _, i, j, apart in chosen:
        walls += _between(faces[i], faces[j], apart, least)
    walls += [part for one in faces for part in _left_over(one, least)]
    return _without_inner_lines(walls)


def _candidates(
    lines: Sequence[Piece], ink: NDArray[np.bool_], nearest: float, farthest: float, least: float
) -> list[tuple[float, int, int, float]]:
    """Return pairs with their score: long whole ones that are close come first."""
    found = []
    angles = [one.angle for one in lines]
    ends = ends_of(lines)
    boxes = np.column_stack([
        np.minimum(ends[:, :2], ends[:, 2:]) - farthest,
        np.maximum(ends[:, :2], ends[:, 2:]) + farthest,
    ]) if len(lines) else np.empty((0, 4))  # fmt: skip
    meet = np.asarray((boxes[:, None, :2] <= boxes[None, :, 2:]).all(axis=2))
    meet = meet & meet.T
    for i, j in combinations(range(len(lines)), 2):
        if not meet[i, j] or turned_by(angles[i], angles[j]) > PARALLEL_DEG:
            continue
        u, v = local(lines[i], ends[j].reshape(2, 2))
        low, high = max(0.0, float(u.min())), min(lines[i].length, float(u.max()))
        apart = abs(float(v.mean()))
        if not nearest <= apart <= farthest or high - low < max(least, apart):
            continue
        if np.ptp(v) > 0.5 * apart or _full(lines[i], float(v.mean()), (low, high), ink):
            continue
        # a hatching makes broken lines: whole ones are faces
        whole = min(lines[i].support, lines[j].support) ** 2
        found.append((whole * (high - low) * (1.0 - apart / (1.5 * farthest)), i, j, apart))
    return found


def _full(piece: Piece, apart: float, part: Interval, ink: NDArray[np.bool_]) -> bool:
    """Tell whether there is ink along the middle between two lines."""
    if abs(apart) < 4.0:
        return False
    along = piece.along
    across = np.array([-along[1], along[0]])
    at = np.arange(part[0] + 0.5, part[1])
    places = piece.start + at[:, None] * along + across * apart / 2
    columns, rows = np.floor(places).astype(int).T
    inside = (rows >= 0) & (rows < ink.shape[0]) & (columns >= 0) & (columns < ink.shape[1])
    return bool(inside.any()) and float(ink[rows[inside], columns[inside]].mean()) > FULL


def _between(one: _Face, other: _Face, apart: float, least: float) -> list[Piece]:
    """Make walls of what is free of both faces, and take it from them."""
    a, b = one.piece, other.piece
    made = []
    for low, high in list(one.free):
        for part in list(other.free):
            # the other's part, seen along this one
            there = np.array([b.start + b.along * at for at in part])
            u, _ = local(a, there)
            first, last = max(low, float(u.min())), min(high, float(u.max()))
            if last - first < max(least, apart):
                continue
            ends = [_midway(a, b, at) for at in (first, last)]
            made.append(Piece(ends[0], ends[1], apart, min(a.support, b.support), "double"))
            back, _ = local(b, np.array([a.start + a.along * at for at in (first, last)]))
            one.free = _less(one.free, (first, last))
            other.free = _less(other.free, (float(back.min()), float(back.max())))
            one.thickness = max(one.thickness, apart)
            other.thickness = max(other.thickness, apart)
            break
    return made


def _midway(a: Piece, b: Piece, at: float) -> tuple[float, float]:
    """Return the place midway between two faces, ``at`` px along the first."""
    here: Floats = a.start + a.along * at
    u, _ = local(b, here[None, :])
    there = b.start + b.along * float(u[0])
    x, y = (here + there) / 2
    return float(x), float(y)


def _less(free: Sequence[Interval], taken: Interval) -> list[Interval]:
    """Return intervals without another."""
    left = []
    for low, high in free:
        left += [part for part in ((low, min(high, taken[0])), (max(low, taken[1]), high))
                 if part[1] - part[0] > 1.0]  # fmt: skip
    return left


def _left_over(face: _Face, least: float) -> list[Piece]:
    """Return the parts of a line that are no wall's face: corners of thick walls are not."""
    piece = face.piece
    if not face.thickness:
        return [piece]
    made = []
    for low, high in face.free:
        if high - low >= max(2.0 * least, 2.5 * face.thickness):
            a, b = (piece.start + piece.along * at for at in (low, high))
            made.append(replace(
                piece, start=(float(a[0]), float(a[1])), end=(float(b[0]), float(b[1]))
            ))  # fmt: skip
    return made


def _without_inner_lines(walls: Sequence[Piece]) -> list[Piece]:
    """Take away lines that run inside a wall: glass, insulation, an axis."""
    thick = [one for one in walls if one.kind != "line"]
    kept = []
    for one in walls:
        if one.kind == "line" and any(_runs_inside(one, wall) for wall in thick):
            continue
        kept.append(one)
    return kept


def _runs_inside(line: Piece, wall: Piece) -> bool:
    if turned_by(line.angle, wall.angle) > PARALLEL_DEG:
        return False
    u, v = local(wall, np.array([line.start, line.end]))
    if np.abs(v).max() > wall.width / 2 + 1.0:
        return False
    shared = min(float(u.max()), wall.length) - max(float(u.min()), 0.0)
    return shared >= INSIDE * math.dist(line.start, line.end)
