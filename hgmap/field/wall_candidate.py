"""Candidates of the field through the doors: a range and a wall flux each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.points import Progress
from hgmap.field.walls import WallField, WallKernel

Floats = NDArray[np.float64]

WALL_FLUX: Final[Mapping[float, float]] = {0.0: 0.6, 0.1: 0.2, 1.0: 0.2}
"""Variances, in sills, of an even flux out of the walls that are tried, and their prior weights."""


@dataclass
class WallCandidate:
    """A range and a wall flux, over the cells of a graph (see ``mixture.Candidate``).

    Parameters
    ----------
    kernel : WallKernel
    weights : sparse array of shape (n, m)
        How the readings read the cells.
    component : array of shape (m,)
        The connected part that each cell belongs to.
    half : array of shape (m, n)
        ``kernel.half(weights)``.
    flux : float
        Variance of the wall flux, in sills.
    log_prior : float
    """

    kernel: WallKernel
    weights: sp.csr_array
    component: NDArray[np.int64]
    half: Floats
    flux: float
    log_prior: float
    gram: Floats = field(init=False)
    prior_variance: Floats = field(init=False)
    range_m: float = field(init=False)

    def __post_init__(self) -> None:
        self.range_m = self.kernel.range_m
        self.gram = self.half.T @ self.half
        self.prior_variance = np.ones(len(self.component))
        if self.flux > 0:
            there = self._flux_at(self.weights)
            self.gram = self.gram + self.flux * there @ there.T
            self.prior_variance = self.prior_variance + self.flux * self.kernel.wall_flux**2

    def columns(self) -> Floats:
        """Return the covariance between all cells and the readings, shape (m, n)."""
        return self._columns(self.half, self.weights)

    def columns_to(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between all cells and what weights read."""
        return self._columns(self.kernel.half(weights), weights)

    def simulate(self, count: int, random: np.random.Generator) -> Floats:
        """Draw fields of unit sill over all cells, shape (m, count)."""
        drawn = self.kernel.simulate(count, random)
        if self.flux > 0:
            own = random.normal(size=(int(self.component.max()) + 1, count))
            drawn += np.sqrt(self.flux) * self.kernel.wall_flux[:, None] * own[self.component]
        return drawn

    def _flux_at(self, weights: sp.csr_array) -> Floats:
        """Return the flux of each part of the floor at points, shape (n, parts)."""
        parts = sp.csr_array(
            (self.kernel.wall_flux, (np.arange(len(self.component)), self.component))
        )
        return np.asarray((weights @ parts).toarray())

    def _columns(self, half: Floats, weights: sp.csr_array) -> Floats:
        covariance = self.kernel.columns(half)
        if self.flux > 0:
            there = self._flux_at(weights)[:, self.component].T
            covariance = covariance + self.flux * self.kernel.wall_flux[:, None] * there
        return covariance


def wall_candidates(
    walls: WallField,
    weights: sp.csr_array,
    ranges_m: Floats,
    *,
    wall_flux: Mapping[float, float] = WALL_FLUX,
    progress: Progress | None = None,
) -> list[WallCandidate]:
    """Return a candidate for each range (m) and wall flux.

    Beforehand each range is as likely as any other (flat in the range, not in its logarithm).
    """
    candidates = []
    for done, range_m in enumerate(ranges_m, start=1):
        kernel = walls.kernel(float(range_m))
        half = kernel.half(weights)
        candidates += [
            WallCandidate(
                kernel, weights, walls.graph.component, half, flux, float(np.log(range_m * share))
            )
            for flux, share in wall_flux.items()
        ]
        if progress is not None:
            progress(done, len(ranges_m) + 1)
    return candidates
