r"""Ordinary kriging on a grid of many cells: the dense back end's numbers with less work.

Away from its datum a smooth covariance is an analytic function of place. Over a tile of the grid
the covariances to all *far* readings are therefore polynomials, given by their values at p x p
Chebyshev nodes, and only the few *near* readings need one covariance a cell. With T(x) the
p² Lagrange polynomials, F (n x p²) the covariances of the far readings at the nodes, N the rows
of near readings and c(x) their covariances, the squared length of L⁻¹ c is

    T' F' K⁻¹ F T  +  2 c' (K⁻¹)_N F T  +  c' (K⁻¹)_NN c

and all of it but c is made once a tile. The first term needs no p²-long product a cell either: as
T is the product of a polynomial in x and one in y, so are its squares.

A reading is near when the ellipse that it leaves to the tile is smaller than ``ELLIPSE``
(``chebyshev`` says why). The Gaussian model is analytic everywhere, but grows in the ellipse:
there no reading is near, and the tile must be small against the range.

A spherical model has a kink at its range and stays with the dense back end.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.field.chebyshev import Axis, ellipse_parameters, lay_axis
from hgmap.field.grid import Grid, Tile, lay_tiles
from hgmap.field.models import Model
from hgmap.field.points import Progress
from hgmap.field.straight import System, estimate_points, squared_length, triangular_product
from hgmap.field.workers import work_through

Floats = NDArray[np.float64]

NODES: Final = 14
ELLIPSE: Final = 4.2
"""Together they keep the error of a covariance below 1e-9 of the partial sill."""

LONGEST_SIDE: Final[dict[Model, float]] = {
    "exponential": math.inf,
    "matern": 1.0,
    "gaussian": 0.6,
}
"""Of a tile, in (shortest) ranges: the smoother the model, the more it grows in the ellipse."""

SIDES: Final = (8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256)

PROBES: Final = 8
ROUGH: Final = 3e-9
"""Share of the sill, or of the spread of the readings, by which tiles may miss the dense back end
at the cells where both are computed; beyond it the dense one does the whole grid."""


class _TooRoughError(Exception):
    pass


def estimate_grid(
    system: System, grid: Grid, *, block_bytes: int, progress: Progress | None = None
) -> tuple[Floats, Floats]:
    """Estimate at the inside cells of a grid, by whichever back end is quicker there.

    Parameters
    ----------
    system : System
    grid : Grid
    block_bytes : int
        Of one block of the dense back end.
    progress : callable, optional
        Called with (done, all) inside cells.

    Returns
    -------
    mean, variance : arrays of shape (inside cells,)
        Row by row.
    """
    side = choose_side(system, grid)
    if side:
        try:
            return _estimate_tiles(system, grid, side, block_bytes, progress)
        except _TooRoughError:
            pass
    places = grid.places(*np.nonzero(grid.inside))
    return estimate_points(system, places, block_bytes=block_bytes, progress=progress)


def choose_side(system: System, grid: Grid) -> int:
    """Return the side of the tiles (cells) that takes the least time; 0 for the dense back end.

    Times are in nanoseconds, measured on one core, and matter by their ratios only.
    """
    if system.kernel.model not in LONGEST_SIDE:
        return 0
    product = 0.03  # a multiplication and an addition in a product of matrices
    covariance = 8.0 if system.kernel.model != "matern" else _matern_time(system.kernel.smoothness)
    n, cells, p = len(system.xy), int(grid.inside.sum()), NODES
    step = max(_step(grid.x), _step(grid.y))
    stretch = np.linalg.svd(grid.matrix, compute_uv=False)
    density = n / max(float(np.prod(np.ptp(system.xy, axis=0))), 1e-12)
    best, best_time = 0, cells * n * (n * product / 2 + covariance)
    for side in SIDES:
        wide = side * step * float(stretch[0])
        if wide > LONGEST_SIDE[system.kernel.model]:
            break
        area = (3.0 * wide) * (3.0 * side * step * float(stretch[1]))
        near = 0.0 if system.kernel.model == "gaussian" else min(n, density * area)
        tile = 1e6 + n * p**2 * (product * (n / 2 + p**2 / 2) + covariance)
        cell = 15.0 + near * (covariance + product * (near + 3 * p))
        time = cells * cell + grid.count_tiles(side) * tile
        if time < best_time:
            best, best_time = side, time
    return best


def _matern_time(smoothness: float) -> float:
    if smoothness in (0.5, 1.5, 2.5):
        return 10.0
    return 50.0 if smoothness == 1.0 else 420.0


def _step(axis: Floats) -> float:
    return float(axis[-1] - axis[0]) / (len(axis) - 1) if len(axis) > 1 else 0.0


def _estimate_tiles(
    system: System, grid: Grid, side: int, block_bytes: int, progress: Progress | None
) -> tuple[Floats, Floats]:
    place = np.cumsum(grid.inside.ravel()).reshape(grid.inside.shape) - 1
    count = int(grid.inside.sum())
    mean, variance = np.empty(count), np.empty(count)
    tiles = lay_tiles(grid.inside, side)
    probes = set(np.linspace(0, len(tiles) - 1, PROBES).astype(int).tolist())
    # the tiles that may call the whole off come first
    order = sorted(range(len(tiles)), key=lambda number: number not in probes)

    def work(number: int) -> None:
        tile = tiles[number]
        inside = grid.inside[tile.rows, tile.columns]
        tile_mean, tile_variance = estimate_tile(system, grid, tile)
        if number in probes:
            _refuse_rough(system, grid, tile, tile_mean, tile_variance)
        cells = place[tile.rows, tile.columns][inside]
        mean[cells], variance[cells] = tile_mean[inside], tile_variance[inside]

    sizes = [int(grid.inside[tiles[one].rows, tiles[one].columns].sum()) for one in order]
    work_through(work, order, sizes, progress)
    row, column = _cells_at_readings(system, grid)
    if len(row):
        there = place[row, column]
        mean[there], variance[there] = estimate_points(
            system, grid.places(row, column), block_bytes=block_bytes
        )
    return mean, np.maximum(variance, 0.0, out=variance)


def estimate_tile(system: System, grid: Grid, tile: Tile) -> tuple[Floats, Floats]:
    """Return mean and variance at the cells of a tile, both of shape (rows, columns)."""
    kernel = system.kernel
    x, y = grid.x[tile.columns], grid.y[tile.rows]
    across, along = lay_axis(x, NODES), lay_axis(y, NODES)
    near = _near(system, grid, across, along)
    far = kernel.between(system.xy, grid.net(across.nodes, along.nodes))
    far[near] = 0.0

    def spread(at_nodes: Floats) -> Floats:
        square = at_nodes.reshape(-1, NODES, NODES)
        return np.asarray(along.basis @ square @ across.basis.T)

    dual = spread(system.pair @ far)
    solved = triangular_product(system.inverse_factor, far)
    # as a function of (y node, y node) and (x node, x node), not of (node, node)
    gram = (solved.T @ solved).reshape(NODES, NODES, NODES, NODES).transpose(0, 2, 1, 3)
    explained = _squares(along) @ gram.reshape(NODES**2, NODES**2) @ _squares(across).T
    if len(near):
        covariance = kernel.between(system.xy[near], grid.net(x, y))
        dual += (system.pair[:, near] @ covariance).reshape(dual.shape)
        inverse = system.inverse_factor[:, near]
        weight = (inverse.T @ inverse) @ covariance
        weight += 2.0 * spread(inverse.T @ solved).reshape(weight.shape)
        explained += np.einsum("kc,kc->c", weight, covariance).reshape(explained.shape)
    variance = system.sill - explained + (1.0 - dual[1]) ** 2 / system.ones
    return system.beta + dual[0], variance


def _squares(axis: Axis) -> Floats:
    """Return all products of two polynomials of an axis, shape (cells, p²)."""
    basis = axis.basis
    return (basis[:, :, None] * basis[:, None, :]).reshape(len(basis), -1)


def _near(system: System, grid: Grid, across: Axis, along: Axis) -> NDArray[np.intp]:
    """Return the readings whose covariance is no polynomial over a tile."""
    if system.kernel.model == "gaussian":
        return np.empty(0, dtype=np.intp)
    there = np.asarray(np.linalg.solve(grid.matrix, system.xy.T).T, dtype=np.float64)
    metric = grid.matrix.T @ grid.matrix
    return np.flatnonzero(ellipse_parameters(there, across, along, metric) < ELLIPSE)


def _refuse_rough(system: System, grid: Grid, tile: Tile, mean: Floats, variance: Floats) -> None:
    """Compare a tile at its corners and middle with the dense back end, where both are smooth."""
    rows, columns = mean.shape
    row = np.array([0, 0, rows - 1, rows - 1, rows // 2])
    column = np.array([0, columns - 1, 0, columns - 1, columns // 2])
    places = grid.places(tile.rows.start + row, tile.columns.start + column)
    covariance = system.kernel.between(system.xy, places)
    dual = system.pair @ covariance
    explained = squared_length(system.inverse_factor, covariance)
    right = system.sill - explained + (1.0 - dual[1]) ** 2 / system.ones
    off_mean = np.abs(system.beta + dual[0] - mean[row, column]).max()
    off_variance = np.abs(right - variance[row, column]).max()
    spread = float(np.ptp(system.values))
    if not (off_mean <= ROUGH * spread + 1e-300 and off_variance <= ROUGH * system.sill):
        raise _TooRoughError


def _cells_at_readings(system: System, grid: Grid) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the inside cells whose centre is a reading's place, where that matters."""
    if system.at_reading < 0:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    there = np.linalg.solve(grid.matrix, system.xy.T)
    column, row = _nearest(grid.x, there[0]), _nearest(grid.y, there[1])
    distance = np.linalg.norm(grid.places(row, column) - system.xy, axis=1)
    at = (distance <= system.at_reading) & grid.inside[row, column]
    return row[at], column[at]


def _nearest(axis: Floats, wanted: Floats) -> NDArray[np.intp]:
    right = np.clip(np.searchsorted(axis, wanted), 1, max(len(axis) - 1, 1))
    right = np.minimum(right, len(axis) - 1)
    left = np.maximum(right - 1, 0)
    return np.where(wanted - axis[left] <= axis[right] - wanted, left, right)
