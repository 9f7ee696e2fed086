"""What the readings leave uncertain between places, by the heaviest candidate alone."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from hgmap.field.graph import CellGraph
from hgmap.field.mixture import Mixture

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class MixturePosterior:
    """Kriging's error covariance of the noise-free field, the means unknown.

    With C the covariance of the readings (nugget on its diagonal), c that between cells and
    readings, F and f the trend of readings and cells:

    cov = C(a, b) - c(a) C⁻¹ c(b)' + r(a) (F' C⁻¹ F)⁻¹ r(b)',  r = f - c C⁻¹ F

    (Cressie 1993, Statistics for Spatial Data, section 3.4).
    """

    def __init__(self, graph: CellGraph, mixture: Mixture, target_trend: Floats) -> None:
        part = mixture.parts[0]
        self._graph, self._candidate, self._sill = graph, part.candidate, part.sill
        matrix = part.candidate.gram + part.share * np.diag(mixture.error_weight)
        self._factor = cho_factor(matrix, lower=True)
        self._solved_trend = cho_solve(self._factor, mixture.trend)
        self._information = np.linalg.inv(mixture.trend.T @ self._solved_trend)
        self._target_trend = target_trend

    @cached_property
    def _columns(self) -> Floats:
        return self._candidate.columns()

    def covariance(self, a: Floats, b: Floats, room: int) -> Floats:
        """Return the error covariance between places (m) of a room, shape (len(a), len(b))."""
        return self.of_weights(self._weights(a, room), self._weights(b, room))

    def variance(self, a: Floats, room: int) -> Floats:
        """Return the error variance at places (m) of a room, shape (len(a),)."""
        return np.maximum(np.diag(self.covariance(a, a, room)), 0.0)

    def between(self, a: Floats, room_a: Ints, b: Floats, room_b: Ints) -> Floats:
        """Return the error covariance between places (m) of any rooms, shape (len(a), len(b))."""
        at_a, at_b = self._graph.interpolation(a, room_a), self._graph.interpolation(b, room_b)
        return self.of_weights(at_a, at_b)

    def of_weights(self, at_a: sp.csr_array, at_b: sp.csr_array) -> Floats:
        """Return the error covariance between what weights read of the cells."""
        prior = at_a @ self._candidate.columns_to(at_b)
        ca, cb = at_a @ self._columns, at_b @ self._columns
        left_a, left_b = self._left(at_a, ca), self._left(at_b, cb)
        return np.asarray(
            self._sill
            * (prior - ca @ cho_solve(self._factor, cb.T) + left_a @ self._information @ left_b.T)
        )

    def _weights(self, points: Floats, room: int) -> sp.csr_array:
        return self._graph.interpolation(points, np.full(len(points), room))

    def _left(self, weights: sp.csr_array, columns: Floats) -> Floats:
        """Return what the readings do not say of the means, shape (points, parts)."""
        return np.asarray(weights @ self._target_trend - columns @ self._solved_trend)
