"""Gaps of the width of a door: between walls on one line, or between a wall's end and a wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.wall_finding.joints import Joints
from hgmap.site.wall_finding.merge import ends_of, local, turned_by
from hgmap.site.wall_finding.pieces import Floats, Piece, stations

CLOSED: Final = 0.3
"""A gap with ink along more of it is a window, a sill or a thin wall. Ours."""

BESIDE: Final = 0.15
"""What stands so near to a side of a gap, as a share of its width, is its door. Ours."""

LEAF_LIKE: Final = 0.3
"""A door's leaf is as long as its gap, give or take so much of that. Ours."""

_AGREE_DEG: Final = 4.0
_FACED_DEG: Final = 60.0
"""What a gap ends at beside a wall's end is a wall that runs across it."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap (px), and the positions of the pieces on both sides of it."""

    start: tuple[float, float]
    end: tuple[float, float]
    first: int
    second: int

    @property
    def length(self) -> float:
        """Pixels."""
        return math.dist(self.start, self.end)


def gaps_in_line(
    pieces: Sequence[Piece], ink: NDArray[np.bool_], narrowest: float, widest: float, side: float
) -> list[Gap]:
    """Find gaps between pieces that lie on one line.

    Parameters
    ----------
    pieces : sequence of Piece
    ink : array of bool
    narrowest, widest : float
        Of a door (px).
    side : float
        How far (px) the end of one may lie beside the line of the other.
    """
    ends = ends_of(pieces)
    angles = np.array([one.angle for one in pieces])
    widths = np.array([one.width for one in pieces])
    found: list[Gap] = []
    for i, piece in enumerate(pieces):
        apart = np.abs(angles - piece.angle) % 180.0
        beside = side + np.maximum(widths, piece.width) / 4
        in_line = np.minimum(apart, 180.0 - apart) <= _AGREE_DEG
        in_line[: i + 1] = False  # each pair once
        for place, outwards in ((piece.start, -piece.along), (piece.end, piece.along)):
            across = np.array([-outwards[1], outwards[0]])
            away = ends.reshape(-1, 2, 2) - place
            ahead, aside = away @ outwards, np.abs(away @ across)
            nearer = np.argmin(ahead, axis=1)
            rows = np.arange(len(pieces))
            near, off = ahead[rows, nearer], aside[rows, nearer]
            fits = in_line & (near >= narrowest) & (near <= widest) & (off <= beside)
            for j in np.flatnonzero(fits).tolist():
                back = local(pieces[j], np.array([place]))[1]
                if abs(float(back[0])) <= beside[j]:
                    facing = (pieces[j].start, pieces[j].end)[nearer[j]]
                    found.append(Gap(place, facing, i, j))
    return _nearest_of_each_end([one for one in found if _is_open(one, pieces, ends, ink)])


def gaps_at_walls(
    joints: Joints, ink: NDArray[np.bool_], narrowest: float, widest: float, taken: Sequence[Gap]
) -> list[Gap]:
    """Find gaps between the free end of a wall and the wall that it points at."""
    pieces = joints.pieces
    ends = ends_of(pieces)
    used = {_key(place) for one in taken for place in (one.start, one.end)}
    found: list[Gap] = []
    for i, (piece, met) in enumerate(zip(pieces, joints.met, strict=True)):
        for place, outwards, joined in (
            (piece.start, -piece.along, met[0]), (piece.end, piece.along, met[1])
        ):  # fmt: skip
            if joined or _key(place) in used:
                continue
            hit = _first_wall(np.array(place), outwards, i, ends)
            if hit is None:
                continue
            j, away = hit
            clear = away - pieces[j].width / 2
            if not narrowest <= clear <= widest:
                continue
            stop = np.array(place) + outwards * clear
            found.append(Gap(place, (float(stop[0]), float(stop[1])), i, j))
    return [one for one in found if _is_open(one, pieces, ends, ink)]


def without_leaves(
    pieces: Sequence[Piece], gaps: Sequence[Gap], reach: float
) -> tuple[list[Piece], int]:
    """Take away lines that stand at the side of a gap and are as long as it: leaves of doors.

    Returns
    -------
    pieces : list of Piece
    count : int
        How many were taken away.
    """
    kept = [
        one
        for one in pieces
        if one.kind != "line" or not any(_is_leaf(one, gap, reach) for gap in gaps)
    ]
    return kept, len(pieces) - len(kept)


def _is_leaf(line: Piece, gap: Gap, reach: float) -> bool:
    if abs(line.length - gap.length) > LEAF_LIKE * gap.length + reach:
        return False
    vector = np.subtract(gap.end, gap.start)
    angle = math.degrees(math.atan2(vector[1], vector[0])) % 180.0
    if turned_by(line.angle, angle) < 15.0:
        return False
    return any(
        math.dist(one, side) <= reach
        for one in (line.start, line.end)
        for side in (gap.start, gap.end)
    )


def _key(place: tuple[float, float]) -> tuple[float, float]:
    return round(place[0], 3), round(place[1], 3)


def _first_wall(
    place: Floats, outwards: Floats, own: int, ends: Floats
) -> tuple[int, float] | None:
    """Return the wall that a ray meets first, and how far away its middle is (px)."""
    vectors = ends[:, 2:] - ends[:, :2]
    lengths = np.hypot(*vectors.T)
    along = vectors / lengths[:, None]
    sine = outwards[0] * along[:, 1] - outwards[1] * along[:, 0]
    steep = np.abs(sine) >= math.sin(math.radians(_FACED_DEG))
    steep[own] = False
    divisor = np.where(steep, sine, 1.0)
    x, y = (ends[:, :2] - place).T
    ahead = (x * along[:, 1] - y * along[:, 0]) / divisor
    beside = (x * outwards[1] - y * outwards[0]) / divisor
    met = steep & (ahead > 0) & (beside >= -1.0) & (beside <= lengths + 1.0)
    if not met.any():
        return None
    first = int(np.argmin(np.where(met, ahead, np.inf)))
    return first, float(ahead[first])


def _is_open(gap: Gap, pieces: Sequence[Piece], ends: Floats, ink: NDArray[np.bool_]) -> bool:
    """Tell whether no ink runs along a gap, and no wall across it."""
    start, end = np.array(gap.start), np.array(gap.end)
    length = gap.length
    along = (end - start) / length
    side = max(pieces[gap.first].width, 2.0) / 2
    seen = stations(ink, start, along, 1.0, length - 1.0, 2 * side, side)
    if float(seen.ink.mean()) > CLOSED:
        return False
    across = np.array([-along[1], along[0]])
    away = ends.reshape(-1, 2, 2) - start
    ahead, aside = away @ along, away @ across
    crosses = aside[:, 0] * aside[:, 1] < 0
    crosses[[gap.first, gap.second]] = False
    steps = np.where(crosses, aside[:, 0] - aside[:, 1], 1.0)
    at = ahead[:, 0] + aside[:, 0] / steps * (ahead[:, 1] - ahead[:, 0])
    return not (crosses & (at > BESIDE * length) & (at < (1.0 - BESIDE) * length)).any()


def _nearest_of_each_end(found: Sequence[Gap]) -> list[Gap]:
    """Keep one gap at an end: the narrowest."""
    used: set[tuple[float, float]] = set()
    kept = []
    for gap in sorted(found, key=lambda one: (one.length, one.start)):
        keys = {_key(gap.start), _key(gap.end)}
        if not keys & used:
            used |= keys
            kept.append(gap)
    return kept
