"""How much doubt one more reading would be expected to settle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Floats = NDArray[np.float64]


def settled_probability(
    excess: Floats,
    variance: Floats,
    covariance: Floats,
    place_variance: float,
    noise_variance: float,
    *,
    remediate_at: float,
    clear_at: float,
) -> Floats:
    """Return, cell by cell, the probability that one more reading takes the cell out of doubt.

    A reading at a place leaves the variance v' = v - c² / (v_p + noise) and moves the estimate by
    a normal amount of variance s² = v - v'. The cell is settled when its probability of being
    above the level then is at least ``remediate_at`` or at most ``clear_at``:

    P(m' - L >= -q_r sqrt(v')) + P(m' - L <= -q_c sqrt(v')),  q = the normal quantile of 1 - p.

    Parameters
    ----------
    excess : array of shape (m,)
        Estimate minus level, working scale.
    variance : array of shape (m,)
        Variance v of the noise-free field in the cells.
    covariance : array of shape (m,)
        Error covariance c between the cells and the place.
    place_variance, noise_variance : float
        Variance v_p at the place, and that of one reading's error.
    """
    gain = np.minimum(covariance**2 / max(place_variance + noise_variance, 1e-300), variance)
    left = np.sqrt(np.maximum(variance - gain, 0.0))
    move = np.sqrt(np.maximum(gain, 1e-300))
    above = norm.sf((left * norm.ppf(remediate_at) - excess) / move)
    below = norm.cdf((left * norm.ppf(clear_at) - excess) / move)
    return np.asarray(above + below)
