"""Limits and round ticks of an axis, plain numbers on log scales too."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LOG_TICKS: Final[tuple[tuple[int, tuple[int, ...]], ...]] = (
    (3, (1,)), (2, (1,)), (1, (1,)), (1, (1, 3)), (1, (1, 2, 5)), (1, (1, 2, 3, 5, 7)),
    (1, (1, 2, 3, 4, 5, 6, 7, 8, 9)),
)  # fmt: skip
"""Powers of ten between ticks and the digits that have one, the sparest first."""


def ticks(low: float, high: float, *, log: bool) -> list[float]:
    """Return a few round numbers from low to high.

    Examples
    --------
    >>> ticks(0.03, 40.0, log=True), ticks(2.0, 3.1, log=True), ticks(0.0, 1.0, log=False)
    ([0.1, 1.0, 10.0], [2.0, 3.0], [0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
    """
    from matplotlib.ticker import MaxNLocator

    found: list[float] = []
    if log:
        decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        for step, digits in _LOG_TICKS:
            found = [float(f"{d}e{ten}") for ten in decades if ten % step == 0 for d in digits]
            found = [one for one in found if low <= one <= high]
            if len(found) >= 3:
                return found
        if len(found) == 2:
            return found
    return [
        round(float(one), 12)
        for one in MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
        if low - 1e-12 <= one <= high + 1e-12
    ]


def limits(values: Floats, *, log: bool, margin: float = 0.06) -> tuple[float, float]:
    """Return limits round all finite values, wider by a share; never of no width."""
    known = values[np.isfinite(values) & ((values > 0) if log else True)]
    if not len(known):
        return (0.1, 10.0) if log else (0.0, 1.0)
    low, high = (float(one) for one in (known.min(), known.max()))
    if log:
        wide = max(math.log(high / low) * margin, 0.1)
        middle = max(0.0, (math.log(4.0) - math.log(high / low)) / 2.0)
        return low * math.exp(-wide - middle), high * math.exp(wide + middle)
    wide = margin * (high - low) or max(0.5 * abs(high), 1e-3)
    return low - wide, high + wide
