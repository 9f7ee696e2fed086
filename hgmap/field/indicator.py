"""Indicator kriging: the chance of lying above a threshold, without a law for the readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.kriging import BLOCK_BYTES
from hgmap.field.models import Model
from hgmap.field.points import Progress, as_points, as_values
from hgmap.field.straight import estimate_points
from hgmap.field.system import ready_system

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class IndicatorEstimate:
    """Chance of lying above a threshold at places.

    Attributes
    ----------
    probability : array of shape (m,)
        ``raw`` held between 0 and 1.
    raw : array of shape (m,)
        What kriging of the ones and zeros gives: weights below 0 can take it out of 0 to 1.
    variance : array of shape (m,)
        Kriging variance of the indicator. It knows the places and the variogram only.
    """

    probability: Floats
    raw: Floats
    variance: Floats


def indicator_probability(
    xy: ArrayLike,
    values: ArrayLike,
    targets: ArrayLike,
    threshold: float,
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool = True,
    progress: Progress | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
) -> IndicatorEstimate:
    """Krige I(value > threshold), which is 1 above the threshold and 0 at it or below.

    A second look beside a probability from a normal law, and a coarse one: a reading just below
    the threshold counts as one of zero does, and with no reading above it the answer is 0
    everywhere, however near the readings come. So a 0 here is not yet a reason to clear a place.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Readings (any unit). Readings at one place count as the share of them above the threshold.
    targets : array_like of shape (m, 2)
        Places to estimate.
    threshold : float
        In the unit of ``values``.
    model, range_, exact, progress, anisotropy, smoothness
        As for :func:`hgmap.field.kriging.krige`.
    nugget, psill : float
        Of the indicator (no unit): nugget and partial sill add up to about p (1 - p), with p the
        share of readings above the threshold.

    Returns
    -------
    IndicatorEstimate

    Raises
    ------
    EstimateError
        As :func:`hgmap.field.kriging.krige`, and if the threshold is not a finite number.

    References
    ----------
    Journel (1983), Nonparametric estimation of spatial distributions, Mathematical Geology 15.

    Examples
    --------
    >>> one = indicator_probability(
    ...     [[0, 0], [6, 0]], [1.0, 4.0], [[3, 0], [0, 0]], 3.0,
    ...     model="spherical", nugget=0.05, psill=0.15, range_=10.0,
    ... )
    >>> one.probability.round(4).tolist()
    [0.5, 0.0]
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    if not np.isfinite(threshold):
        raise EstimateError(f"threshold is {threshold}", todo="give a finite number")
    wanted = as_points(targets, name="targets")
    ready = ready_system(
        places, readings > threshold, model=model, nugget=nugget, psill=psill, range_=range_,
        exact=exact, error_variance=None, anisotropy=anisotropy, smoothness=smoothness,
    )  # fmt: skip
    raw, variance = estimate_points(
        ready.system, ready.in_ranges(wanted), block_bytes=BLOCK_BYTES, progress=progress
    )
    return IndicatorEstimate(np.clip(raw, 0.0, 1.0), raw, variance)
