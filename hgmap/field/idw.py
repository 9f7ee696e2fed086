"""Inverse distance weighting, at any places or on the cells of a grid."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial.distance import cdist

from hgmap.errors import EstimateError
from hgmap.field.chebyshev import Axis, ellipse_parameters, lay_axis
from hgmap.field.grid import Grid, Tile, as_axis, as_mask, lay_tiles
from hgmap.field.idw_doors import average, idw_through_doors
from hgmap.field.paths import Walks
from hgmap.field.points import Progress, as_points, as_values
from hgmap.field.raster import as_floor, as_rooms
from hgmap.field.system import as_errors
from hgmap.field.workers import work_through
from hgmap.site.building import Floor

Floats = NDArray[np.float64]

BLOCK_BYTES: Final = 4 * 2**20

SMOOTH_POWERS: Final = (0.25, 8.0)
"""Above, a weight changes too much over a tile to be interpolated; below, no weight is large enough
to stand for that of a reading at its own place."""

NODES: Final = 16
ELLIPSE: Final = (3.0, 0.6)
"""A reading is far when the ellipse it leaves to a tile (see ``chebyshev``) is at least the first
and the second number times the power: then no weight, up to the highest power, errs by more than
1e-9 of itself."""

LEAST_TRUST: Final = 1e-280
"""Weight of a reading by its variance, that of the best being 1."""

SIDES: Final = (8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256)


def idw(
    xy: ArrayLike,
    values: ArrayLike,
    targets: ArrayLike,
    *,
    power: float = 2.0,
    progress: Progress | None = None,
    error_variance: ArrayLike | None = None,
    floor: Floor | None = None,
    room: ArrayLike | None = None,
    target_room: ArrayLike | None = None,
) -> NDArray[np.float64]:
    r"""Average the readings, each weighted by its distance to a power.

    .. math:: z(x) = \sum_i d_i^{-p} z_i \Big/ \sum_i d_i^{-p}

    with :math:`d_i` the straight-line distance from reading *i* and *p* the power. At a reading
    the estimate is that reading; where several stand at one place, their mean. With
    ``error_variance`` :math:`v_i` the weights are

    .. math:: w_i = d_i^{-p} \, \bar v / v_i

    with :math:`\bar v` the mean variance, and several readings at one place have the mean weighted
    by :math:`1 / v_i` (the division is this tool's own choice; no source).

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
    error_variance : float or array_like of shape (n,), optional
        Variance of each reading's own error (unit of ``values``, squared), above 0. A reading
        with twice the variance of another counts half; one number for all changes nothing.
    floor : Floor, optional
        Take the length of the shortest walk for the distance, round the walls of this floor and
        through its doors (:mod:`hgmap.field.paths`); ``xy`` and ``targets`` are metres in the
        floor's frame then.
    room, target_room : array_like of shape (n,) and (m,), optional
        Position in ``floor.rooms`` of the room of each reading and target; found from the plan
        where not given.

    Returns
    -------
    array of shape (m,)
        The estimate, in the unit of ``values``; with a floor, NaN where no reading can be walked
        to.

    Raises
    ------
    EstimateError
        If there is no reading, the shapes do not fit, a number is not finite (its row is named),
        or the power or an error variance is not positive; if a room is not one of the floor's, or
        given without a floor; if a place of which no room is given is more than 0.6 m outside
        every room.

    References
    ----------
    Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 11.

    Examples
    --------
    >>> idw([[0, 0], [2, 0]], [1.0, 3.0], [[1, 0], [0, 0]])
    array([2., 1.])

    As near as the other, with three times its variance, a reading counts a third of it:

    >>> idw([[0, 0], [2, 0]], [1.0, 3.0], [[1, 0]], error_variance=[0.1, 0.3])
    array([1.5])
    >>> idw([[0, 0]], [1.0], [])
    Traceback (most recent call last):
    hgmap.errors.EstimateError: targets has shape (0,); give an array of shape (n, 2)
    """
    places, readings = _as_readings(xy, values, power)
    wanted = as_points(targets, name="targets")
    trust = None if error_variance is None else _as_trust(error_variance, len(places))
    if floor is not None:
        floor = as_floor(floor)
        return idw_through_doors(
            Walks.over(floor), places, readings, as_rooms(floor, places, room, name="room"),
            wanted, as_rooms(floor, wanted, target_room, name="target_room"), power=power,
            progress=progress, trust=trust,
        )  # fmt: skip
    if room is not None or target_room is not None:
        raise EstimateError("rooms mean nothing without a floor", todo="give floor as well")
    estimate = np.empty(len(wanted))
    size = max(1, BLOCK_BYTES // (8 * len(places)))
    jobs = [slice(at, min(at + size, len(wanted))) for at in range(0, len(wanted), size)]

    def work(job: slice) -> None:
        estimate[job] = average(cdist(wanted[job], places), readings, power, trust)

    work_through(work, jobs, [job.stop - job.start for job in jobs], progress)
    return estimate


def idw_grid(
    xy: ArrayLike,
    values: ArrayLike,
    gx: ArrayLike,
    gy: ArrayLike,
    inside: NDArray[np.bool_] | None = None,
    *,
    power: float = 2.0,
    progress: Progress | None = None,
    trust: Floats | None = None,
) -> Floats:
    """Estimate as :func:`idw` does, at the cells of a grid: the same numbers to 1e-9, sooner.

    Away from its reading a weight is a smooth function of place. Over a tile of the grid the sums
    over the *far* readings, of weights and of weighted values, are polynomials given by their
    values at a few nodes; only *near* readings are weighed cell by cell.

    Parameters
    ----------
    gx, gy : array_like of shape (nx,) and (ny,)
        Centres of the columns and of the rows, ascending.
    inside : array of shape (ny, nx), bool, optional
        The cells to estimate; all where not given.
    power : float, default 2
        Even whole numbers are the quickest; below 0.25 and above 8 each cell is worked out on its
        own.
    trust : array of shape (n,), optional
        What each reading's weight is multiplied by, from 1e-12 to 1; 1 where not given.

    Returns
    -------
    array of shape (inside cells,)
        Row by row, as ``Raster.points`` lists them.

    Raises
    ------
    EstimateError
        As :func:`idw`, and if the axes or the mask do not fit.

    Examples
    --------
    >>> idw_grid([[0, 0], [2, 0]], [1.0, 3.0], [0, 1], [0])
    array([1., 2.])
    """
    places, readings = _as_readings(xy, values, power)
    x, y = as_axis(gx, "gx"), as_axis(gy, "gy")
    mask = as_mask(inside, (len(y), len(x)))
    side = choose_side(places, Grid(x, y, mask, np.eye(2)))
    if not (side and SMOOTH_POWERS[0] <= power <= SMOOTH_POWERS[1]):
        row, column = np.nonzero(mask)
        return idw(xy, values, np.column_stack([x[column], y[row]]), power=power,
                   progress=progress,
                   error_variance=None if trust is None else 1.0 / trust)  # fmt: skip
    centre, middle = places.mean(axis=0), float(readings.mean())
    # a power of a distance in the unit of the extent cannot overflow
    unit = max(float(np.ptp(axis)) for axis in (x, y, *places.T)) or 1.0
    near, terms = (places - centre) / unit, np.stack([np.ones(len(readings)), readings - middle])
    if trust is not None:
        terms *= trust
    grid = Grid((x - centre[0]) / unit, (y - centre[1]) / unit, mask, np.eye(2))
    spread = np.full(mask.shape, np.nan)

    tiles = lay_tiles(mask, side)
    across = {cells: lay_axis(grid.x[slice(*cells)], NODES) for cells in {t.across for t in tiles}}
    along = {cells: lay_axis(grid.y[slice(*cells)], NODES) for cells in {t.along for t in tiles}}

    def work(tile: Tile) -> None:
        weights, weighted = _sums(near, terms, across[tile.across], along[tile.along], power)
        spread[tile.rows, tile.columns] = weighted / weights

    sizes = [int(mask[tile.rows, tile.columns].sum()) for tile in tiles]
    work_through(work, tiles, sizes, progress)
    return np.asarray(np.clip(middle + spread[mask], readings.min(), readings.max()))


def choose_side(places: Floats, grid: Grid) -> int:
    """Return the side of the tiles (cells) that weighs least often; 0 to weigh at every cell."""
    cells, n = int(grid.inside.sum()), len(places)
    step = max(float(np.ptp(axis)) / max(len(axis) - 1, 1) for axis in (grid.x, grid.y))
    density = n / max(float(np.prod(np.ptp(places, axis=0))), 1e-300)
    best, fewest = 0, 3.0 * cells * n
    for side in SIDES:
        near = min(float(n), density * (3.3 * side * step) ** 2)
        tiles = grid.count_tiles(side)
        weighed = cells * (near + 10.0) + tiles * (n * NODES**2 + 1e5)
        if weighed < fewest:
            best, fewest = side, weighed
    return best


def _sums(places: Floats, terms: Floats, across: Axis, along: Axis, power: float) -> Floats:
    """Return the sums of the weights and of the weighted values over a tile, (2, rows, columns)."""
    ellipse = ellipse_parameters(places, across, along, np.eye(2))
    is_near = ellipse < ELLIPSE[0] + ELLIPSE[1] * power
    far, near = np.flatnonzero(~is_near), np.flatnonzero(is_near)
    at_nodes = _weigh(places[far], terms[:, far], across.nodes, along.nodes, power)
    sums = along.basis @ at_nodes @ across.basis.T
    if len(near):
        sums += _weigh(places[near], terms[:, near], across.centres, along.centres, power)
    return np.asarray(sums)


def _weigh(places: Floats, terms: Floats, x: Floats, y: Floats, power: float) -> Floats:
    """Return the terms summed with the weights distance ** -power at a net, (terms, ny, nx)."""
    squared = _squared_distances(places, x, y, power)
    weight = squared
    if power % 2 == 0:
        if power > 2:
            weight = squared * squared
        for _ in range(int(power) // 2 - 2):
            weight *= squared
        np.reciprocal(weight, out=weight)
    else:
        np.power(squared, -power / 2, out=weight)
    return np.asarray((terms @ weight).reshape(len(terms), len(y), len(x)))


def _squared_distances(places: Floats, x: Floats, y: Floats, power: float) -> Floats:
    """Return them over a net, row by row, shape (len(places), ny nx)."""
    # dy² 1 + 1 dx² for every pair: a product of matrices is quicker than a broadcast sum
    left, right = np.ones((len(places), len(y), 2)), np.ones((len(places), 2, len(x)))
    left[:, :, 0] = (places[:, 1:] - y) ** 2
    # so near only a reading's own place is: there its weight, up to 1e140, drowns all others
    nearest = max(10.0 ** (-280.0 / power), 1e-300)
    np.maximum((places[:, :1] - x) ** 2, nearest, out=right[:, 1])
    return np.asarray((left @ right).reshape(len(places), len(y) * len(x)))


def _as_readings(xy: ArrayLike, values: ArrayLike, power: float) -> tuple[Floats, Floats]:
    places = as_points(xy)
    readings = as_values(values, len(places))
    if not len(places):
        raise EstimateError("no reading to estimate from")
    if not (np.isfinite(power) and power > 0):
        raise EstimateError(f"a power of {power} cannot be used", todo="give one above 0")
    return places, readings


def _as_trust(error_variance: ArrayLike, count: int) -> Floats | None:
    """Return the weight of each reading by its variance, 1 for the best; None if all are equal."""
    errors = as_errors(error_variance, count)
    if not errors.all():
        raise EstimateError(
            f"error_variance row {np.flatnonzero(errors == 0)[0]} (counted from 0) is 0",
            todo="give variances above 0",
        )
    if (errors == errors[0]).all():
        return None
    # by the least and not by the mean, which only scales all weights, so that none overflows; and
    # none is 0, so that a reading alone at its place is still the estimate there
    return np.asarray(np.maximum(errors.min() / errors, LEAST_TRUST))
