"""What is held of range, nugget and sill before the readings are seen, and what is given."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SHARES: Final = np.geomspace(1e-4, 100.0, 25)
"""Nuggets that are tried, as multiples of the sill, evenly on the log scale."""

SMALLEST_SHARE: Final = 1e-6
"""Stands for no nugget at all, so that readings at one place have a solution."""


@dataclass(frozen=True)
class Given:
    """Parameters that the user fixed (working-scale unit squared, and m); None: weighed."""

    range_m: float | None = None
    nugget: float | None = None
    sill: float | None = None

    @property
    def anything(self) -> bool:
        """Whether something is fixed."""
        return (self.range_m, self.nugget, self.sill) != (None, None, None)


@dataclass(frozen=True)
class Beliefs:
    """What is held of the parameters before the readings are seen, and what is given.

    Attributes
    ----------
    shares : array of shape (s,)
        Nuggets tried, in sills.
    nugget_median, nugget_log_sd : float or None
        Of a lognormal prior of the nugget; None: all shares equally likely.
    least_sill : float
        The field's variance is never taken for less.
    nugget, sill : float or None
        Given, not fitted.
    """

    shares: Floats = field(default_factory=SHARES.copy)
    nugget_median: float | None = None
    nugget_log_sd: float = 1.5
    least_sill: float = 0.0
    nugget: float | None = None
    sill: float | None = None

    @property
    def sill_is_known(self) -> bool:
        """Whether a sill was given, or follows from the nugget that was, for every share."""
        return self.sill is not None or bool(self.nugget)

    def tried(self) -> Floats:
        """Return the shares to try: one where the nugget is given as 0, or with the sill."""
        if self.nugget == 0:
            return np.array([SMALLEST_SHARE])
        if self.nugget is not None and self.sill is not None:
            return np.array([max(self.nugget / self.sill, SMALLEST_SHARE)])
        return self.shares

    def sills(self, squares: Floats, freedom: int) -> Floats:
        """Return the sill of each share, (..., s): given, or the likeliest that is allowed."""
        if self.sill is not None:
            return np.full(squares.shape, self.sill)
        if self.nugget is not None and self.nugget > 0:
            return np.broadcast_to(self.nugget / self.shares, squares.shape)
        return np.maximum(squares / freedom, self.least_sill)

    def log_prior(self, nugget: Floats) -> Floats:
        """Return the logarithm of the prior density of nuggets, up to a constant."""
        if self.nugget_median is None or self.nugget is not None:
            return np.zeros(nugget.shape)
        return np.asarray(-0.5 * (np.log(nugget / self.nugget_median) / self.nugget_log_sd) ** 2)
