"""What a mixture says: of the field at targets, and of each reading from the others."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.mixture import Mixture, Part

Floats = NDArray[np.float64]


def predict(mixture: Mixture, target_trend: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance of the noise-free field at the candidates' targets.

    Parameters
    ----------
    mixture : Mixture
    target_trend : array of shape (m, p)
        1 where a target belongs to a part of the floor; a row of zeros where nothing is known
        (the answer there is NaN).

    Returns
    -------
    mean, variance : arrays of shape (m,)
    """
    first = np.zeros(len(target_trend))
    second = np.zeros(len(target_trend))
    for parts in by_candidate(mixture):
        candidate, spectrum = parts[0].candidate, parts[0].spectrum
        rotated = candidate.columns() @ spectrum.basis
        squared = rotated**2
        for part in parts:
            one = spectrum.solve(part.share, spectrum.basis.T @ part.values)
            mean = target_trend @ one.means + rotated @ (one.precision * one.residual)
            left = target_trend - rotated @ one.weighted
            variance = (
                candidate.prior_variance
                - squared @ one.precision
                + np.einsum("ij,ij->i", left @ np.linalg.inv(one.information), left)
            )
            variance = part.sill * np.maximum(variance, 0.0)
            if part.spread.shape[1]:
                hidden = spectrum.solve(part.share, spectrum.basis.T @ part.spread)
                swing = target_trend @ hidden.means + rotated @ (
                    hidden.precision[:, None] * hidden.residual
                )
                variance += np.einsum("ij,ij->i", swing, swing)
            first += part.weight * mean
            second += part.weight * (variance + mean**2)
    unknown = ~target_trend.any(axis=1)
    first[unknown] = second[unknown] = np.nan
    return first, np.maximum(second - first**2, 0.0)


def predict_averages(
    mixture: Mixture, weights: sp.csr_array, trend: Floats
) -> tuple[Floats, Floats]:
    """Return the averages of the noise-free field that weights take, and their joint covariance.

    Block kriging with the covariance of all the cells (Journel and Huijbregts 1978, Mining
    Geostatistics, section V.A), for every part of the mixture; the covariance is the mean of
    theirs plus that of their averages.

    Parameters
    ----------
    mixture : Mixture
    weights : sparse array of shape (t, m)
        Over the candidates' targets.
    trend : array of shape (t, p)
        The weights times the trend of the targets.

    Returns
    -------
    mean : array of shape (t,)
    covariance : array of shape (t, t)
    """
    first = np.zeros(len(trend))
    second = np.zeros((len(trend), len(trend)))
    for parts in by_candidate(mixture):
        candidate, spectrum = parts[0].candidate, parts[0].spectrum
        rotated = (weights @ candidate.columns()) @ spectrum.basis
        prior = candidate.between(weights)
        for part in parts:
            one = spectrum.solve(part.share, spectrum.basis.T @ part.values)
            mean = trend @ one.means + rotated @ (one.precision * one.residual)
            left = trend - rotated @ one.weighted
            covariance = part.sill * (
                prior
                - (rotated * one.precision) @ rotated.T
                + left @ np.linalg.inv(one.information) @ left.T
            )
            hidden = spectrum.solve(part.share, spectrum.basis.T @ part.spread)
            swing = trend @ hidden.means + rotated @ (hidden.precision[:, None] * hidden.residual)
            first += part.weight * mean
            second += part.weight * (covariance + swing @ swing.T + np.outer(mean, mean))
    return first, second - np.outer(first, first)


def by_candidate(mixture: Mixture) -> list[list[Part]]:
    """Return the parts in groups of one candidate, whose covariances they share.

    Groups of one range follow each other: candidates may keep what they have in common.
    """
    groups: dict[int, list[Part]] = {}
    for part in sorted(mixture.parts, key=lambda one: one.candidate.range_m):
        groups.setdefault(id(part.candidate), []).append(part)
    return list(groups.values())


def leave_one_out(mixture: Mixture) -> tuple[Floats, Floats]:
    """Return error and sd of each reading predicted from the others, hyperparameters kept.

    A reading that stands alone in its part of the floor is predicted by none, and one that is an
    interval has no error: NaN.

    With P the projected precision of the readings, error i is (P z)_i / P_ii and its variance
    sill / P_ii (Dubrule 1983, Mathematical Geology 15).
    """
    first = np.zeros(len(mixture.trend))
    second = np.zeros(len(mixture.trend))
    for part in mixture.parts:
        spectrum = part.spectrum
        diagonal, unprojected = spectrum.diagonals(part.share)
        alone = diagonal <= 1e-10 * unprojected
        diagonal = np.where(alone | ~mixture.numbers, np.nan, diagonal)
        both = np.column_stack([part.values, part.spread])
        one = spectrum.solve(part.share, spectrum.basis.T @ both)
        errors = spectrum.basis @ (one.precision[:, None] * one.residual) / diagonal[:, None]
        error, hidden = errors[:, 0], errors[:, 1:]
        first += part.weight * error
        second += part.weight * (
            part.sill / diagonal + np.einsum("ij,ij->i", hidden, hidden) + error**2
        )
    return first, np.sqrt(np.maximum(second - first**2, 0.0))
