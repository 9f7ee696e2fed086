"""What every way from readings to an estimate returns, and the single best straight one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.beliefs import Given
from hgmap.field.kriging import krige_grid
from hgmap.field.models import Model
from hgmap.field.places import Places
from hgmap.field.points import Progress
from hgmap.field.posterior import Posterior
from hgmap.field.raster import Raster
from hgmap.field.validate import Scores, leave_one_out_kriging
from hgmap.field.variogram import (
    AveragedFit,
    Variogram,
    choose_variogram,
)

if TYPE_CHECKING:
    from hgmap.field.cell_estimate import CellEstimate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

READING_SD: Final = 0.1
"""Relative sd of one reading (common practice, no source: direct-reading instruments are good to
5 to 15 %). A nugget above its square is taken for variation of the air itself."""


class ErrorCovariance(Protocol):
    """What the readings leave uncertain between places of one room (its position in the floor).

    NaN where no reading reaches.
    """

    def covariance(self, a: Floats, b: Floats, room: int) -> Floats:
        """Return the error covariance between places, shape (len(a), len(b))."""

    def variance(self, a: Floats, room: int) -> Floats:
        """Return the error variance at places, shape (len(a),)."""

    def between(self, a: Floats, room_a: Ints, b: Floats, room_b: Ints) -> Floats:
        """Return the error covariance between places of any rooms, shape (len(a), len(b))."""


@dataclass(frozen=True)
class Branch:
    """An estimate at targets, however it was made (working scale).

    ``mean`` and ``sd`` are NaN where nothing is known. ``posterior`` is None where the method has
    no error model, ``estimate`` where it was not weighed from candidates. ``contradicted`` says how
    the readings contradict parameters that were given.
    """

    mean: Floats
    sd: Floats
    variogram: Variogram | AveragedFit | None
    scores: Scores
    degrees_of_freedom: int
    posterior: ErrorCovariance | None
    notes: tuple[str, ...] = ()
    estimate: CellEstimate | None = None
    contradicted: str = ""


def by_straight_kriging(
    places: Places,
    raster: Raster,
    *,
    model: Model,
    log: bool,
    progress: Progress | None,
    given: Given | None = None,
) -> Branch:
    """Estimate by ordinary kriging along straight lines, with the single best parameters."""
    variogram = choose_variogram(places.xy, places.values, log=log, model=model)
    if given is not None and given.anything:
        variogram = replace(
            variogram,
            nugget=variogram.nugget if given.nugget is None else given.nugget,
            psill=variogram.psill if given.sill is None else given.sill,
            range_m=variogram.range_m if given.range_m is None else given.range_m,
            origin="given",
        )
    # measured errors are variances of their own here, beside the nugget
    error_variance = places.error**2 if len(places.error) else None
    mean, variance = krige_grid(
        places.xy,
        places.values,
        raster.x,
        raster.y,
        raster.inside,
        model=variogram.model,
        nugget=variogram.nugget,
        psill=variogram.psill,
        range_=variogram.range_m,
        exact=False,
        progress=progress,
        error_variance=error_variance,
    )
    noise_free = np.maximum(variance - variogram.nugget, 0.0)
    return Branch(
        mean,
        honest_sd(mean, noise_free, variogram.nugget, log=log),
        variogram,
        leave_one_out_kriging(places.xy, places.values, variogram, error_variance),
        len(places.values) - 1,
        _straight_posterior(places.xy, variogram, error_variance),
        variogram_notes(variogram),
    )


def honest_sd(mean: Floats, noise_free: Floats, nugget: float, *, log: bool) -> Floats:
    """Return the sd of the air itself, from the variance of the smooth part and the nugget.

    Zones are about the air, not about the next reading: a reading's own error is left out, but the
    rest of the nugget is real variation too fine to map, and stays. No estimate is surer than one
    reading: what readings share, a calibration, never averages out.
    """
    noise = min(nugget, READING_SD**2) if log else 0.0
    sd: Floats = np.maximum(np.sqrt(noise_free + nugget - noise), one_reading_sd(mean, log=log))
    return sd


def one_reading_sd(estimate: Any, *, log: bool) -> Any:
    """Return the sd of one reading of an estimate (an array or a number), working scale."""
    return READING_SD if log else READING_SD * np.abs(estimate)


def variogram_notes(variogram: Variogram | AveragedFit) -> tuple[str, ...]:
    """Say what a reader has to know about a variogram."""
    if variogram.origin == "default":
        return (f"default variogram parameters ({variogram.note})",)
    return (f"variogram: {variogram.note}",) if variogram.note else ()


def _straight_posterior(
    xy: Floats, variogram: Variogram, error_variance: Floats | None
) -> Posterior | None:
    try:
        return Posterior(xy, variogram, error_variance)
    except EstimateError:
        return None
