"""One covariance of the field with every nugget, in the basis in which the readings part.

For a covariance of the field S (unit variance) and a nugget of ``share`` times the sill, the
readings have the covariance sill (S + share W), W the relative error variances. With
W^-1/2 S W^-1/2 = U L U', one eigendecomposition serves every share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Solution:
    """The generalised least squares of one candidate with one nugget, in its basis.

    ``weighted`` is the trend times the ``precision``, ``information`` the trend's with itself.
    """

    precision: Floats
    weighted: Floats
    information: Floats
    means: Floats
    residual: Floats


@dataclass(frozen=True)
class Spectrum:
    """A covariance of the readings in the basis in which they are independent.

    Attributes
    ----------
    basis : array of shape (n, n)
        W^-1/2 U: its transpose turns readings into independent numbers.
    eigenvalues : array of shape (n,)
    trend : array of shape (n, p)
        In that basis.
    """

    basis: Floats
    eigenvalues: Floats
    trend: Floats

    @classmethod
    def of(cls, gram: Floats, trend: Floats, error_weight: Floats) -> Spectrum:
        """Take the covariance ``gram`` of the readings (n, n) apart."""
        root = 1.0 / np.sqrt(error_weight)
        relative = gram * np.outer(root, root)
        eigenvalues, vectors = np.linalg.eigh((relative + relative.T) / 2.0)
        basis = root[:, None] * vectors
        return cls(basis, np.maximum(eigenvalues, 0.0), basis.T @ trend)

    def solve(self, share: float, rotated: Floats) -> Solution:
        """Fit the means to readings that were turned into the basis, shape (n,) or (n, k)."""
        precision = 1.0 / (self.eigenvalues + share)
        weighted = self.trend * precision[:, None]
        information = weighted.T @ self.trend
        means = np.asarray(np.linalg.solve(information, weighted.T @ rotated), np.float64)
        return Solution(precision, weighted, information, means, rotated - self.trend @ means)

    def projected_precision(self, share: float) -> Floats:
        """Return the precision of the readings, in sills, with the means projected out (n, n)."""
        one = self.solve(share, self.trend)
        means = self.basis @ one.weighted
        return self.precision(share) - means @ np.linalg.solve(one.information, means.T)

    def diagonals(self, share: float) -> tuple[Floats, Floats]:
        """Return the diagonals of the projected precision and of the precision, (n,) each."""
        one = self.solve(share, self.trend)
        means = self.basis @ one.weighted
        diagonal = self.basis**2 @ one.precision
        left = np.einsum("ij,ji->i", means, np.linalg.solve(one.information, means.T))
        return diagonal - left, diagonal

    def precision(self, share: float) -> Floats:
        """Return the precision of the readings, in sills, the means known (n, n)."""
        return np.asarray((self.basis / (self.eigenvalues + share)) @ self.basis.T)


class Profiles:
    """The restricted likelihood of several spectra over all shares, for any readings.

    Parameters
    ----------
    spectra : sequence of Spectrum
        Of the same readings and parts.
    shares : array of shape (s,)

    Attributes
    ----------
    log_determinant : array of shape (spectra, s)
    """

    def __init__(self, spectra: Sequence[Spectrum], shares: Floats) -> None:
        n, parts = spectra[0].trend.shape
        shape = len(spectra), len(shares)
        self._all_bases = np.vstack([one.basis.T for one in spectra])
        # readings less their plain means: the squares are the same, and lose no digits to them
        root = spectra[0].basis.T
        flat = np.linalg.solve(root, spectra[0].trend)
        self._means = flat, np.linalg.pinv(flat)
        trend = np.stack([one.trend.T for one in spectra])
        # filled one by one: with many readings these are the large ones
        self._precision = np.empty((*shape, n))
        self._weighted = np.empty((*shape, parts, n))
        for k, one in enumerate(spectra):
            self._precision[k] = 1.0 / (one.eigenvalues + shares[:, None])
            self._weighted[k] = self._precision[k][:, None, :] * one.trend.T
        information = self._weighted @ trend.transpose(0, 2, 1)[:, None]
        self._covariance = np.linalg.inv(information)
        self.log_determinant = (
            np.linalg.slogdet(information)[1] - np.log(self._precision).sum(axis=2)
        )  # fmt: skip

    def squares(self, values: Floats) -> Floats:
        """Return the weighted sums of squares round the means, shape (spectra, s)."""
        flat, fit = self._means
        count, shares, parts, n = self._weighted.shape
        rotated = (self._all_bases @ (values - flat @ (fit @ values))).reshape(count, n, 1)
        total = (self._precision @ rotated**2)[..., 0]
        score = self._weighted.reshape(count, shares * parts, n) @ rotated
        if parts == 1:
            return np.maximum(total - self._covariance[..., 0, 0] * score[..., 0] ** 2, 0.0)
        score = score.reshape(count, shares, parts, 1)
        explained = score.swapaxes(-1, -2) @ (self._covariance @ score)
        return np.asarray(np.maximum(total - explained[..., 0, 0], 0.0))
