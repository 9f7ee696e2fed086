"""The bootstrap interval that is corrected for bias and acceleration (BCa)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from hgmap.decide.clearance.sample import CannotTell, Floats

Statistic = Callable[[Floats], Floats]
"""From samples along the last axis to one number each."""

RESAMPLES: Final = 10_000
AT_ONCE: Final = 1_000_000


def mean_of(samples: Floats) -> Floats:
    """Return the mean along the last axis."""
    return np.asarray(samples.mean(axis=-1))


def acceleration(values: ArrayLike, statistic: Statistic = mean_of) -> float:
    """Return ``a = sum d^3 / (6 (sum d^2)^(3/2))``, d the jackknife's distances from its mean.

    Efron and Tibshirani, An Introduction to the Bootstrap (1993), equation 14.15. Of the mean the
    distances are ``(x - mean) / (n - 1)``, and need no jackknife.
    """
    number = np.sort(np.asarray(values, dtype=np.float64))
    n = len(number)
    if statistic is mean_of and n > 1:
        distance = (number - number.mean()) / (n - 1)
    else:
        left_out = np.array([float(statistic(np.delete(number, i))) for i in range(n)])
        distance = left_out.mean() - left_out
    square = float(distance @ distance)
    return float((distance**3).sum() / (6.0 * square**1.5)) if square > 0.0 else 0.0


def bca_limits(
    values: ArrayLike,
    probabilities: Sequence[float],
    *,
    statistic: Statistic = mean_of,
    seed: int = 0,
    resamples: int = RESAMPLES,
) -> list[float] | CannotTell:
    """Return the BCa end point for each one-sided probability.

    The share ``Phi(z0 + (z0 + z) / (1 - a (z0 + z)))`` of the bootstrap distribution, z the normal
    quantile of the probability, z0 that of the share of replicates below the estimate (half of
    the ties). Efron and Tibshirani (1993), equations 14.9 to 14.15. The order of the values does
    not matter.
    """
    number = np.sort(np.asarray(values, dtype=np.float64))
    n = len(number)
    if n < 2 or number[0] == number[-1]:
        return CannotTell("all readings are the same number: their scatter is not known")
    draw = np.random.default_rng(seed)
    most = max(1, AT_ONCE // n)
    parts = [
        statistic(number[draw.integers(0, n, (min(most, resamples - done), n))])
        for done in range(0, resamples, most)
    ]
    replicates = np.sort(np.concatenate(parts))
    estimate = float(statistic(number))
    below = np.searchsorted(replicates, estimate * (1 - 1e-12), "left")
    upto = np.searchsorted(replicates, estimate * (1 + 1e-12), "right")
    share = float(below + upto) / 2.0 / resamples
    if not 0.0 < share < 1.0:
        return CannotTell("every bootstrap replicate lies on one side of the estimate")
    z0, a = float(special.ndtri(share)), acceleration(number, statistic)
    limits = []
    for one in probabilities:
        z = z0 + float(special.ndtri(one))
        if 1.0 - a * z <= 0.0:
            return CannotTell("the bootstrap's acceleration is too large for a limit")
        at = float(special.ndtr(z0 + z / (1.0 - a * z)))
        place = min(max(math.ceil(at * (resamples + 1)), 1), resamples)
        limits.append(float(replicates[place - 1]))
    return limits
