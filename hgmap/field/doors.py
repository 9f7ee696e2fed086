"""Estimation through the doors: the wall-aware field, weighed over range and nugget."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from hgmap.field.branch import Branch, honest_sd, variogram_notes
from hgmap.field.graph import CellGraph
from hgmap.field.mixture import Mixture, leave_one_out, predict, weigh
from hgmap.field.points import Merged, Progress
from hgmap.field.raster import Raster, fitting_cell
from hgmap.field.validate import scores_of
from hgmap.field.variogram import FEWEST_TO_FIT, DoorFit, default_variogram
from hgmap.field.walls import WallField, WallKernel
from hgmap.site.model import Floor

Floats = NDArray[np.float64]

KERNEL_STEP_M: Final = 0.2
COARSEST_STEP_M: Final = 0.5
MOST_KERNEL_CELLS: Final = 40_000
"""Cells of the kernel, inside and out, above which its step grows."""

RANGES_TRIED: Final = 7
LONGEST_RANGE: Final = 6.0
"""Longest range that is tried, in diagonals of the floor: a plane, as far as the floor can tell."""

WALL_FLUX: Final = (0.0, 0.1, 1.0)
"""Variances, in sills, of an even flux out of the walls that are tried; equally likely at first."""


@dataclass
class _WallCandidate:
    """A range and a wall flux, over the cells of a graph."""

    kernel: WallKernel
    weights: sp.csr_array
    component: NDArray[np.int64]
    half: Floats
    flux: float
    log_prior: float
    gram: Floats = field(init=False)
    prior_variance: Floats = field(init=False)
    range_m: float = field(init=False)

    def __post_init__(self) -> None:
        self.range_m = self.kernel.range_m
        self.gram = self.half.T @ self.half
        self.prior_variance = np.ones(len(self.component))
        if self.flux > 0:
            there = self._flux_at(self.weights)
            self.gram = self.gram + self.flux * there @ there.T
            self.prior_variance = self.prior_variance + self.flux * self.kernel.wall_flux**2

    def _flux_at(self, weights: sp.csr_array) -> Floats:
        """Return the flux of each part of the floor at points, shape (n, parts)."""
        parts = sp.csr_array(
            (self.kernel.wall_flux, (np.arange(len(self.component)), self.component))
        )
        return np.asarray((weights @ parts).toarray())

    def columns(self) -> Floats:
        return self._columns(self.half, self.weights)

    def columns_to(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between all cells and the points that weights read."""
        return self._columns(self.kernel.half(weights), weights)

    def _columns(self, half: Floats, weights: sp.csr_array) -> Floats:
        covariance = self.kernel.columns(half)
        if self.flux > 0:
            there = self._flux_at(weights)[:, self.component].T
            covariance = covariance + self.flux * self.kernel.wall_flux[:, None] * there
        return covariance


@dataclass(frozen=True)
class DoorEstimate:
    """Mean and variance in every cell of the graph; NaN where no reading reaches."""

    mean: Floats
    variance: Floats
    mixture: Mixture


def estimate_through_doors(
    walls: WallField,
    weights: sp.csr_array,
    values: Floats,
    *,
    error_weight: Floats | None = None,
    ranges_m: Floats | None = None,
    wall_flux: tuple[float, ...] = WALL_FLUX,
    least_sill: float = 0.0,
    progress: Progress | None = None,
) -> DoorEstimate:
    """Estimate every cell, weighing ranges, nuggets and wall fluxes by what the readings say.

    Parameters
    ----------
    walls : WallField
        Of the floor.
    weights : sparse array of shape (n, m)
        How the readings read the cells (:meth:`CellGraph.interpolation`).
    values : array of shape (n,)
        Working scale.
    error_weight : array of shape (n,), optional
        Relative error variance of each reading.
    ranges_m : array, optional
        Ranges tried (m); a geometric series from two cells to six diagonals where not given. Each
        range is as likely beforehand as any other (flat in the range, not in its logarithm).
    wall_flux : tuple of float
        Variances of an even wall flux that are tried, in sills.
    least_sill : float
        The field's variance is never taken for less (working-scale unit squared).
    progress : callable, optional
        Called with (done, all) ranges; raising inside it cancels.
    """
    graph = walls.graph
    if ranges_m is None:
        diagonal = float(np.hypot(*np.ptp(graph.xy, axis=0)))
        shortest = max(2.0 * graph.raster.cell_m, diagonal / 40.0)
        ranges_m = np.geomspace(shortest, LONGEST_RANGE * diagonal, RANGES_TRIED)
    home = graph.component[np.asarray(weights.argmax(axis=1)).ravel()]
    reached = np.unique(home)
    trend = (home[:, None] == reached[None, :]).astype(float)
    target_trend = (graph.component[:, None] == reached[None, :]).astype(float)
    candidates = []
    for done, range_m in enumerate(ranges_m, start=1):
        kernel = walls.kernel(float(range_m))
        half = kernel.half(weights)
        candidates += [
            _WallCandidate(kernel, weights, graph.component, half, flux, float(np.log(range_m)))
            for flux in wall_flux
        ]
        if progress is not None:
            progress(done, len(ranges_m) + 1)
    mixture = weigh(candidates, values, trend, error_weight=error_weight, least_sill=least_sill)
    mean, variance = predict(mixture, target_trend)
    if progress is not None:
        progress(1, 1)
    return DoorEstimate(mean, variance, mixture)


