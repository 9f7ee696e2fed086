"""Straight pieces of ink: where one lies, how wide its ink is, and how much of it is there.

Coordinates are pixels: x to the right, y down, (0, 0) the upper left corner of the image, so that
the middle of the first pixel is (0.5, 0.5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Kind = Literal["filled", "double", "line"]
Floats = NDArray[np.float64]

STEP: Final = 0.5
"""Ink is looked at in steps of so many pixels across a piece."""

MATCHED: Final = 0.5
"""A piece whose ink has its width on a smaller share of its length is no piece. Ours."""

_ROUNDS: Final = 24


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece of ink, by the middle of it.

    Attributes
    ----------
    start, end : (x, y)
        Pixels.
    width : float
        Of the ink, or of the wall whose two faces it has (pixels).
    support : float
        Share of its length with ink under it, 0 to 1.
    kind : {"filled", "double", "line"}
        A band of ink, two lines with their wall between them, or one line.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    width: float
    support: float
    kind: Kind = "line"

    @property
    def length(self) -> float:
        """Pixels."""
        return math.dist(self.start, self.end)

    @property
    def along(self) -> Floats:
        """Unit vector from start to end."""
        length = self.length or 1.0
        return np.array([
            (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length
        ])  # fmt: skip

    @property
    def angle(self) -> float:
        """Direction in degrees, 0 up to 180, from x towards y."""
        x, y = self.end[0] - self.start[0], self.end[1] - self.start[1]
        return math.degrees(math.atan2(y, x)) % 180.0


@dataclass(frozen=True)
class Stations:
    """Ink across a line, at steps of a pixel along it.

    Attributes
    ----------
    at : array of shape (n,)
        Distance along the line (px).
    centre, width : array of shape (n,)
        Middle of the ink, left of the line negative, and its width (px); nan where there is none.
    ink, match : array of bool, shape (n,)
        Whether there is ink on the line, and whether that has about the width asked for.
    """

    at: Floats
    centre: Floats
    width: Floats
    ink: NDArray[np.bool_]
    match: NDArray[np.bool_]


def stations(
    ink: NDArray[np.bool_],
    start: Floats,
    along: Floats,
    first: float,
    last: float,
    width: float,
    reach: float,
) -> Stations:
    """Look at the ink across a line from ``first`` to ``last`` (px along it).

    Parameters
    ----------
    ink : array of bool, shape (rows, columns)
    start, along : array of shape (2,)
        A place of the line, and its unit vector.
    first, last : float
    width : float
        As wide as the ink should be (px), give or take: half of it to 1.6 times and 1.5 px.
    reach : float
        So far from the line the ink may begin (px).
    """
    at = np.arange(first + 0.5, max(last, first + 1.0), 1.0)
    side = width + 4.0 + reach
    count = math.ceil(side / STEP)
    off = (np.arange(-count, count) + 0.5) * STEP
    across = np.array([-along[1], along[0]])
    x = start[0] + at[:, None] * along[0] + off[None, :] * across[0]
    y = start[1] + at[:, None] * along[1] + off[None, :] * across[1]
    columns, rows = np.floor(x).astype(int), np.floor(y).astype(int)
    inside = (columns >= 0) & (columns < ink.shape[1]) & (rows >= 0) & (rows < ink.shape[0])
    there = np.zeros(x.shape, dtype=bool)
    there[inside] = ink[rows[inside], columns[inside]]
    steps = np.arange(len(off))
    # the ink nearest to the line, then as far as it goes to both sides
    away = np.where(there, np.abs(off)[None, :], np.inf)
    nearest = np.argmin(away, axis=1)
    n = np.arange(len(at))
    found = away[n, nearest] <= reach
    before = np.maximum.accumulate(np.where(there, -1, steps[None, :]), axis=1)
    after = np.minimum.accumulate(np.where(there, len(off), steps[None, :])[:, ::-1], axis=1)
    left, right = before[n, nearest] + 1, after[:, ::-1][n, nearest] - 1
    cut = (left == 0) | (right == len(off) - 1)
    wide = (right - left + 1) * STEP
    match = found & ~cut & (wide >= 0.5 * width) & (wide <= 1.6 * width + 1.5)
    middle = (off[left] + off[np.minimum(right, len(off) - 1)]) / 2
    nothing = np.where(found, 0.0, np.nan)
    return Stations(at, middle + nothing, wide + nothing, found, match)


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a piece goes on over nothing, and over ink that is too wide: crossings (px)."""

    gap: float
    crossing: float
    reach: float = 1.25


