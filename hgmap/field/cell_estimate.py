"""What an estimate of every cell can be asked, in whatever form it was made."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.branch import ErrorCovariance
from hgmap.field.graph import CellGraph
from hgmap.field.points import Check
from hgmap.field.simulate import Draws

Floats = NDArray[np.float64]


class CellEstimate(Protocol):
    """Mean and variance of the noise-free field in every cell (working scale), and what made them.

    NaN where no reading reaches. ``target_trend`` (m, parts) is 1 where a cell belongs to a part of
    the floor that a reading reaches. ``averages`` of weights over cells come with their covariance,
    ``reading_weights`` are those of the readings in what one row of weights reads,
    ``weights_of_readings`` the same for many rows, ``draws`` are
    fields that agree with the readings. ``misfit`` is how many times the variance that the
    parameters allow the readings vary: far above 1 where given ones cannot be right.
    """

    @property
    def graph(self) -> CellGraph: ...  # noqa: D102
    @property
    def target_trend(self) -> Floats: ...  # noqa: D102
    @property
    def mean(self) -> Floats: ...  # noqa: D102
    @property
    def variance(self) -> Floats: ...  # noqa: D102
    @property
    def nugget(self) -> float: ...  # noqa: D102
    @property
    def sill(self) -> float: ...  # noqa: D102
    @property
    def range_m(self) -> float: ...  # noqa: D102
    @property
    def candidates(self) -> int: ...  # noqa: D102
    @property
    def degrees_of_freedom(self) -> int: ...  # noqa: D102
    @property
    def misfit(self) -> float: ...  # noqa: D102
    @property
    def posterior(self) -> ErrorCovariance: ...  # noqa: D102
    def weight_of_range(self, range_m: float) -> float: ...  # noqa: D102
    def left_out(self) -> tuple[Floats, Floats]: ...  # noqa: D102
    def averages(  # noqa: D102
        self, weights: sp.csr_array, check: Check = ...
    ) -> tuple[Floats, Floats]: ...
    def reading_weights(self, point: sp.csr_array) -> Floats: ...  # noqa: D102
    def weights_of_readings(self, weights: sp.csr_array) -> Floats: ...  # noqa: D102
    def draws(  # noqa: D102
        self, *, count: int = ..., seed: int = ..., check: Check = ...
    ) -> Draws: ...
