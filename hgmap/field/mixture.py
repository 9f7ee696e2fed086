"""Kriging that does not pretend to know its range and nugget: a weighted mixture over both.

For one covariance of the field, S (unit variance), and a nugget of ``share`` times the sill, the
readings z have the covariance sill (S + share W), W the relative error variances, round a mean
F b with one coefficient for each part of the floor that air does not join to the others. Sill and
means are profiled out (restricted likelihood: Patterson and Thompson 1971, Biometrika 58). The
estimate is that of every candidate, weighted by its likelihood and prior; its variance is the mean
of theirs plus the variance of their estimates.

With S~ = W^-1/2 S W^-1/2 = U L U', one eigendecomposition serves every share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError

Floats = NDArray[np.float64]

SHARES: Final = np.geomspace(1e-4, 100.0, 25)
"""Nuggets that are tried, as multiples of the sill; all equally likely beforehand (log scale)."""

LEAST_WEIGHT: Final = 2e-3
"""Candidates lighter than this, relative to the heaviest, are left out."""


class Candidate(Protocol):
    """One covariance of the field, to be weighed against others.

    ``gram`` is that of the readings, (n, n); ``columns()`` that between all targets and the
    readings, (m, n); ``prior_variance`` that of the targets, (m,).
    """

    @property
    def range_m(self) -> float: ...  # noqa: D102
    @property
    def log_prior(self) -> float: ...  # noqa: D102
    @property
    def gram(self) -> Floats: ...  # noqa: D102
    @property
    def prior_variance(self) -> Floats: ...  # noqa: D102
    def columns(self) -> Floats: ...  # noqa: D102


@dataclass(frozen=True)
class Spectrum:
    """A candidate in the basis in which the readings are independent."""

    basis: Floats
    eigenvalues: Floats
    values: Floats
    trend: Floats


@dataclass(frozen=True)
class Part:
    """One candidate with one nugget, and its weight."""

    candidate: Candidate
    share: float
    sill: float
    weight: float
    spectrum: Spectrum


@dataclass(frozen=True)
class Mixture:
    """What the readings make of the candidates.

    Attributes
    ----------
    parts : tuple of Part
        The heaviest first; weights add up to 1.
    values : array of shape (n,)
    error_weight : array of shape (n,)
        Relative variance of each reading's error (1 for one reading, 1/k for the mean of k).
    trend : array of shape (n, p)
        1 where a reading belongs to a part of the floor.
    """

    parts: tuple[Part, ...]
    values: Floats
    error_weight: Floats
    trend: Floats

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less means."""
        return int(self.trend.shape[0] - self.trend.shape[1])

    @property
    def nugget(self) -> float:
        """Weighted mean of the nugget (working-scale unit squared)."""
        return sum(one.weight * one.share * one.sill for one in self.parts)

    @property
    def sill(self) -> float:
        """Weighted mean of the field's variance (working-scale unit squared)."""
        return sum(one.weight * one.sill for one in self.parts)

    @property
    def range_m(self) -> float:
        """Weighted geometric mean of the range (m)."""
        logs = sum(p.weight * float(np.log(p.candidate.range_m)) for p in self.parts)
        return float(np.exp(logs))


def weigh(
    candidates: Sequence[Candidate],
    values: Floats,
    trend: Floats,
    *,
    error_weight: Floats | None = None,
    shares: Floats = SHARES,
    least_sill: float = 0.0,
) -> Mixture:
    """Weigh every candidate with every nugget by its restricted likelihood and prior.

    Raises
    ------
    EstimateError
        If the readings do not differ within the parts of the floor and no least sill is given, or
        they are too few for the means.
    """
    error_weight = np.ones(len(values)) if error_weight is None else error_weight
    freedom = len(values) - trend.shape[1]
    if freedom < 1:
        raise EstimateError("no more readings than separate parts of the floor")
    residual = values - trend @ np.linalg.lstsq(trend, values, rcond=None)[0]
    if least_sill <= 0 and np.abs(residual).max() <= 1e-12 * max(1.0, float(np.abs(values).max())):
        raise EstimateError("the readings do not differ")
    parts = []
    for candidate in candidates:
        spectrum = _spectrum(candidate, values, trend, error_weight)
        for share in shares:
            likelihood, sill = _likelihood(spectrum, float(share), freedom, least_sill)
            weight = likelihood + candidate.log_prior
            parts.append(Part(candidate, float(share), sill, weight, spectrum))
    top = max(part.weight for part in parts)
    kept = [(p, float(np.exp(p.weight - top))) for p in parts]
    kept = [(part, weight) for part, weight in kept if weight >= LEAST_WEIGHT]
    total = sum(weight for _, weight in kept)
    normalised = [replace(part, weight=weight / total) for part, weight in kept]
    normalised.sort(key=lambda part: -part.weight)
    return Mixture(tuple(normalised), values, error_weight, trend)