def grow(
    ink: NDArray[np.bool_],
    start: tuple[float, float],
    end: tuple[float, float],
    width: float,
    limits: Limits,
) -> Piece | None:
    """Fit a piece to the ink between two places, and let it grow along that ink.

    Returns
    -------
    Piece or None
        None where the ink between them has not this width.
    """
    origin = np.array(start, float)
    vector = np.subtract(end, start)
    length = float(np.hypot(*vector))
    if length < 1.0:
        return None
    along = vector / length
    first, last = 0.0, length
    settled = False
    for _ in range(_ROUNDS):
        seen = stations(ink, origin, along, first, last, width, limits.reach)
        if seen.match.sum() < max(3, MATCHED * len(seen.at)):
            return None
        width = float(np.median(seen.width[seen.match]))
        origin, along, first, last = _refitted(seen, origin, along, first, last)
        if settled:
            break
        more = max(16.0, last - first)
        ahead = _goes_on(
            stations(ink, origin, along, last, last + more, width, limits.reach), limits
        )
        behind = _goes_on(
            stations(ink, origin + along * first, -along, 0.0, more, width, limits.reach), limits
        )
        last, first = last + ahead, first - behind
        settled = ahead + behind < 1.0
    seen = stations(ink, origin, along, first, last, width, limits.reach)
    there = np.flatnonzero(seen.match)
    if len(there) < 3:
        return None
    begin, finish = seen.at[there[0]] - 0.5, seen.at[there[-1]] + 0.5
    begin -= _half_across(ink, origin + along * begin, -along, width, limits)
    finish += _half_across(ink, origin + along * finish, along, width, limits)
    part = seen.ink[there[0] : there[-1] + 1]
    a, b = origin + along * begin, origin + along * finish
    return Piece((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), width, float(part.mean()))


def _half_across(
    ink: NDArray[np.bool_], end: Floats, outwards: Floats, width: float, limits: Limits
) -> float:
    """Return how far (px) it is to the middle of a line of the same pen that a piece runs into."""
    most = 1.5 * width + 2.0
    seen = stations(ink, end, outwards, 0.0, most + 1.0, width, limits.reach)
    nothing = np.flatnonzero(~seen.ink)
    run = float(nothing[0]) if len(nothing) else math.inf
    return run / 2 if run <= most else 0.0


def _refitted(
    seen: Stations, origin: Floats, along: Floats, first: float, last: float
) -> tuple[Floats, Floats, float, float]:
    """Lay the line through the middles of the ink, those that stray left out."""
    at, centre = seen.at[seen.match], seen.centre[seen.match]
    for _ in range(3):
        slope, height = _line(at, centre)
        away = np.abs(centre - (height + slope * at))
        kept = away <= max(0.75, 2.5 * float(np.median(away)))
        if kept.all() or kept.sum() < 3:
            break
        at, centre = at[kept], centre[kept]
    across = np.array([-along[1], along[0]])
    turned = along + slope * across
    stretch = float(np.hypot(*turned))
    return origin + height * across, turned / stretch, first * stretch, last * stretch


def _line(at: Floats, height: Floats) -> tuple[float, float]:
    """Return slope and height at 0 of the least squares line."""
    middle = at.mean()
    spread = float(np.sum((at - middle) ** 2))
    slope = float(np.sum((at - middle) * height)) / spread if spread > 0 else 0.0
    return slope, float(height.mean() - slope * middle)


def _goes_on(seen: Stations, limits: Limits) -> float:
    """Return how much farther (px) ink of this width goes on, over small gaps and crossings."""
    good = 0
    empty = wide = 0
    for n, (ink, match) in enumerate(zip(seen.ink.tolist(), seen.match.tolist(), strict=True)):
        if match:
            good, empty, wide = n + 1, 0, 0
            continue
        empty, wide = (empty, wide + 1) if ink else (empty + 1, wide)
        if empty > limits.gap or wide > limits.crossing:
            break
    return float(good)
