"""An estimate of every cell by the covariances of the readings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.graph import CellGraph
from hgmap.field.mixture import Mixture
from hgmap.field.mixture_posterior import MixturePosterior
from hgmap.field.points import Check, never
from hgmap.field.predict import by_candidate, leave_one_out, predict_averages
from hgmap.field.simulate import DRAWS, Draws, simulate

Floats = NDArray[np.float64]

MOST_KEPT: Final = 6_000_000
"""Weights of readings in cells (8 bytes each) that are kept, so that a further place is quick."""


@dataclass(frozen=True)
class DenseCells:
    """What the readings say in every cell of a graph; NaN where no reading reaches.

    Attributes
    ----------
    graph : CellGraph
    weights : sparse array of shape (n, m)
        How the readings read the cells.
    target_trend : array of shape (m, parts)
    mean, variance : arrays of shape (m,)
        Of the noise-free field.
    mixture : Mixture
    """

    graph: CellGraph
    weights: sp.csr_array
    target_trend: Floats
    mean: Floats
    variance: Floats
    mixture: Mixture

    @property
    def nugget(self) -> float:
        """Weighted mean of the nugget."""
        return self.mixture.nugget

    @property
    def sill(self) -> float:
        """Weighted mean of the field's variance."""
        return self.mixture.sill

    @property
    def range_m(self) -> float:
        """Weighted geometric mean of the range (m)."""
        return self.mixture.range_m

    @property
    def candidates(self) -> int:
        """How many candidates carry weight."""
        return len(self.mixture.parts)

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less means."""
        return self.mixture.degrees_of_freedom

    @cached_property
    def posterior(self) -> MixturePosterior:
        """What the readings leave uncertain between places."""
        return MixturePosterior(self.graph, self.mixture, self.target_trend)

    @property
    def misfit(self) -> float:
        """How many times the variance that the heaviest part allows the readings vary."""
        part = self.mixture.parts[0]
        one = part.spectrum.solve(part.share, part.spectrum.basis.T @ part.values)
        squares = float(one.precision @ one.residual**2)
        return squares / self.degrees_of_freedom / part.sill

    def weight_of_range(self, range_m: float) -> float:
        """Return the weight of all candidates of a range (m)."""
        return sum(
            one.weight for one in self.mixture.parts if np.isclose(one.candidate.range_m, range_m)
        )

    def left_out(self) -> tuple[Floats, Floats]:
        """Return error and sd of each reading predicted from the others."""
        return leave_one_out(self.mixture)

    def averages(self, weights: sp.csr_array, check: Check = never) -> tuple[Floats, Floats]:
        """Return the averages of the field that weights (t, m) take, and their covariance."""
        return predict_averages(self.mixture, weights, weights @ self.target_trend, check)

    def draws(self, *, count: int = DRAWS, seed: int = 0, check: Check = never) -> Draws:
        """Draw fields that agree with the readings."""
        return simulate(self.mixture, self.target_trend, count=count, seed=seed, check=check)

    def reading_weights(self, point: sp.csr_array) -> Floats:
        """Return the weight of each reading in what ``point`` (1, m) reads, shape (n,)."""
        if len(self.target_trend) * len(self.mixture.trend) > MOST_KEPT:
            return np.asarray(self.weights_of_readings(point)[0])
        found: Floats = np.asarray(point @ self._weights_in_cells)[0]
        reached = np.asarray(point @ self.target_trend)[0].any()
        return found if reached else np.full_like(found, np.nan)

    @cached_property
    def _weights_in_cells(self) -> Floats:
        """Weight of each reading in each cell (:meth:`weights_of_readings`), shape (m, n)."""
        total = np.zeros((len(self.target_trend), len(self.mixture.trend)))
        of_means = np.zeros((self.target_trend.shape[1], len(self.mixture.trend)))
        for parts in by_candidate(self.mixture):
            spectrum = parts[0].spectrum
            inner = np.zeros((len(spectrum.basis), len(spectrum.basis)))
            for part in parts:
                one = spectrum.solve(part.share, spectrum.trend)
                means = np.linalg.inv(one.information) @ one.weighted.T
                inner += part.weight * (np.diag(one.precision) - one.weighted @ means)
                of_means += part.weight * means @ spectrum.basis.T
            total += parts[0].candidate.columns() @ (spectrum.basis @ inner @ spectrum.basis.T)
        total += self.target_trend @ of_means
        return total

    def weights_of_readings(self, weights: sp.csr_array) -> Floats:
        """Return the weight of each reading in what weights (t, m) read, shape (t, n).

        Kriging with the means unknown: with R the covariance of targets and readings in the basis
        of a spectrum, d its precisions and r = f - R d F what the readings do not say of the means,
        the weights are (R d + r (F' d F)⁻¹ F' d) times the basis, transposed (Cressie 1993,
        Statistics for Spatial Data, section 3.4); averaged over the parts by their weights. NaN
        where no reading reaches.
        """
        trend = np.asarray(weights @ self.target_trend)
        total = np.zeros((len(trend), len(self.mixture.trend)))
        for parts in by_candidate(self.mixture):
            spectrum = parts[0].spectrum
            rotated = (weights @ parts[0].candidate.columns()) @ spectrum.basis
            inner = np.zeros_like(rotated)
            for part in parts:
                one = spectrum.solve(part.share, spectrum.trend)
                left = trend - rotated @ one.weighted
                inner += part.weight * (
                    rotated * one.precision + left @ np.linalg.inv(one.information) @ one.weighted.T
                )
            total += inner @ spectrum.basis.T
        total[~trend.any(axis=1)] = np.nan
        return total
