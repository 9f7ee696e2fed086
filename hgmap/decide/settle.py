"""How much doubt further readings would be expected to settle, cell by cell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

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

    A reading at a place takes c² / (v_p + noise) from the variance of a cell
    (:func:`ruling_probabilities`).

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
    gain = covariance**2 / max(place_variance + noise_variance, 1e-300)
    above, below = ruling_probabilities(
        excess, variance, gain, remediate_z=-ndtri(remediate_at), clear_z=-ndtri(clear_at)
    )
    return np.asarray(above + below)


def ruling_probabilities(
    excess: Floats,
    variance: Floats,
    gain: Floats,
    *,
    remediate_z: float,
    clear_z: float,
    least: Floats | float = 0.0,
) -> tuple[Floats, Floats]:
    """Return the probabilities that readings to come make a cell remediate, and clear.

    Readings that take ``gain`` from the variance v leave v' = v - gain, whatever they read, and
    move the estimate by a normal amount of variance ``gain`` (the estimate is linear in them). The
    cell is settled when its probability of being above the level L then is at least that of
    remediate, or at most that of clear. With m' the new estimate and z the quantile that the
    probability stands for:

    P(m' - L >= -z_r sqrt(v')) and P(m' - L <= -z_c sqrt(v'))

    Of several readings ``gain`` is what they take together, so the order does not matter.

    Parameters
    ----------
    excess, variance, gain : arrays that broadcast
        Estimate minus level, its variance, and what is taken from that (working scale).
    remediate_z, clear_z : float
        Standardised excess below zero at which the probability above the level is that of the
        zone: 0 for a half, 1.64 for 0.05 by the normal distribution.
    least : array or float
        Variance that no number of readings goes below: what they share never averages out.
    """
    gain = np.minimum(gain, variance)
    left = np.sqrt(np.maximum(variance - gain, np.minimum(variance, least)))
    move = np.sqrt(np.maximum(gain, 1e-300))
    above = ndtr((excess + remediate_z * left) / move)
    below = ndtr((-excess - clear_z * left) / move)
    return np.asarray(above), np.asarray(below)
