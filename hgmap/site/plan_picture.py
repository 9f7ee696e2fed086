"""An image that lies under a floor's plan: a scan or photo of a drawing, placed in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

PICTURE_ENDINGS: Final = (".png", ".jpg", ".jpeg")

GUESSED: Final = "the scale of the plan was never set: its lengths and areas are a guess"

COARSEST_M_PER_PX: Final = 2.0
"""No plan can be drawn after an image whose pixels are larger (m). Ours, no source."""

FINEST_M_PER_PX: Final = 1e-5
"""Smaller pixels (m) are those of no scan, even of one at full size. Ours, no source."""


@dataclass(frozen=True, slots=True)
class PlanPicture:
    """Where an image lies in a floor's frame.

    Attributes
    ----------
    file : str
        Its path relative to the site folder.
    m_per_px : float
        Side of a pixel (m).
    angle_deg : float
        Direction of its rows, counter-clockwise from plan-right.
    origin_x_m, origin_y_m : float
        Place of its upper left corner (m); row 0 is at the top.
    guessed : bool
        Nobody has said its scale yet: every length of a plan drawn after it is a guess.
    """

    file: str
    m_per_px: float
    angle_deg: float = 0.0
    origin_x_m: float = 0.0
    origin_y_m: float = 0.0
    guessed: bool = False

    @property
    def affine(self) -> tuple[float, float, float, float, float, float]:
        """``(a, b, c, d, e, f)``: x = a column + b row + c, y = d column + e row + f."""
        turn = math.radians(self.angle_deg)
        along, across = self.m_per_px * math.cos(turn), self.m_per_px * math.sin(turn)
        return along, across, self.origin_x_m, across, -along, self.origin_y_m

    def to_metres(self, pixels: ArrayLike) -> NDArray[np.float64]:
        """Return places (m) for (column, row) pairs, shape (n, 2)."""
        a, b, c, d, e, f = self.affine
        moved: NDArray[np.float64] = np.asarray(pixels, float) @ np.array([[a, d], [b, e]])
        return np.add(moved, (c, f))

    def to_pixels(self, places_m: ArrayLike) -> NDArray[np.float64]:
        """Return (column, row) pairs for places (m), shape (n, 2)."""
        a, b, c, d, e, f = self.affine
        inverse = np.linalg.inv(np.array([[a, d], [b, e]]))
        found: NDArray[np.float64] = (np.asarray(places_m, float) - [c, f]) @ inverse
        return found