def by_doors(
    floor: Floor,
    raster: Raster,
    merged: Merged,
    room: NDArray[np.int64],
    *,
    log: bool,
    progress: Progress | None,
) -> Branch:
    """Estimate a floor's raster through its doors.

    Parameters
    ----------
    floor : Floor
    raster : Raster
        Cells to fill.
    merged : Merged
        Readings, replicates averaged.
    room : array of shape (k,)
        Position of each place's room in ``floor.rooms``.

    Raises
    ------
    EstimateError
        If there are no more places than separate parts of the floor.
    """
    walls = WallField(CellGraph.over(floor, kernel_step(floor, raster.cell_m)))
    graph = walls.graph
    weights = graph.interpolation(merged.xy, room)
    replicates = np.bincount(merged.group).astype(float)
    note = _why_default(merged)
    stated = default_variogram(merged.xy, merged.values, log=log, note=note)
    estimate = estimate_through_doors(
        walls,
        weights,
        merged.values,
        error_weight=1.0 / replicates,
        least_sill=stated.sill if note else 0.0,
        progress=progress,
    )
    mixture = estimate.mixture
    finest = graph.interpolation(raster.points(), raster.room_index[raster.inside].astype(np.int64))
    mean = finest @ estimate.mean
    noise_free = np.maximum(finest @ estimate.variance, 0.0)
    lost = ~np.isin(raster.room_index[raster.inside], np.unique(graph.room))
    mean[lost] = noise_free[lost] = np.nan
    fit = DoorFit(
        mixture.nugget,
        mixture.sill,
        mixture.range_m,
        len(mixture.parts),
        "default" if note else "fitted",
        note,
    )
    error, sd = leave_one_out(mixture)
    return Branch(
        mean,
        honest_sd(mean, noise_free, mixture.nugget, log=log),
        fit,
        scores_of(error, sd),
        mixture.degrees_of_freedom,
        DoorPosterior(graph, mixture),
        variogram_notes(fit),
    )


def _why_default(merged: Merged) -> str:
    """Say why the stated sill stands in for the fitted one; empty where it does not."""
    count = len(merged.values)
    if count < FEWEST_TO_FIT:
        return (
            f"{count} places are fewer than {FEWEST_TO_FIT}: the sill is at least the stated one, "
            "range and nugget are weighed by few"
        )
    if np.ptp(merged.values) <= 1e-12 * max(1.0, float(np.abs(merged.values).max())):
        return "the readings do not differ: the sill is the stated one"
    return ""


def kernel_step(floor: Floor, cell_m: float) -> float:
    """Return the step (m) of the cells that carry the covariance.

    0.2 m; up to 0.5 m where coarser cells are asked for; or what fits.
    """
    wanted = min(max(KERNEL_STEP_M, cell_m), COARSEST_STEP_M)
    return max(wanted, fitting_cell(floor, MOST_KERNEL_CELLS))


class DoorPosterior:
    """What the readings leave uncertain, by the heaviest candidate alone."""

    def __init__(self, graph: CellGraph, mixture: Mixture) -> None:
        part = mixture.parts[0]
        candidate = part.candidate
        assert isinstance(candidate, _WallCandidate)
        self._graph, self._candidate, self._sill = graph, candidate, part.sill
        matrix = candidate.gram + part.share * np.diag(mixture.error_weight)
        self._factor = cho_factor(matrix, lower=True)
        self._columns = candidate.columns()
        self._solved_trend = cho_solve(self._factor, mixture.trend)
        self._information = np.linalg.inv(mixture.trend.T @ self._solved_trend)
        home = graph.component[np.asarray(candidate.weights.argmax(axis=1)).ravel()]
        self._own = (graph.component[:, None] == np.unique(home)[None, :]).astype(float)

    def covariance(self, a: Floats, b: Floats, room: int) -> Floats:
        """Return the error covariance between places (m) of a room, shape (len(a), len(b))."""
        at_a, at_b = self._weights(a, room), self._weights(b, room)
        prior = at_a @ self._candidate.columns_to(at_b)
        ca, cb = at_a @ self._columns, at_b @ self._columns
        left_a, left_b = self._left(at_a, ca), self._left(at_b, cb)
        return np.asarray(
            self._sill
            * (prior - ca @ cho_solve(self._factor, cb.T) + left_a @ self._information @ left_b.T)
        )

    def variance(self, a: Floats, room: int) -> Floats:
        """Return the error variance at places (m) of a room, shape (len(a),)."""
        return np.maximum(np.diag(self.covariance(a, a, room)), 0.0)

    def _weights(self, points: Floats, room: int) -> sp.csr_array:
        return self._graph.interpolation(points, np.full(len(points), room))

    def _left(self, weights: sp.csr_array, columns: Floats) -> Floats:
        """Return what the readings do not say of the means, shape (points, parts)."""
        return np.asarray(weights @ self._own - columns @ self._solved_trend)
