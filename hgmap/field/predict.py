"""What a mixture says: of the field at targets, and of each reading from the others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.forms import Forms
from hgmap.field.mixture import Features, Mixture, Part
from hgmap.field.points import Check, never

Floats = NDArray[np.float64]

TARGETS_AT_ONCE: Final = 2000
"""Their features stay in the processor's cache."""


def predict(mixture: Mixture, target_trend: Floats, check: Check = never) -> tuple[Floats, Floats]:
    """Return mean and variance of the noise-free field at the candidates' targets.

    Parameters
    ----------
    mixture : Mixture
    target_trend : array of shape (m, p)
        1 where a target belongs to a part of the floor; a row of zeros where nothing is known
        (the answer there is NaN).
    check : callable, optional
        Called for every few thousand targets; raising inside it cancels.

    Returns
    -------
    mean, variance : arrays of shape (m,)
    """
    part_of = np.asarray(target_trend.argmax(axis=1))
    owners = np.asarray(target_trend.argmax(axis=0))
    mean, square, variance = np.zeros((3, len(target_trend)))
    about: Floats | None = None
    for features, groups in _by_features(mixture):
        check()
        forms = Forms.of(mixture, features, groups, owners)
        shape = next((own.shape for _, own in groups if own.shape is not None), None)
        middle = np.empty(len(target_trend))
        for start in range(0, len(mean), TARGETS_AT_ONCE):
            check()
            some = slice(start, start + TARGETS_AT_ONCE)
            at = None if about is None else about[some]
            found = forms.at(
                features.matrix[some], part_of[some], None if shape is None else shape[some], at
            )
            middle[some] = found.first
            mean[some] += found.mean
            square[some] += found.square
            variance[some] += found.variance
        for parts, _ in groups:
            prior = sum(part.weight * part.sill for part in parts)
            variance += prior * (parts[0].candidate.prior_variance - forms.level[part_of])
        about = middle if about is None else about
    if about is not None:  # of a shift that is near all means, so that no digits are lost
        variance = np.maximum(variance, 0.0) + np.maximum(square - mean**2, 0.0)
        mean = mean + about
    unknown = ~target_trend.any(axis=1)
    mean[unknown] = variance[unknown] = np.nan
    return mean, variance


def _by_features(
    mixture: Mixture,
) -> Iterator[tuple[Features, list[tuple[list[Part], Features]]]]:
    """Yield what candidates have in common, with the parts and the own features of each."""
    shared: list[tuple[list[Part], Features]] = []
    for parts in by_candidate(mixture):
        own = parts[0].candidate.features()
        if shared and own.matrix is not shared[0][1].matrix:
            yield shared[0][1], shared
            shared = []
        shared.append((parts, own))
    yield shared[0][1], shared


def predict_averages(
    mixture: Mixture, weights: sp.csr_array, trend: Floats, check: Check = never
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
    check : callable, optional
        Called candidate by candidate; raising inside it cancels.

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
        check()
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
