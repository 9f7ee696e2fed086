"""What an estimate is: an array per floor with its uncertainty, and everything that made it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from hgmap.field.branch import ErrorCovariance
from hgmap.field.raster import Raster
from hgmap.field.validate import Scores
from hgmap.field.variogram import AveragedFit, Variogram
from hgmap.shows_itself import OnAPlan

if TYPE_CHECKING:
    from hgmap.field.cell_estimate import CellEstimate


@dataclass(frozen=True)
class Surface(OnAPlan):
    """The estimate of one floor, one round, one height band.

    Attributes
    ----------
    raster : Raster
        Where the cells are.
    mean, sd : array of shape (ny, nx)
        Estimate and its standard deviation on the working scale (natural logarithm of the
        concentration for ``scale="log"``, the concentration itself for ``"linear"``);
        NaN outside. ``sd`` is that of the air itself, without the next reading's own error; what
        of the nugget is not reading error stays in it, as variation too fine to map.
    xy, values : arrays of shape (n, 2) and (n,)
        The places (m) and working-scale values that made it, replicates merged.
    room, group : arrays of shape (n,) and (readings,)
        Position of each place's room in ``floor.rooms``, and the place of each reading.
    error : array of shape (n,)
        Standard deviation of the measured error that the readings of a place share (working
        scale); it is in ``sd``. Empty where none was measured.
    degrees_of_freedom : int
        For Student's t in place of the normal, because the sill is estimated too.
    notes : tuple of str
        What a reader of the map has to know.
    posterior : ErrorCovariance or None
        What a further reading would leave uncertain; None where the method has no error model.
    contradicted : str
        How the readings contradict parameters that were given; empty where they do not.
    estimate : CellEstimate or None
        The weighed candidates behind it; None for IDW and for very many places.
    """

    raster: Raster
    mean: NDArray[np.float64]
    sd: NDArray[np.float64]
    scale: Literal["log", "linear"]
    method: Literal["kriging", "idw"]
    xy: NDArray[np.float64]
    values: NDArray[np.float64]
    degrees_of_freedom: int
    variogram: Variogram | AveragedFit | None
    scores: Scores
    notes: tuple[str, ...] = ()
    settings: dict[str, Any] = field(default_factory=dict)
    posterior: ErrorCovariance | None = field(default=None, compare=False)
    estimate: CellEstimate | None = field(default=None, compare=False, repr=False)
    contradicted: str = ""
    room: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    group: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    error: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))

    def concentration(self) -> NDArray[np.float64]:
        """Return the estimate as a concentration: the median where the scale is log."""
        return np.exp(self.mean) if self.scale == "log" else self.mean
