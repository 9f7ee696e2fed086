"""Averages over areas by block kriging, with the covariance of their errors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.kriging import BLOCK_BYTES
from hgmap.field.models import Model
from hgmap.field.points import as_points, as_values
from hgmap.field.straight import Kernel, triangular_product
from hgmap.field.system import ready_system

Floats = NDArray[np.float64]

MOST_POINTS: Final = 50_000
"""Of one block: the covariance is summed over every pair of them."""


@dataclass(frozen=True)
class Block:
    """An area, as the weighted points that its average is summed over.

    Attributes
    ----------
    xy : array of shape (k, 2)
        Points (unit of length of the readings).
    weights : array of shape (k,)
        None negative, of sum 1.
    """

    xy: Floats
    weights: Floats


@dataclass(frozen=True)
class BlockAverages:
    """Averages over blocks, and how their errors go together.

    Attributes
    ----------
    mean : array of shape (b,)
        Estimated averages (unit of the values).
    covariance : array of shape (b, b)
        Of the errors of the averages (unit of the values, squared). That of any weighted sum
        ``a @ mean``, say of a whole floor or of the difference of two rooms, has the variance
        ``a @ covariance @ a``.
    """

    mean: Floats
    covariance: Floats

    @property
    def variance(self) -> Floats:
        """Variance of the error of each average, shape (b,)."""
        return self.covariance.diagonal().copy()

    @property
    def standard_error(self) -> Floats:
        """Root of the variance, shape (b,), in the unit of the values."""
        return np.sqrt(self.variance)


def block_of_points(xy: ArrayLike, weights: ArrayLike | None = None) -> Block:
    """Return the block that points stand for, each with its weight.

    Parameters
    ----------
    xy : array_like of shape (k, 2)
        At least one point.
    weights : array_like of shape (k,), optional
        None negative, not all zero; divided by their sum. Equal where not given.

    Raises
    ------
    EstimateError
        If there is no point, a number is not finite, or the weights cannot be used.

    Examples
    --------
    >>> block_of_points([[0, 0], [1, 0]], [1, 3]).weights.tolist()
    [0.25, 0.75]
    """
    points = as_points(xy, name="block")
    if not len(points):
        raise EstimateError("a block has no point")
    if weights is None:
        return Block(points, np.full(len(points), 1.0 / len(points)))
    shares = as_values(weights, len(points), name="weights")
    if (shares < 0).any() or not shares.any():
        raise EstimateError("a block's weights are negative or all 0", todo="give weights of 0 or "
                            "more, one of them above 0")  # fmt: skip
    shares = shares / shares.max()  # so that no sum of large weights overflows
    return Block(points, shares / shares.sum())


def block_of_polygon(polygon: shapely.Polygon | shapely.MultiPolygon, *, step: float) -> Block:
    """Return a polygon as the block of the pieces that a square net cuts it into.

    Each piece is one point at its centroid, with its area as its weight: the average of a plane
    is exact. The net is fitted to the bounding box, so its meshes are at most ``step`` wide. A
    step of a tenth of the variogram's range is fine enough: halve it to see that nothing changes.

    Parameters
    ----------
    polygon : shapely.Polygon or shapely.MultiPolygon
        In the frame of the readings; holes are left out.
    step : float
        Largest width of a mesh (unit of length), above 0.

    Raises
    ------
    EstimateError
        If the shape is not an area, the step cannot be used, or the net has more than 50 000
        meshes.

    Examples
    --------
    >>> corner = shapely.Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
    >>> block = block_of_polygon(corner, step=1.0)
    >>> block.xy.tolist()
    [[0.5, 0.5], [1.5, 0.5], [0.5, 1.5]]
    """
    if not (np.isfinite(step) and step > 0):
        raise EstimateError(f"step is {step}", todo="give a number above 0")
    if not (polygon.is_valid and polygon.area > 0):
        raise EstimateError("a block's shape is not an area", todo="give a valid polygon")
    west, south, east, north = polygon.bounds
    # a hair's tolerance: 40 m in steps of 10 m are four, whatever the rounding
    wide, high = (max((b - a) / step - 1e-9, 1.0) for a, b in ((west, east), (south, north)))
    if wide * high > MOST_POINTS:
        raise EstimateError(f"a step of {step:g} cuts a block into about {wide * high:.0f} pieces",
                            todo="give a longer step")  # fmt: skip
    x = np.linspace(west, east, math.ceil(wide) + 1)
    y = np.linspace(south, north, math.ceil(high) + 1)
    meshes = shapely.box(x[None, :-1], y[:-1, None], x[None, 1:], y[1:, None]).ravel()
    pieces = shapely.intersection(polygon, meshes)
    area = shapely.area(pieces)
    pieces, area = pieces[area > 0], area[area > 0]
    return block_of_points(shapely.get_coordinates(shapely.centroid(pieces)), area)


def krige_average(
    xy: ArrayLike,
    values: ArrayLike,
    blocks: Sequence[Block],
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool = True,
    error_variance: ArrayLike | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
) -> BlockAverages:
    r"""Estimate averages over areas by block kriging.

    With K the covariance of the readings, c(A) its average over block A with them, C(A, B) that
    between blocks, r(A) = 1 - 1' K⁻¹ c(A) and β the ordinary kriging mean,

    .. math::
        mean(A) &= \beta + c(A)' K^{-1} (z - \beta 1) \\
        cov(A, B) &= C(A, B) - c(A)' K^{-1} c(B) + r(A) r(B) / (1' K^{-1} 1)

    The nugget has no part in C(A, B) and c(A): a variation within less than the spacing of the
    readings averages out over an area, and an error of measurement is not in the field. So a
    block of one point has the mean of :func:`hgmap.field.kriging.krige` with ``exact=False``, and
    its variance less the nugget. Blocks are areas: for the mean of a few samples yet to be taken,
    add the nugget over their number.

    The average of logs is the log of the geometric mean over the area. It is not the log of the
    average concentration, which is larger.

    Parameters
    ----------
    xy, values
        Readings, as for :func:`hgmap.field.kriging.krige`.
    blocks : sequence of Block
        From :func:`block_of_points` or :func:`block_of_polygon`. The work grows with the square
        of the number of points in all.
    model, nugget, psill, range_, error_variance, anisotropy, smoothness
        As for :func:`hgmap.field.kriging.krige`.
    exact : bool, default True
        Matters only with ``error_variance`` and several readings at one place, which then share
        one nugget (True) or have one each (False).

    Returns
    -------
    BlockAverages

    Raises
    ------
    EstimateError
        As :func:`hgmap.field.kriging.krige`.

    References
    ----------
    Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 13; Cressie
    (1993), Statistics for Spatial Data, section 3.2, written for two blocks.

    Examples
    --------
    Two rooms side by side, one reading in the middle of each:

    >>> rooms = [block_of_polygon(shapely.box(x, 0, x + 6, 5), step=0.5) for x in (0, 6)]
    >>> average = krige_average(
    ...     [[3, 2.5], [9, 2.5]], [1.0, 3.0], rooms,
    ...     model="exponential", nugget=0.1, psill=1.0, range_=12.0,
    ... )
    >>> average.mean.round(3).tolist(), average.standard_error.round(3).tolist()
    ([1.578, 2.422], [0.516, 0.516])
    """
    ready = ready_system(
        xy, values, model=model, nugget=nugget, psill=psill, range_=range_, exact=exact,
        error_variance=error_variance, anisotropy=anisotropy, smoothness=smoothness,
    )  # fmt: skip
    system = ready.system
    there = [Block(ready.in_ranges(block.xy), block.weights) for block in blocks]
    prior = np.empty((len(there), len(there)))
    with_readings = np.empty((len(system.xy), len(there)))
    for i, block in enumerate(there):
        with_readings[:, i] = _average_with(system.kernel, block, system.xy)
        for j, other in enumerate(there[: i + 1]):
            prior[i, j] = prior[j, i] = (
                _average_with(system.kernel, block, other.xy) @ other.weights
            )
    dual = system.pair @ with_readings
    explained = triangular_product(system.inverse_factor, with_readings)
    left = 1.0 - dual[1]
    covariance = prior - explained.T @ explained + np.outer(left, left) / system.ones
    covariance[np.diag_indices(len(there))] = np.maximum(covariance.diagonal(), 0.0)
    return BlockAverages(system.beta + dual[0], covariance)


def _average_with(kernel: Kernel, block: Block, places: Floats) -> Floats:
    """Return the covariance of a block's average with places (ranges), nugget left out."""
    average = np.zeros(len(places))
    size = max(1, BLOCK_BYTES // (8 * max(len(places), 1)))
    for start in range(0, len(block.xy), size):
        part = slice(start, start + size)
        average += block.weights[part] @ kernel.between(block.xy[part], places)
    return average
