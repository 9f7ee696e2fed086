"""Inverse distance weighting."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial.distance import cdist

from hgmap.errors import EstimateError
from hgmap.field.points import Progress, as_points, as_values, blocks

BLOCK_BYTES = 64 * 2**20


def idw(
    xy: ArrayLike,
    values: ArrayLike,
    targets: ArrayLike,
    *,
    power: float = 2.0,
    progress: Progress | None = None,
) -> NDArray[np.float64]:
    r"""Average the readings, each weighted by its distance to a power.

    .. math:: z(x) = \sum_i d_i^{-p} z_i \Big/ \sum_i d_i^{-p}

    with :math:`d_i` the straight-line distance from reading *i* and *p* the power. At a reading
    the estimate is that reading; where several stand at one place, their mean.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Readings (any unit).
    targets : array_like of shape (m, 2)
        Places to estimate, in the unit of ``xy``.
    power : float, default 2
        The exponent *p*, above 0.
    progress : callable, optional
        Called with (done, all) after each block.

    Returns
    -------
    array of shape (m,)
        The estimate, in the unit of ``values``.

    Raises
    ------
    EstimateError
        If there is no reading, the shapes do not fit, a number is not finite (its row is named),
        or the power is not positive.

    References
    ----------
    Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 11.

    Examples
    --------
    >>> idw([[0, 0], [2, 0]], [1.0, 3.0], [[1, 0], [0, 0]])
    array([2., 1.])
    >>> idw([[0, 0]], [1.0], [])
    Traceback (most recent call last):
    hgmap.errors.EstimateError: targets has shape (0,); give an array of shape (n, 2)
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    wanted = as_points(targets, name="targets")
    if not len(places):
        raise EstimateError("no reading to estimate from")
    if not (np.isfinite(power) and power > 0):
        raise EstimateError(f"a power of {power} cannot be used", todo="give one above 0")
    estimate = np.empty(len(wanted))
    for block in blocks(len(wanted), max(1, BLOCK_BYTES // (8 * len(places))), progress):
        distance = cdist(wanted[block], places)
        nearest = distance.min(axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            # relative to the nearest reading, so that no power overflows
            weight = (nearest / distance) ** power
        weight[np.isnan(weight)] = 1.0
        estimate[block] = weight @ readings / weight.sum(axis=1)
    return estimate
