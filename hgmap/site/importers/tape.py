"""Walls taped one after another round a room, closed by the compass rule.

Corners are found from the bearing and length of each wall. They never quite meet where they began;
what is missing is spread over the walls in proportion to their lengths.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.bearings import azimuth_of
from hgmap.site.compass_rule import shared_by_length

Corners = NDArray[np.float64]
"""Shape (n, 2): x to the right and y up on the plan, m."""

MAY_MISS_M: Final = 0.05
MAY_MISS_SHARE: Final = 0.01
"""A room whose walls miss their beginning by more than both, in m and as a share of their sum, is
measured again. Ours, no source."""

_COMPASS: Final = {
    "n": 0.0, "north": 0.0, "up": 0.0, "ne": 45.0, "e": 90.0, "east": 90.0, "se": 135.0,
    "s": 180.0, "south": 180.0, "down": 180.0, "sw": 225.0, "w": 270.0, "west": 270.0, "nw": 315.0,
}  # fmt: skip
_NUMBER = r"(\d{1,3}(?:\.\d+)?)"
_QUADRANT = re.compile(rf"([ns])(?:orth|outh)?\s*{_NUMBER}\s*([ew])(?:ast|est)?")
_TURN = re.compile(rf"(right|left|r|l)\s*(?:by\s*)?{_NUMBER}?|{_NUMBER}\s*(right|left|r|l)")


@dataclass(frozen=True, slots=True)
class Direction:
    """Which way a wall runs: a bearing, clockwise from up on the plan, or a turn to the right."""

    degrees: float
    turn: bool


@dataclass(frozen=True, slots=True)
class Traverse:
    """Corners that close, and by how much they did not (m) before they were adjusted."""

    corners: Corners
    misclosure_m: float
    perimeter_m: float

    @property
    def may_miss_m(self) -> float:
        """By how much (m) walls of this length may miss their beginning."""
        return max(MAY_MISS_M, MAY_MISS_SHARE * self.perimeter_m)


def read_direction(text: str, *, turns: bool = False) -> Direction | None:
    """Read a direction as people write it; None for an empty cell.

    Parameters
    ----------
    text : str
        A bearing (``90``, ``N 45 E``, ``east``), or a turn (``right``, ``left 45``, ``straight``).
    turns : bool
        Whether the column holds turns, so that a bare number says neither right nor left.

    Raises
    ------
    PlanError
        If it is neither.

    Examples
    --------
    >>> read_direction("S 30 E"), read_direction("left")
    (Direction(degrees=150.0, turn=False), Direction(degrees=-90.0, turn=True))
    """
    plain = " ".join(re.sub(r"°|º|\bdeg(rees?)?\b", " ", text.casefold()).split())
    if not plain:
        return None
    if plain in _COMPASS and not (turns and plain in ("up", "down")):
        return Direction(_COMPASS[plain], turn=False)
    if plain in ("straight", "straight on", "on"):
        return Direction(0.0, turn=True)
    if found := _QUADRANT.fullmatch(plain):
        degrees = float(found[2])
        if degrees <= 90:
            return Direction(azimuth_of(found[1] == "s", degrees, found[3] == "w"), turn=False)
    if found := _TURN.fullmatch(plain):
        degrees = float(found[2] or found[3] or 90.0)
        side = 1.0 if (found[1] or found[4]).startswith("r") else -1.0
        if degrees < 180:
            return Direction(side * degrees, turn=True)
    elif re.fullmatch(_NUMBER, plain) and float(plain) <= 360:
        if turns:
            raise PlanError(
                f"a turn of {text[:40]!r} says neither right nor left",
                todo="write right, left, or right 45",
            )
        return Direction(float(plain) % 360, turn=False)
    raise PlanError(
        f"direction {text[:40]!r} is neither a bearing nor a turn",
        todo="write 0 to 360 (clockwise from up on the plan), N 45 E, east, right or left",
    )


def close(bearings_deg: list[float], lengths_m: list[float]) -> Traverse:
    """Lay walls end to end from the origin, and adjust their corners by the compass rule.

    Examples
    --------
    >>> made = close([90, 0, 270, 180], [4.0, 3.0, 4.02, 3.0])
    >>> round(made.misclosure_m, 3), made.corners.round(3).tolist()[1]
    (0.02, [4.006, 0.0])
    """
    lengths = np.array(lengths_m, dtype=np.float64)
    bearings = np.radians(np.array(bearings_deg, dtype=np.float64))
    legs = lengths[:, None] * np.column_stack([np.sin(bearings), np.cos(bearings)])
    walked = np.vstack([np.zeros(2), np.cumsum(legs, axis=0)])
    corners = shared_by_length(walked, lengths)[:-1]
    return Traverse(corners, float(math.hypot(*walked[-1])), float(lengths.sum()))
