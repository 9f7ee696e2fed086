"""Variogram models: one function of distance each; everything else follows from it.

The range is the practical range: the correlation there is exp(-3) = 0.0498 for the exponential
and the Gaussian model, and the range itself is where the spherical one reaches zero.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError

Model = Literal["spherical", "exponential", "gaussian"]
MODELS: Final[tuple[Model, ...]] = get_args(Model)


def correlation(h: NDArray[np.float64], *, model: Model, range_: float) -> NDArray[np.float64]:
    """Return the correlation at distances ``h`` (same unit as ``range_``; shape kept)."""
    u = np.abs(h) / range_
    if model == "spherical":
        return np.where(u < 1.0, 1.0 - 1.5 * u + 0.5 * u**3, 0.0)
    if model == "exponential":
        return np.exp(-3.0 * u)
    if model == "gaussian":
        return np.exp(-3.0 * u**2)
    raise EstimateError(f"model {model!r} is not known", todo=f"use one of {', '.join(MODELS)}")
