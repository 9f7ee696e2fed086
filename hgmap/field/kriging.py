"""Ordinary kriging on plain arrays: at any places, or on the cells of a grid."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.grid import Grid, as_axis, as_mask
from hgmap.field.models import (
    MODELS,
    USUAL_SMOOTHNESS,
    Model,
    check_smoothness,
    unknown_model,
)
from hgmap.field.points import (
    Merged,
    Progress,
    as_points,
    as_values,
    merge_and_warn,
    merge_coincident,
)
from hgmap.field.straight import AT_A_READING, Kernel, System, estimate_points, solve_system
from hgmap.field.tiles import estimate_grid

Floats = NDArray[np.float64]

BLOCK_BYTES: Final = 4 * 2**20
"""Of the covariances that one thread holds at a time: more falls out of the cache."""


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
    error_variance: ArrayLike | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
) -> tuple[Floats, Floats]:
    r"""Estimate by ordinary kriging with a given variogram.

    The semivariance is ``nugget + psill * (1 - rho(h))`` for h > 0 and 0 at h = 0, with

    ============  =============================================
    model         rho(h)
    ============  =============================================
    spherical     1 - 1.5 u + 0.5 u³ for u < 1, else 0
    exponential   exp(-3 u)
    gaussian      exp(-3 u²)
    matern        2 ** (1 - v) s ** v K_v(s) / Gamma(v), s = k u
    ============  =============================================

    and u = h / ``range_``: ``range_`` is the practical range. For the Matern model of smoothness v
    the factor k is such that rho is exp(-3) at the range, as it is for the exponential model
    (which v = 0.5 is) and the Gaussian one. The same model elsewhere, with a = ``range_``:

    * gstat: ``vgm(psill, "Sph", a, nugget)``, ``vgm(psill, "Exp", a / 3, nugget)``,
      ``vgm(psill, "Gau", a / sqrt(3), nugget)``;
    * GSTools: ``Spherical(var=psill, len_scale=a, nugget=nugget)``,
      ``Exponential(var=psill, len_scale=a / 3, nugget=nugget)``,
      ``Gaussian(var=psill, len_scale=a / sqrt(3), rescale=1, nugget=nugget)``;
    * PyKrige: ``variogram_parameters={"psill": psill, "range": a, "nugget": nugget}``, but for
      the Gaussian model ``"range": a * 7 / (4 * sqrt(3))``;
    * scikit-learn: ``Matern(length_scale=a * sqrt(2 v) / hgmap.field.models.matern_scale(v),
      nu=v)``.

    Coordinates are centred and scaled before the algebra. Readings at one place (within 1e-9 of
    the extent) are averaged, and their rows named in a ``CoincidentReadingsWarning``; with
    ``error_variance`` each counts by its own error instead, and there is nothing to warn of.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Readings (any unit).
    targets : array_like of shape (m, 2)
        Places to estimate.
    model : {"spherical", "exponential", "gaussian", "matern"}
    nugget, psill : float
        Nugget and partial sill (unit of ``values``, squared), neither negative, not both zero.
    range_ : float
        Practical range (unit of ``xy``), above 0.
    exact : bool, default True
        True: the nugget is a feature of the field, shared by readings at one place, and at a
        reading the estimate is that reading with variance 0. False: the nugget is measurement
        error, each reading has its own, and the estimate at a reading is smoothed as it is
        anywhere else. Both variances include the nugget; that of the noise-free field is
        ``variance - nugget`` with ``exact=False``.
    progress : callable, optional
        Called with (done, all) after each block. Raising inside it cancels the work.
    error_variance : float or array_like of shape (n,), optional
        Variance of each reading's own error (unit of ``values``, squared), added to its variance
        and left out of the variance of the estimate. A reading with an error is not exact.
    anisotropy : Anisotropy, optional
        Direction of the longest range, and the shortest as a share of it; ``range_`` is then the
        longest.
    smoothness : float, optional
        Of the Matern model, from 0.1 to 20; 1 where not given.

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

    Two readings at one place, the first ten times as good as the second, count 10 to 1:

    >>> mean, variance = krige(
    ...     [[0, 0], [0, 0]], [2.0, 13.0], [[0, 0]], error_variance=[0.1, 1.0],
    ...     model="exponential", nugget=0.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([3.0], [0.090909])
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    wanted = as_points(targets, name="targets")
    kernel = _kernel(model, nugget, psill, range_, smoothness, len(places))
    if error_variance is None:
        merged = merge_and_warn(places, readings)
        errors = np.zeros(len(merged.values))
    else:
        merged, errors = _combine(places, readings, error_variance, own=0 if exact else nugget)
    system, centre, matrix = _solve(merged, errors, kernel, range_, anisotropy, exact=exact)
    return estimate_points(
        system, (wanted - centre) @ matrix.T, block_bytes=BLOCK_BYTES, progress=progress
    )


def krige_grid(
    xy: ArrayLike,
    values: ArrayLike,
    gx: ArrayLike,
    gy: ArrayLike,
    inside: NDArray[np.bool_] | None = None,
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
) -> tuple[Floats, Floats]:
    """Estimate as :func:`krige` does, at the cells of a grid: the same numbers to 1e-8, sooner.

    Parameters
    ----------
    gx, gy : array_like of shape (nx,) and (ny,)
        Centres of the columns and of the rows, ascending.
    inside : array of shape (ny, nx), bool, optional
        The cells to estimate; all where not given.

    Returns
    -------
    mean, variance : arrays of shape (inside cells,)
        Row by row, as ``Raster.points`` lists them.

    Raises
    ------
    EstimateError
        As :func:`krige`, and if the axes or the mask do not fit.

    Examples
    --------
    >>> mean, variance = krige_grid(
    ...     [[0, 0], [6, 0]], [1.0, 3.0], [0, 3], [0],
    ...     model="spherical", nugget=1.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([1.0, 2.0], [0.0, 2.931])
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    x, y = as_axis(gx, "gx"), as_axis(gy, "gy")
    mask = as_mask(inside, (len(y), len(x)))
    kernel = _kernel(model, nugget, psill, range_, smoothness, len(places))
    if error_variance is None:
        merged = merge_and_warn(places, readings)
        errors = np.zeros(len(merged.values))
    else:
        merged, errors = _combine(places, readings, error_variance, own=0 if exact else nugget)
    system, centre, matrix = _solve(merged, errors, kernel, range_, anisotropy, exact=exact)
    grid = Grid(x - centre[0], y - centre[1], mask, matrix)
    return estimate_grid(system, grid, block_bytes=BLOCK_BYTES, progress=progress)


def _combine(
    xy: Floats, values: Floats, error_variance: ArrayLike, *, own: float
) -> tuple[Merged, Floats]:
    """Weight readings at one place by the inverse of their own variance; return that of each mean.

    With ``own`` the nugget that every reading has to itself, a place's k readings of own variances
    v = error + own have the weighted mean that minimises the variance 1 / sum(1 / v); the system
    of all readings gives the same. A reading without any variance leaves no weight to the others.
    """
    errors = _as_errors(error_variance, len(values))
    place = merge_coincident(xy, values, tolerance=1e-9 * _extent(xy))
    variance = errors + own
    perfect = variance == 0
    known = np.bincount(place.group, weights=perfect) > 0
    with np.errstate(divide="ignore"):
        weight = np.where(known[place.group], perfect, 1.0 / variance)
    total = np.bincount(place.group, weights=weight)
    mean = np.bincount(place.group, weights=weight * values) / total
    return Merged(place.xy, mean, place.group), np.where(known, 0.0, 1.0 / total) - own


def _solve(
    merged: Merged,
    errors: Floats,
    kernel: Kernel,
    range_: float,
    anisotropy: Anisotropy | None,
    *,
    exact: bool,
) -> tuple[System, Floats, Floats]:
    """Return the system, and the centre and matrix that take a place to its place in ranges."""
    extent = _extent(merged.xy)
    # nothing is nearer than the places are; a range below that is none, whatever its number
    unit = max(range_, 1e-15 * extent)
    matrix = (np.eye(2) if anisotropy is None else anisotropy.matrix) / unit
    centre = merged.xy.mean(axis=0)
    system = solve_system(
        (merged.xy - centre) @ matrix.T,
        merged.values,
        errors,
        kernel,
        at_reading=AT_A_READING * extent / unit if exact else -1.0,
    )
    return system, centre, matrix


def _extent(xy: Floats) -> float:
    return float(np.ptp(xy, axis=0).max())


def _kernel(
    model: Model, nugget: float, psill: float, range_: float, smoothness: float | None, count: int
) -> Kernel:
    if not count:
        raise EstimateError("no reading to estimate from")
    if model not in (*MODELS, "matern"):
        raise unknown_model(model)
    for name, value in (("nugget", nugget), ("psill", psill)):
        if not (np.isfinite(value) and value >= 0):
            raise EstimateError(f"{name} is {value}", todo="give a number of 0 or more")
    if nugget + psill <= 0:
        raise EstimateError("nugget and psill are both 0", todo="one of them is above 0")
    if not (np.isfinite(range_) and range_ > 0):
        raise EstimateError(f"range_ is {range_}", todo="give a number above 0")
    if smoothness is None:
        smoothness = USUAL_SMOOTHNESS
    elif model != "matern":
        raise EstimateError(f"the {model} model has no smoothness", todo="leave it out, or use "
                            "the matern model")  # fmt: skip
    check_smoothness(smoothness)
    return Kernel(model, float(nugget), float(psill), float(smoothness))


def _as_errors(error_variance: ArrayLike, count: int) -> Floats:
    if np.ndim(error_variance) == 0:
        error_variance = np.full(count, error_variance)
    errors = as_values(error_variance, count, name="error_variance")
    if (errors < 0).any():
        raise EstimateError(
            f"error_variance row {np.flatnonzero(errors < 0)[0]} (counted from 0) is negative",
            todo="give variances of 0 or more",
        )
    return errors
