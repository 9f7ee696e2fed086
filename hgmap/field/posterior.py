"""What the readings leave uncertain, between any two places: the kriging error's covariance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from hgmap.errors import EstimateError
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Posterior:
    """Ordinary kriging's error covariance for the noise-free field.

    With C the covariance of the readings (nugget on the diagonal), c(a) that between them and
    place a, 1 a column of ones:

    cov(a, b) = C(a, b) - c(a)' C⁻¹ c(b) + r(a) r(b) / (1' C⁻¹ 1),  r(a) = 1 - 1' C⁻¹ c(a)

    (Cressie 1993, Statistics for Spatial Data, section 3.2, written for two places).

    Parameters
    ----------
    xy : array of shape (n, 2), m
        Places of the readings, none repeated.
    variogram : Variogram
    error_variance : array of shape (n,), optional
        Of each reading's own error, beside the nugget.
    """

    def __init__(
        self, xy: Floats, variogram: Variogram, error_variance: Floats | None = None
    ) -> None:
        self.xy = xy
        self.variogram = variogram
        covariance = variogram.covariance(xy, xy) + variogram.nugget * np.eye(len(xy))
        if error_variance is not None:
            covariance[np.diag_indices(len(xy))] += error_variance
        try:
            self._factor = cho_factor(covariance, lower=True)
        except np.linalg.LinAlgError:
            raise EstimateError(
                "the covariance of the readings is singular", todo="give a nugget above 0"
            ) from None
        self._ones = cho_solve(self._factor, np.ones(len(xy)))

    def covariance(self, a: Floats, b: Floats, room: int = -1) -> Floats:
        """Return the error covariance between places (m), shape (len(a), len(b)).

        Straight lines know no ``room``.
        """
        ca, cb = self.variogram.covariance(self.xy, a), self.variogram.covariance(self.xy, b)
        ra, rb = 1.0 - self._ones @ ca, 1.0 - self._ones @ cb
        reduction = ca.T @ cho_solve(self._factor, cb)
        return np.asarray(
            self.variogram.covariance(a, b) - reduction + np.outer(ra, rb) / self._ones.sum()
        )

    def between(self, a: Floats, room_a: Ints, b: Floats, room_b: Ints) -> Floats:
        """Return the error covariance between places (m), whatever their rooms."""
        return self.covariance(a, b)

    def variance(self, a: Floats, room: int = -1) -> Floats:
        """Return the error variance at places, shape (len(a),); never negative."""
        ca = self.variogram.covariance(self.xy, a)
        r = 1.0 - self._ones @ ca
        explained = np.einsum("ij,ij->j", ca, cho_solve(self._factor, ca))
        variance = self.variogram.psill - explained + r**2 / self._ones.sum()
        return np.asarray(np.maximum(variance, 0.0))
