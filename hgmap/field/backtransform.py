"""From the log scale back to concentration: the median and the mean, each by its name.

Where the log of a concentration is normal with mean Y* and variance σ², half of the concentrations
lie below exp(Y*), and their mean is exp(Y* + σ² / 2). The mean is the larger, by a factor of 1.6
for σ = 1, and it is the one that doses add up to. Neither is called "the estimate" here.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError

Floats = NDArray[np.float64]

LARGEST_LOG: Final = float(np.log(np.finfo(np.float64).max))


def median_from_log(mean: ArrayLike) -> Floats:
    """Return the median concentration, exp(Y*).

    Parameters
    ----------
    mean : array_like
        Y*, the mean on the natural log scale (log of the unit of concentration).

    Returns
    -------
    median : array of the same shape
        In the unit of concentration.

    Raises
    ------
    EstimateError
        If a number is not finite, or too large for its exponential.

    References
    ----------
    Aitchison and Brown (1957), The Lognormal Distribution.

    Examples
    --------
    >>> median_from_log([0.0, 1.0]).round(4).tolist()
    [1.0, 2.7183]
    """
    return _exponential(_finite(mean, "mean"))


def mean_from_log(mean: ArrayLike, variance: ArrayLike) -> Floats:
    """Return the mean concentration, exp(Y* + σ² / 2), where the mean of the log is known.

    So after simple kriging. After ordinary kriging, whose Y* rests on a mean estimated from the
    same readings, it is :func:`mean_from_log_ordinary`.

    Parameters
    ----------
    mean : array_like
        Y*, the mean on the natural log scale (log of the unit of concentration).
    variance : array_like
        σ², the variance on the natural log scale (no unit), not negative; of a shape that goes
        with that of ``mean``.

    Returns
    -------
    mean : array of the shape of both
        In the unit of concentration; never below the median.

    Raises
    ------
    EstimateError
        If a number is not finite, a variance is negative, the shapes do not go together, or the
        mean is too large to be held.

    References
    ----------
    Journel and Huijbregts (1978), Mining Geostatistics, ch. VIII; Aitchison and Brown (1957),
    The Lognormal Distribution.

    Examples
    --------
    >>> mean_from_log(0.0, 1.0).round(4).tolist()
    1.6487
    """
    return mean_from_log_ordinary(mean, variance, 0.0)


def mean_from_log_ordinary(
    mean: ArrayLike, variance: ArrayLike, lagrange_multiplier: ArrayLike
) -> Floats:
    r"""Return the mean concentration after ordinary kriging, exp(Y* + σ² / 2 - m).

    m is the Lagrange multiplier of the system of semivariances,

    .. math:: \sum_j w_j \gamma_{ij} + m = \gamma_{i0}, \quad
              \sigma^2 = \sum_j w_j \gamma_{j0} + m;

    where the system is written with covariances, or with the multiplier on the other side, its
    sign is the other one. The correction makes the mean right on average over fields of this
    variogram. It leans on the sill and on normal logs, and a variogram that is wrong makes it
    wrong exponentially (Yamamoto 2007). Since σ² / 2 - m is half of the sill less the variance of
    Y*, the mean falls below the median where Y* varies more than the field does: far outside the
    readings of a smooth model, or with readings of large errors.

    Parameters
    ----------
    mean, variance : array_like
        Y* and the ordinary kriging variance σ² on the natural log scale, as for
        :func:`mean_from_log`.
    lagrange_multiplier : array_like
        m, on the natural log scale (no unit).

    Returns
    -------
    mean : array of the shape of all three
        In the unit of concentration.

    Raises
    ------
    EstimateError
        As for :func:`mean_from_log`.

    References
    ----------
    Cressie (1993), Statistics for Spatial Data, p. 135-136; Journel and Huijbregts (1978), Mining
    Geostatistics, ch. VIII; Yamamoto (2007), on the instability of the correction.

    Examples
    --------
    >>> mean_from_log_ordinary(0.0, 1.0, 0.25).round(4).tolist()
    1.284
    """
    given = (
        _finite(mean, "mean"),
        _finite(variance, "variance"),
        _finite(lagrange_multiplier, "lagrange_multiplier"),
    )
    try:
        log, spread, multiplier = np.broadcast_arrays(*given)
    except ValueError:
        raise EstimateError(
            f"shapes {', '.join(str(one.shape) for one in given)} do not go together",
            todo="give one number, or one for each place",
        ) from None
    if (spread < 0).any():
        raise EstimateError("a variance is negative", todo="give variances of 0 or more")
    return _exponential(log + spread / 2.0 - multiplier)


def _finite(numbers: ArrayLike, name: str) -> Floats:
    try:
        array = np.asarray(numbers, dtype=np.float64)
    except (TypeError, ValueError):
        raise EstimateError(f"{name} is not an array of numbers") from None
    if not np.isfinite(array).all():
        raise EstimateError(f"{name} holds a number that is not finite", todo="leave it out")
    return array


def _exponential(log: Floats) -> Floats:
    if log.size and log.max() > LARGEST_LOG:
        raise EstimateError(
            f"exp({log.max():g}) is too large a concentration",
            todo="check the variogram: its sill is that of natural logs",
        )
    return np.asarray(np.exp(log))
