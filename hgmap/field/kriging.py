"""Ordinary kriging on plain arrays; PyKrige does the algebra."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pykrige.ok import OrdinaryKriging
from scipy.linalg import lapack
from scipy.spatial.distance import cdist

from hgmap.errors import EstimateError
from hgmap.field.models import MODELS, Model, correlation
from hgmap.field.points import Merged, Progress, as_points, as_values, blocks, merge_and_warn

BLOCK_BYTES = 64 * 2**20

SMALLEST_RECIPROCAL_CONDITION = 1e-13
"""Below this a solution in double precision keeps fewer than about three digits."""

# PyKrige writes the Gaussian model as exp(-(h / (4/7 r))²); ours is exp(-3 (h / range)²).
_PYKRIGE_RANGE = {"spherical": 1.0, "exponential": 1.0, "gaussian": 7.0 / (4.0 * np.sqrt(3.0))}


def krige(
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
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""Estimate by ordinary kriging with a given variogram.

    The semivariance is ``nugget + psill * (1 - rho(h))`` for h > 0 and 0 at h = 0, with

    ============  =====================================
    model         rho(h)
    ============  =====================================
    spherical     1 - 1.5 u + 0.5 u³ for u < 1, else 0
    exponential   exp(-3 u)
    gaussian      exp(-3 u²)
    ============  =====================================

    and u = h / ``range_``: ``range_`` is the practical range. The same model elsewhere, with
    a = ``range_``:

    * gstat: ``vgm(psill, "Sph", a, nugget)``, ``vgm(psill, "Exp", a / 3, nugget)``,
      ``vgm(psill, "Gau", a / sqrt(3), nugget)``;
    * GSTools: ``Spherical(var=psill, len_scale=a, nugget=nugget)``,
      ``Exponential(var=psill, len_scale=a / 3, nugget=nugget)``,
      ``Gaussian(var=psill, len_scale=a / sqrt(3), rescale=1, nugget=nugget)``;
    * PyKrige: ``variogram_parameters={"psill": psill, "range": a, "nugget": nugget}``, but for
      the Gaussian model ``"range": a * 7 / (4 * sqrt(3))``.

    Coordinates are centred and scaled before the algebra. Readings at one place (within 1e-9 of
    the extent) are averaged, and their rows named in a ``CoincidentReadingsWarning``.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Readings (any unit).
    targets : array_like of shape (m, 2)
        Places to estimate.
    model : {"spherical", "exponential", "gaussian"}
    nugget, psill : float
        Nugget and partial sill (unit of ``values``, squared), neither negative, not both zero.
    range_ : float
        Practical range (unit of ``xy``), above 0.
    exact : bool, default True
        True: the nugget is a feature of the field, and at a reading the estimate is that reading
        with variance 0. False: the nugget is measurement error, and the estimate at a reading is
        smoothed as it is anywhere else. Both variances include the nugget; that of the
        noise-free field is ``variance - nugget`` with ``exact=False``.
    progress : callable, optional
        Called with (done, all) after each block.

    Returns
    -------
    mean, variance : arrays of shape (m,)
        Estimate and kriging variance.

    Raises
    ------
    EstimateError
        If there is no reading, shapes do not fit, a number is not finite (its row is named), a
        parameter cannot be used, or the kriging system has no stable solution.

    References
    ----------
    Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 12.

    Examples
    --------
    >>> mean, variance = krige(
    ...     [[0, 0], [6, 0]], [1.0, 3.0], [[3, 0], [0, 0]],
    ...     model="spherical", nugget=1.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([2.0, 1.0], [2.931, 0.0])
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    wanted = as_points(targets, name="targets")
    if not len(places):
        raise EstimateError("no reading to estimate from")
    _check_parameters(model, nugget, psill, range_)
    merged = merge_and_warn(places, readings)
    if len(merged.values) == 1:
        return _one_place(merged, wanted, model, nugget, psill, range_, exact=exact)
    centre = merged.xy.mean(axis=0)
    extent = float(np.ptp(merged.xy, axis=0).max())
    near, far = (merged.xy - centre) / extent, (wanted - centre) / extent
    _refuse_unstable(near, model, nugget, psill, range_ / extent)
    system = OrdinaryKriging(
        near[:, 0],
        near[:, 1],
        merged.values,
        variogram_model=model,
        variogram_parameters={
            "psill": psill,
            "range": range_ / extent * _PYKRIGE_RANGE[model],
            "nugget": nugget,
        },
        exact_values=exact,
    )
    mean, variance = np.empty(len(wanted)), np.empty(len(wanted))
    size = max(1, BLOCK_BYTES // (8 * (len(near) + 1)))
    for block in blocks(len(wanted), size, progress):
        z, ss = system.execute("points", far[block, 0], far[block, 1], backend="vectorized")
        mean[block], variance[block] = np.asarray(z), np.asarray(ss)
    return mean, np.maximum(variance, 0.0)


def _check_parameters(model: str, nugget: float, psill: float, range_: float) -> None:
    if model not in MODELS:
        raise EstimateError(f"model {model!r} is not known", todo=f"use one of {', '.join(MODELS)}")
    for name, value in (("nugget", nugget), ("psill", psill)):
        if not (np.isfinite(value) and value >= 0):
            raise EstimateError(f"{name} is {value}", todo="give a number of 0 or more")
    if nugget + psill <= 0:
        raise EstimateError("nugget and psill are both 0", todo="one of them is above 0")
    if not (np.isfinite(range_) and range_ > 0):
        raise EstimateError(f"range_ is {range_}", todo="give a number above 0")


def _refuse_unstable(
    xy: NDArray[np.float64], model: Model, nugget: float, psill: float, range_: float
) -> None:
    """Refuse a covariance whose solution would be made of rounding errors."""
    covariance = psill * correlation(cdist(xy, xy), model=model, range_=range_)
    covariance[np.diag_indices(len(xy))] += nugget
    factor, failed = lapack.dpotrf(covariance, lower=1)
    reciprocal = 0.0
    if not failed:
        reciprocal, _ = lapack.dpocon(factor, np.abs(covariance).sum(axis=0).max(), uplo="L")
    if reciprocal < SMALLEST_RECIPROCAL_CONDITION:
        raise EstimateError(
            f"the kriging system of this {model} model with nugget {nugget:g} has no stable "
            "solution",
            todo="give a larger nugget (a hundredth of the psill) or a shorter range",
        )


def _one_place(
    merged: Merged,
    wanted: NDArray[np.float64],
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    *,
    exact: bool,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """With one place the estimate is its value and the variance twice the semivariance."""
    h = cdist(wanted, merged.xy)[:, 0]
    variance = 2.0 * (nugget + psill * (1.0 - correlation(h, model=model, range_=range_)))
    if exact:
        variance[h == 0] = 0.0
    return np.full(len(wanted), merged.values[0]), variance
