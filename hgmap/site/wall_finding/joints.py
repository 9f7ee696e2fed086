"""Ends of walls meet: each is carried to the middle of the wall that it runs into."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from hgmap.site.wall_finding.merge import ends_of
from hgmap.site.wall_finding.pieces import Floats, Piece

LEAST_TURN: Final = math.sin(math.radians(20.0))
"""Walls that meet at a smaller angle have no place where they meet."""

SLACK_PX: Final = 3.0
"""An end that is drawn so far from a wall, or over it, touches it."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Walls whose ends meet, and for each end (start, end) whether it meets a wall."""

    pieces: list[Piece]
    met: list[tuple[bool, bool]]


def join_ends(pieces: Sequence[Piece], slack: float = SLACK_PX) -> Joints:
    """Carry ends to where their wall meets another: half a wall farther, or back over its edge.

    All meetings are found first: the order of the walls changes nothing.
    """
    made: list[Piece] = []
    met: list[tuple[bool, bool]] = []
    ends = ends_of(pieces)
    alongs = np.array([one.along for one in pieces]).reshape(-1, 2)
    lengths = np.array([one.length for one in pieces])
    widths = np.array([one.width for one in pieces])
    for n, piece in enumerate(pieces):
        new: list[tuple[float, float]] = []
        found: list[bool] = []
        for end, outwards in ((piece.start, -alongs[n]), (piece.end, alongs[n])):
            at = _meeting(end, outwards, piece.width, n, ends, alongs, lengths, widths, slack)
            new.append(end if at is None else at)
            found.append(at is not None)
        if math.dist(*new) > 0.5 * piece.length:  # not of a stub that only joins
            made.append(replace(piece, start=new[0], end=new[1]))
        else:
            made.append(piece)
        met.append((found[0], found[1]))
    return Joints(made, met)


def _meeting(
    end: tuple[float, float],
    outwards: Floats,
    width: float,
    own: int,
    ends: Floats,
    alongs: Floats,
    lengths: Floats,
    widths: Floats,
    slack: float,
) -> tuple[float, float] | None:
    """Return where the line through an end meets the nearest wall, within reach of both."""
    sine = outwards[0] * alongs[:, 1] - outwards[1] * alongs[:, 0]
    steep = np.abs(sine) >= LEAST_TURN
    steep[own] = False
    if not steep.any():
        return None
    divisor = np.where(steep, sine, 1.0)
    away = ends[:, :2] - end
    ahead = (away[:, 0] * alongs[:, 1] - away[:, 1] * alongs[:, 0]) / divisor
    beside = (away[:, 0] * outwards[1] - away[:, 1] * outwards[0]) / divisor
    cosine = np.sqrt(np.maximum(0.0, 1.0 - np.minimum(1.0, np.abs(divisor)) ** 2))
    # half of the other wall, seen aslant, and of this one where they do not meet square
    reach = (widths / 2 + width / 2 * cosine) / np.abs(divisor) + slack
    over = (width / 2 + widths / 2 * cosine) / np.abs(divisor) + slack
    fits = steep & (np.abs(ahead) <= reach) & (beside >= -over) & (beside <= lengths + over)
    if not fits.any():
        return None
    best = int(np.argmin(np.where(fits, np.abs(ahead), np.inf)))
    return (
        float(end[0] + outwards[0] * ahead[best]), float(end[1] + outwards[1] * ahead[best])
    )  # fmt: skip
