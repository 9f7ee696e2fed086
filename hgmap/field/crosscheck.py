"""The second opinion: straight-line ordinary kriging again, by PyKrige, at check points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.kriging import krige
from hgmap.field.points import merge_coincident
from hgmap.field.surface import Surface
from hgmap.field.variogram import Variogram, choose_variogram

Floats = NDArray[np.float64]

CHECK_POINTS: Final = 40
MOST_READINGS: Final = 1000
"""More readings than this are thinned evenly: it is the arithmetic that is checked."""

# PyKrige writes the Gaussian model as exp(-(h / (4/7 r))²); ours is exp(-3 (h / range)²).
_PYKRIGE_RANGE: Final = {
    "spherical": 1.0, "exponential": 1.0, "gaussian": 7.0 / (4.0 * np.sqrt(3.0)),
}  # fmt: skip


@dataclass(frozen=True)
class SecondOpinion:
    """Largest differences between our kriging and PyKrige's, of mean and of variance."""

    points: int
    largest_mean_difference: float
    largest_variance_difference: float


def opinion_on(surface: Surface | None) -> SecondOpinion | None:
    """Return how far PyKrige's straight-line kriging of a surface's readings lies from ours.

    None where there is no surface, or no stable straight-line system.
    """
    if surface is None:
        return None
    return second_opinion(
        surface.xy,
        surface.values,
        surface.raster.points(),
        log=surface.scale == "log",
        variogram=surface.variogram if isinstance(surface.variogram, Variogram) else None,
    )


def second_opinion(
    xy: Floats, values: Floats, targets: Floats, *, log: bool, variogram: Variogram | None = None
) -> SecondOpinion | None:
    """Krige along straight lines twice, by our engine and by PyKrige, with one variogram.

    It checks the arithmetic, not the model: through doors the map itself differs from both.

    Parameters
    ----------
    xy, values : arrays of shape (n, 2) and (n,)
        Places (m) and working-scale values; those at one place are averaged.
    targets : array of shape (m, 2)
        Where to compare (m); thinned to 40.
    log : bool
        Whether the working scale is the logarithm.
    variogram : Variogram, optional
        Chosen from the readings where not given.

    Returns
    -------
    SecondOpinion or None
        None where the readings allow no stable straight-line system.
    """
    # an interval beside a number, or both sides of a wall: to straight lines they are one place
    distinct = merge_coincident(xy, values, tolerance=1e-6 * float(np.ptp(xy, axis=0).max()))
    every = -(-len(distinct.xy) // MOST_READINGS)
    xy, values = distinct.xy[::every], distinct.values[::every]
    fit = variogram or choose_variogram(xy, values, log=log)
    if fit.model not in _PYKRIGE_RANGE or not len(targets):
        return None
    points = targets[:: max(1, len(targets) // CHECK_POINTS)][:CHECK_POINTS]
    try:
        mean, variance = krige(
            xy, values, points, model=fit.model, nugget=fit.nugget, psill=fit.psill,
            range_=fit.range_m, exact=False,
        )  # fmt: skip
    except EstimateError:
        return None
    from pykrige.ok import OrdinaryKriging  # half a second and 30 MB: a window asks for none

    centre = xy.mean(axis=0)
    extent = float(np.ptp(xy, axis=0).max())
    near, far = (xy - centre) / extent, (points - centre) / extent
    parameters = {
        "psill": fit.psill,
        "range": fit.range_m / extent * _PYKRIGE_RANGE[fit.model],
        "nugget": fit.nugget,
    }
    other = OrdinaryKriging(
        near[:, 0], near[:, 1], values, variogram_model=fit.model,
        variogram_parameters=parameters, exact_values=False,
    )  # fmt: skip
    z, ss = other.execute("points", far[:, 0], far[:, 1], backend="vectorized")
    return SecondOpinion(
        len(points),
        float(np.abs(mean - np.asarray(z)).max()),
        float(np.abs(variance - np.asarray(ss)).max()),
    )
