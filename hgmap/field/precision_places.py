"""What many readings leave uncertain between any two places, by the precision form."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from hgmap.field.precision import OneShare
from hgmap.field.precision_field import OneRange, PrecisionField
from hgmap.field.precision_mixture import PrecisionEstimate
from hgmap.field.walls import WallField

Floats = NDArray[np.float64]


class PlacesByPrecision:
    """The error's covariance between places, by the heaviest candidate alone.

    In the terms of :mod:`hgmap.field.precision`, for places that read the cells with V:
    sill V D (A⁻¹ + B J⁻¹ B') D V'. NaN where no reading reaches.

    Parameters
    ----------
    walls : WallField
    estimate : PrecisionEstimate
        Of the same floor.
    """

    def __init__(self, walls: WallField, estimate: PrecisionEstimate) -> None:
        heaviest = estimate.parts[0]
        self._common: PrecisionField = estimate.common
        with threadpool_limits(1):
            over = OneRange(self._common, walls.kernel(heaviest.range_m))
            self._share = OneShare(over, heaviest.share)
            self._reach, self._covariance = self._share.means(heaviest.flux)
        self._sill = heaviest.sill

    def covariance(self, a: Floats, b: Floats, room: int) -> Floats:
        """Return the error covariance between places (m) of a room, shape (len(a), len(b))."""
        at_a, at_b = self._read(a, room), self._read(b, room)
        with threadpool_limits(1):
            solved = self._share.solution(at_b.T.toarray())
        means = (at_a @ self._reach) @ self._covariance @ (at_b @ self._reach).T
        out = np.asarray(self._sill * (at_a @ solved + means))
        out[~self._known(at_a)] = np.nan
        out[:, ~self._known(at_b)] = np.nan
        return out

    def variance(self, a: Floats, room: int) -> Floats:
        """Return the error variance at places (m) of a room, shape (len(a),)."""
        return np.maximum(np.diag(self.covariance(a, a, room)), 0.0)

    def _read(self, points: Floats, room: int) -> sp.csr_array:
        """Return V D over the cells that readings reach."""
        common = self._common
        weights = common.graph.interpolation(points, np.full(len(points), room))
        return sp.csr_array(weights[:, common.cells] * self._share.over.scale)

    @staticmethod
    def _known(weights: sp.csr_array) -> NDArray[np.bool_]:
        return np.asarray(np.diff(weights.indptr) > 0)
