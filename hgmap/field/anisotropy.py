"""A range that depends on direction: an ellipse, turned and stretched into a circle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError


@dataclass(frozen=True)
class Anisotropy:
    """Direction of the longest range, and the shortest range as a share of it.

    Attributes
    ----------
    ratio : float
        Range across that direction over the range along it, from 0.001 to 1.
    angle_deg : float
        Direction of the longest range, in degrees counter-clockwise from the x axis: 0 along x,
        90 along y. A direction and its opposite are the same.

    Raises
    ------
    EstimateError
        If a number cannot be used.

    Examples
    --------
    Air spreads 10 m along a corridor that runs north-east, and 2.5 m across it:

    >>> corridor = Anisotropy(ratio=0.25, angle_deg=45)
    >>> along, across = np.array([[1.0, 1.0]]), np.array([[-1.0, 1.0]])
    >>> round(float(np.linalg.norm(corridor.straighten(along))), 3)
    1.414
    >>> round(float(np.linalg.norm(corridor.straighten(across))), 3)
    5.657
    """

    ratio: float
    angle_deg: float = 0.0

    def __post_init__(self) -> None:
        if not 1e-3 <= self.ratio <= 1:
            raise EstimateError(
                f"the ratio of the ranges is {self.ratio}",
                todo="give the shorter over the longer, from 0.001 to 1",
            )
        if not math.isfinite(self.angle_deg):
            raise EstimateError(f"angle_deg is {self.angle_deg}", todo="give a number of degrees")

    @property
    def matrix(self) -> NDArray[np.float64]:
        """What turns the longest range onto x and stretches y by 1 / ratio; shape (2, 2)."""
        angle = math.radians(self.angle_deg)
        cosine, sine = math.cos(angle), math.sin(angle)
        return np.array([[cosine, sine], [-sine / self.ratio, cosine / self.ratio]])

    def straighten(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return places between which plain distance counts, shape (n, 2), unit kept.

        The longest range is the one that holds there.
        """
        return np.asarray(xy @ self.matrix.T)
