"""Ordinary kriging of the logs, and what it says of the concentration itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.backtransform import mean_from_log_ordinary, median_from_log
from hgmap.field.kriging import BLOCK_BYTES
from hgmap.field.models import Model
from hgmap.field.points import Progress, as_points, as_values
from hgmap.field.straight import estimate_points, lagrange_multipliers
from hgmap.field.system import ready_system

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LognormalEstimate:
    """Median and mean of the concentration at places, with the estimate of its log.

    Attributes
    ----------
    median : array of shape (m,)
        exp(Y*), in the unit of concentration.
    mean : array of shape (m,)
        exp(Y* + σ² / 2 - m), in the unit of concentration.
    log_mean, log_variance : arrays of shape (m,)
        Y* and its ordinary kriging variance σ², natural logs.
    lagrange_multiplier : array of shape (m,)
        m of the system of semivariances, natural logs.
    """

    median: Floats
    mean: Floats
    log_mean: Floats
    log_variance: Floats
    lagrange_multiplier: Floats


def lognormal_kriging(
    xy: ArrayLike,
    values: ArrayLike,
    targets: ArrayLike,
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool = True,
    progress: Progress | None = None,
    error_variance: ArrayLike | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
) -> LognormalEstimate:
    """Krige the natural logs of concentrations, and give median and mean of the concentration.

    The variogram is that of the logs. Readings at one place are averaged as logs: their geometric
    mean stands there.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Concentrations (any unit), above 0.
    targets : array_like of shape (m, 2)
        Places to estimate.
    model, range_, anisotropy, smoothness, progress
        As for :func:`hgmap.field.kriging.krige`.
    nugget, psill : float
        Of the natural logs (no unit), neither negative, not both zero.
    exact : bool, default True
        As for :func:`hgmap.field.kriging.krige`. True: at a reading, median and mean are that
        reading. False: the mean is that of one more reading with its error there; the mean of
        the noise-free concentration is ``mean * exp(-nugget / 2)``.
    error_variance : float or array_like of shape (n,), optional
        Variance of each reading's own error on the log scale: near the square of its relative
        standard deviation, where that is small.

    Returns
    -------
    LognormalEstimate

    Raises
    ------
    EstimateError
        As :func:`hgmap.field.kriging.krige`; if a concentration is 0 or below (its row is named);
        or if the mean is too large to be held.

    References
    ----------
    Cressie (1993), Statistics for Spatial Data, p. 135-136; Journel and Huijbregts (1978), Mining
    Geostatistics, ch. VIII; Yamamoto (2007), on the instability of the mean.

    Examples
    --------
    >>> one = lognormal_kriging(
    ...     [[0, 0], [6, 0]], [1.0, 4.0], [[3, 0], [0, 0]],
    ...     model="spherical", nugget=0.2, psill=0.6, range_=10.0,
    ... )
    >>> one.median.round(4).tolist(), one.mean.round(4).tolist()
    ([2.0, 1.0], [2.3678, 1.0])
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    if (readings <= 0).any():
        raise EstimateError(
            f"values row {np.flatnonzero(readings <= 0)[0]} (counted from 0) is 0 or below",
            todo="the log scale needs concentrations above 0",
        )
    wanted = as_points(targets, name="targets")
    ready = ready_system(
        places, np.log(readings), model=model, nugget=nugget, psill=psill, range_=range_,
        exact=exact, error_variance=error_variance, anisotropy=anisotropy, smoothness=smoothness,
    )  # fmt: skip
    there = ready.in_ranges(wanted)
    mean, variance = estimate_points(
        ready.system, there, block_bytes=BLOCK_BYTES, progress=progress
    )
    multiplier = lagrange_multipliers(ready.system, there, block_bytes=BLOCK_BYTES)
    return LognormalEstimate(
        median=median_from_log(mean),
        mean=mean_from_log_ordinary(mean, variance, multiplier),
        log_mean=mean,
        log_variance=variance,
        lagrange_multiplier=multiplier,
    )
