"""An estimate of every cell by the precision form: what it says of rooms, places and readings.

Mean and variance are those of the whole mixture. Covariances, draws and the weights of readings
are those of its heaviest candidate: with so many readings the others differ little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.graph import CellGraph
from hgmap.field.places import Places
from hgmap.field.points import Check, never
from hgmap.field.precision_mixture import PrecisionEstimate
from hgmap.field.precision_places import PlacesByPrecision
from hgmap.field.simulate import DRAWS, Draws
from hgmap.field.threads import one_thread
from hgmap.field.walls import WallField

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PrecisionCells:
    """What very many readings say in every cell of a graph; NaN where no reading reaches.

    Attributes
    ----------
    graph : CellGraph
    target_trend : array of shape (m, parts)
    made : PrecisionEstimate
    posterior : PlacesByPrecision
    """

    graph: CellGraph
    target_trend: Floats
    made: PrecisionEstimate
    posterior: PlacesByPrecision

    @classmethod
    def of(cls, walls: WallField, places: Places, made: PrecisionEstimate) -> PrecisionCells:
        """Keep an estimate with what it takes to ask it further."""
        return cls(walls.graph, made.common.target_trend, made, PlacesByPrecision(walls, made))

    @property
    def mean(self) -> Floats:
        """Of the noise-free field (working scale), shape (m,)."""
        return self.made.mean

    @property
    def variance(self) -> Floats:
        """Of the noise-free field, shape (m,)."""
        return self.made.variance

    @property
    def nugget(self) -> float:
        """Weighted mean of the nugget."""
        return self.made.nugget

    @property
    def sill(self) -> float:
        """Weighted mean of the field's variance."""
        return self.made.sill

    @property
    def range_m(self) -> float:
        """Weighted geometric mean of the range (m)."""
        return self.made.range_m

    @property
    def candidates(self) -> int:
        """How many candidates carry weight."""
        return len(self.made.parts)

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less means."""
        return self.made.degrees_of_freedom

    @property
    def misfit(self) -> float:
        """How many times the variance that is allowed the readings vary: the sill is fitted."""
        return 1.0

    def weight_of_range(self, range_m: float) -> float:
        """Return the weight of all candidates of a range (m)."""
        return sum(one.weight for one in self.made.parts if np.isclose(one.range_m, range_m))

    def left_out(self) -> tuple[Floats, Floats]:
        """Return error and sd of each reading predicted from the others."""
        return self.made.left_out_error, self.made.left_out_sd

    def averages(self, weights: sp.csr_array, check: Check = never) -> tuple[Floats, Floats]:
        """Return the averages of the field that weights (t, m) take, and their covariance."""
        check()
        with np.errstate(invalid="ignore"):
            mean = np.asarray(weights @ np.nan_to_num(self.made.mean))
        return mean, self.posterior.of_weights(weights, weights)

    def reading_weights(self, point: sp.csr_array) -> Floats:
        """Return the weight of each reading in what ``point`` (1, m) reads, shape (n,)."""
        return np.asarray(self.weights_of_readings(point)[0])

    def weights_of_readings(self, weights: sp.csr_array) -> Floats:
        """Return the weight of each reading in what weights (t, m) read, shape (t, n)."""
        return self.posterior.reading_weights(weights)

    def draws(self, *, count: int = DRAWS, seed: int = 0, check: Check = never) -> Draws:
        """Draw fields that agree with the readings (see :mod:`hgmap.field.simulate`)."""
        check()
        random = np.random.default_rng(seed)
        freedom = self.degrees_of_freedom
        sill = self.made.parts[0].sill * freedom / random.chisquare(freedom, count)
        with one_thread():
            fields = self.posterior.draws(sill, random)
        every = np.full((len(self.graph.xy), count), np.nan)
        every[self.made.common.cells] = fields
        return Draws(np.arange(len(every)), every)