def _spectrum(
    candidate: Candidate, values: Floats, trend: Floats, error_weight: Floats
) -> Spectrum:
    root = 1.0 / np.sqrt(error_weight)
    gram = candidate.gram * np.outer(root, root)
    eigenvalues, vectors = np.linalg.eigh((gram + gram.T) / 2.0)
    basis = root[:, None] * vectors
    return Spectrum(basis, np.maximum(eigenvalues, 0.0), basis.T @ values, basis.T @ trend)


@dataclass(frozen=True)
class _Solution:
    """The generalised least squares of one candidate with one nugget, in its basis.

    ``weighted`` is the trend times the ``precision``, ``information`` the trend's with itself.
    """

    precision: Floats
    weighted: Floats
    information: Floats
    means: Floats
    residual: Floats


def _solve(spectrum: Spectrum, share: float) -> _Solution:
    precision = 1.0 / (spectrum.eigenvalues + share)
    weighted = spectrum.trend * precision[:, None]
    information = weighted.T @ spectrum.trend
    means = np.asarray(np.linalg.solve(information, weighted.T @ spectrum.values), np.float64)
    residual = spectrum.values - spectrum.trend @ means
    return _Solution(precision, weighted, information, means, residual)


def _likelihood(
    spectrum: Spectrum, share: float, freedom: int, least_sill: float
) -> tuple[float, float]:
    """Return the restricted log-likelihood up to a constant, at the best sill that is allowed."""
    one = _solve(spectrum, share)
    squares = float(one.precision @ one.residual**2)
    sill = max(squares / freedom, least_sill)
    log_determinant = float(np.linalg.slogdet(one.information)[1] - np.log(one.precision).sum())
    return -0.5 * (squares / sill + freedom * float(np.log(sill)) + log_determinant), sill


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
    by_candidate: dict[int, list[Part]] = {}
    for part in mixture.parts:
        by_candidate.setdefault(id(part.candidate), []).append(part)
    for parts in by_candidate.values():
        candidate = parts[0].candidate
        spectrum = parts[0].spectrum
        rotated = candidate.columns() @ spectrum.basis
        squared = rotated**2
        for part in parts:
            one = _solve(spectrum, part.share)
            mean = target_trend @ one.means + rotated @ (one.precision * one.residual)
            left = target_trend - rotated @ one.weighted
            variance = (
                candidate.prior_variance
                - squared @ one.precision
                + np.einsum("ij,ij->i", left @ np.linalg.inv(one.information), left)
            )
            variance = part.sill * np.maximum(variance, 0.0)
            first += part.weight * mean
            second += part.weight * (variance + mean**2)
    unknown = ~target_trend.any(axis=1)
    first[unknown] = second[unknown] = np.nan
    return first, np.maximum(second - first**2, 0.0)


def leave_one_out(mixture: Mixture) -> tuple[Floats, Floats]:
    """Return error and sd of each reading predicted from the others, hyperparameters kept.

    A reading that stands alone in its part of the floor is predicted by none: its error is NaN.

    With P the projected precision of the readings, error i is (P z)_i / P_ii and its variance
    sill / P_ii (Dubrule 1983, Mathematical Geology 15).
    """
    first = np.zeros(len(mixture.values))
    second = np.zeros(len(mixture.values))
    for part in mixture.parts:
        basis, one = part.spectrum.basis, _solve(part.spectrum, part.share)
        inner = np.diag(one.precision) - one.weighted @ np.linalg.solve(
            one.information, one.weighted.T
        )
        projected = basis @ inner @ basis.T
        diagonal = np.diag(projected)
        alone = diagonal <= 1e-10 * np.diag(basis @ (one.precision[:, None] * basis.T))
        diagonal = np.where(alone, np.nan, diagonal)
        error = projected @ mixture.values / diagonal
        first += part.weight * error
        second += part.weight * (part.sill / diagonal + error**2)
    return first, np.sqrt(np.maximum(second - first**2, 0.0))
