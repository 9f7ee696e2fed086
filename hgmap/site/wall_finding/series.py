"""Many lines at equal distances are the steps of a stair or a hatching, and no walls."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from hgmap.site.wall_finding.merge import ends_of, local, turned_by
from hgmap.site.wall_finding.pieces import Piece

FEWEST: Final = 5
"""Fewer may be the two faces of a wall with a window between them. Ours."""

EQUAL: Final = 0.25
"""Distances that differ by a smaller share are equal. Ours."""

BESIDE: Final = 0.7
"""Two lines of a series run beside each other for so much of both."""

_PARALLEL_DEG: Final = 2.5


def without_series(pieces: Sequence[Piece], farthest: float) -> tuple[list[Piece], int]:
    """Take away lines of a series of five or more.

    Parameters
    ----------
    pieces : sequence of Piece
    farthest : float
        Distance (px) of one line of a series from the next.

    Returns
    -------
    pieces : list of Piece
    count : int
        How many were taken away.
    """
    lines = [n for n, one in enumerate(pieces) if one.kind == "line"]
    nexts = {n: _next_ones(n, lines, pieces, farthest) for n in lines}
    dropped: set[int] = set()
    for n in lines:
        for side in (0, 1):
            chain = _chain(n, side, nexts, pieces)
            if len(chain) >= FEWEST:
                dropped |= set(chain)
    return [one for n, one in enumerate(pieces) if n not in dropped], len(dropped)


def _next_ones(
    own: int, lines: Sequence[int], pieces: Sequence[Piece], farthest: float
) -> dict[bool, tuple[int, float]]:
    """Return the nearest line beside this one to each side (left: True), and how far it is."""
    piece = pieces[own]
    found: dict[bool, tuple[int, float]] = {}
    ends = ends_of([pieces[n] for n in lines])
    u0, v0 = local(piece, ends[:, :2])
    u1, v1 = local(piece, ends[:, 2:])
    shared = np.minimum(np.maximum(u0, u1), piece.length) - np.maximum(np.minimum(u0, u1), 0.0)
    longer = np.maximum(np.abs(u1 - u0), piece.length)
    apart = (v0 + v1) / 2
    fits = (shared >= BESIDE * longer) & (np.abs(apart) <= farthest) & (np.abs(apart) > 1.5)
    for k in np.flatnonzero(fits).tolist():
        other, away = lines[k], float(apart[k])
        if other == own or turned_by(piece.angle, pieces[other].angle) > _PARALLEL_DEG:
            continue
        side = away > 0
        if side not in found or abs(away) < found[side][1]:
            found[side] = other, abs(away)
    return found


def _chain(
    start: int, side: int, nexts: dict[int, dict[bool, tuple[int, float]]], pieces: Sequence[Piece]
) -> list[int]:
    """Go from line to line, always to the same side, as long as the distances are equal."""
    chain = [start]
    found = nexts[start].get(bool(side))
    first = found[1] if found else 0.0
    while found is not None and found[0] not in chain:
        if abs(found[1] - first) > EQUAL * first:
            break
        before, now = pieces[chain[-1]], pieces[found[0]]
        chain.append(found[0])
        # the same side, whichever way the next line was drawn
        side = side if float(before.along @ now.along) > 0 else 1 - side
        found = nexts[found[0]].get(bool(side))
    return chain
