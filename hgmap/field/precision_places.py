"""What many readings leave uncertain between any two places, by the precision form."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.precision import OneShare
from hgmap.field.precision_field import OneRange, PrecisionField
from hgmap.field.precision_mixture import PrecisionEstimate
from hgmap.field.threads import one_thread
from hgmap.field.walls import WallField

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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
        with one_thread():
            over = OneRange(self._common, walls.kernel(heaviest.range_m))
            self._share = OneShare(over, heaviest.share)
            self._reach, self._covariance = self._share.means(heaviest.flux)
        self._sill, self._flux = heaviest.sill, heaviest.flux

    def covariance(self, a: Floats, b: Floats, room: int) -> Floats:
        """Return the error covariance between places (m) of a room, shape (len(a), len(b))."""
        return self.of_weights(self._weights(a, room), self._weights(b, room))

    def between(self, a: Floats, room_a: Ints, b: Floats, room_b: Ints) -> Floats:
        """Return the error covariance between places (m) of any rooms, shape (len(a), len(b))."""
        graph = self._common.graph
        return self.of_weights(graph.interpolation(a, room_a), graph.interpolation(b, room_b))

    def of_weights(self, weights_a: sp.csr_array, weights_b: sp.csr_array) -> Floats:
        """Return the error covariance between what weights read of all cells."""
        at_a, at_b = self._scaled(weights_a), self._scaled(weights_b)
        with one_thread():
            solved = self._share.solution(at_b.T.toarray())
        means = (at_a @ self._reach) @ self._covariance @ (at_b @ self._reach).T
        out = np.asarray(self._sill * (at_a @ solved + means))
        out[~self._known(at_a)] = np.nan
        out[:, ~self._known(at_b)] = np.nan
        return out

    def variance(self, a: Floats, room: int) -> Floats:
        """Return the error variance at places (m) of a room, shape (len(a),)."""
        return np.maximum(np.diag(self.covariance(a, a, room)), 0.0)

    def reading_weights(self, weights: sp.csr_array) -> Floats:
        """Return the weight of each reading in what weights (t, m) read, shape (t, n).

        The estimate is linear in the readings: covariance of its error with theirs, N⁻¹ times.
        """
        at = self._scaled(weights)
        share, reads = self._share, self._common.reads
        with one_thread():
            solved = share.solution(at.T.toarray())
        scaled = reads @ (share.over.scale[:, None] * solved)
        scaled += (reads @ (share.over.scale[:, None] * self._reach)) @ (
            self._covariance @ (at @ self._reach).T
        )
        found = np.asarray((scaled / share.noise[:, None]).T)
        found[~self._known(at)] = np.nan
        return found

    def draws(self, sill: Floats, random: np.random.Generator) -> Floats:
        """Draw fields over the cells that readings reach, one for each sill, shape (c, count).

        Free fields are corrected by the kriging of what they miss at the readings (see
        :mod:`hgmap.field.simulate`).
        """
        share, common = self._share, self._common
        over, noise = share.over, share.noise
        size = np.sqrt(sill)
        free = over.kernel.simulate(len(sill), random)[common.cells]
        if self._flux > 0:
            own = random.normal(size=(common.parts.shape[1], len(sill)))
            free += np.sqrt(self._flux) * share.flux_shape[:, None] * (common.parts @ own)
        free *= size
        error = np.sqrt(noise)[:, None] * random.normal(size=(len(noise), len(sill))) * size
        missing = common.values[:, None] - common.reads @ free - error
        start = share.solution(over.scale[:, None] * (common.reads.T @ (missing / noise[:, None])))
        read_reach = common.reads @ (over.scale[:, None] * self._reach)
        coefficients = self._covariance @ (read_reach.T @ (missing / noise[:, None]))
        return np.asarray(free + over.scale[:, None] * (start + self._reach @ coefficients))

    def _weights(self, points: Floats, room: int) -> sp.csr_array:
        return self._common.graph.interpolation(points, np.full(len(points), room))

    def _scaled(self, weights: sp.csr_array) -> sp.csr_array:
        """Return V D over the cells that readings reach."""
        return sp.csr_array(weights[:, self._common.cells] * self._share.over.scale)

    @staticmethod
    def _known(weights: sp.csr_array) -> NDArray[np.bool_]:
        return np.asarray(np.diff(weights.indptr) > 0)
