"""What a map hangs on: the weights of its candidates, and of its readings in its cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist

from hgmap.field.cell_estimate import CellEstimate
from hgmap.field.dense_cells import DenseCells
from hgmap.field.paths import Walks
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.predict import by_candidate
from hgmap.field.surface import Surface
from hgmap.field.variogram import MOST_TO_PAIR, Variogram
from hgmap.site.model import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_CELLS_WEIGHED: Final = 4000
"""The weights of the readings are averaged over an even sample of at most so many cells."""


@dataclass(frozen=True)
class CandidateWeights:
    """Weights of the candidates: one row for a range (m) and a nugget (in sills), fluxes summed.

    ``flux`` are the wall fluxes (variances, in sills) that carry weight, with their weights.
    """

    range_m: Floats
    nugget_share: Floats
    weight: Floats
    flux: dict[float, float]


def candidate_weights(surface: Surface) -> CandidateWeights | None:
    """Return the weights of ranges and nuggets; None where nothing was weighed."""
    if surface.estimate is None:
        return None
    table: dict[tuple[float, float], float] = {}
    flux: dict[float, float] = {}
    for range_m, share, through, weight in _weighed(surface.estimate):
        table[range_m, share] = table.get((range_m, share), 0.0) + weight
        if through is not None:
            flux[through] = flux.get(through, 0.0) + weight
    ranges, shares = np.array(list(table)).T
    return CandidateWeights(
        ranges, shares, np.array(list(table.values())), dict(sorted(flux.items()))
    )


def _weighed(estimate: CellEstimate) -> list[tuple[float, float, float | None, float]]:
    """Return range, nugget share, wall flux and weight of every part."""
    if isinstance(estimate, PrecisionCells):
        return [(one.range_m, one.share, one.flux, one.weight) for one in estimate.made.parts]
    if not isinstance(estimate, DenseCells):
        return []
    return [
        (one.candidate.range_m, one.share, getattr(one.candidate, "flux", None), one.weight)
        for one in estimate.mixture.parts
    ]


def drive(surface: Surface, floor: Floor) -> Floats | None:
    """Return how much each reading drives the map: its mean absolute weight over the cells (k,).

    None where there are too many readings for one system.
    """
    if isinstance(surface.estimate, DenseCells):
        return np.asarray(np.abs(mixture_weights(surface.estimate)[1]).mean(axis=0))
    if isinstance(surface.estimate, PrecisionCells):
        made = surface.estimate
        cells = made.made.common.cells
        cells = cells[_sample(len(cells))]
        size = (len(cells), len(made.graph.xy))
        at = sp.csr_array((np.ones(len(cells)), (np.arange(len(cells)), cells)), shape=size)
        return np.asarray(np.abs(made.posterior.reading_weights(at)).mean(axis=0))
    if len(surface.values) > MOST_TO_PAIR:
        return None
    points = surface.raster.points()
    points = points[_sample(len(points))]
    if surface.method == "idw":
        power = float(surface.settings["power"])
        distance = cdist(points, surface.xy)
        if surface.settings["walls"]:
            distance = Walks.over(floor).distances(points, None, surface.xy, surface.room)
            distance = distance[np.isfinite(distance).any(axis=1)]
        weights = idw_weights(distance, power)
    elif isinstance(surface.variogram, Variogram):
        weights = kriging_weights(surface.xy, points, surface.variogram)
    else:
        return None
    return np.asarray(np.abs(weights).mean(axis=0))


def mixture_weights(estimate: DenseCells) -> tuple[Ints, Floats]:
    """Return a sample of reached cells, and the weights (c, k) of the readings in each.

    Kriging with the means unknown: with R the covariance of cells and readings in the basis of
    the spectrum, d its precisions and r = f - R d F what the readings do not say of the means,
    the weights are (R d + r (F' d F)⁻¹ F' d) times the basis, transposed (Cressie 1993, Statistics
    for Spatial Data, section 3.4); averaged over the parts by their weights.
    """
    mixture, trend = estimate.mixture, estimate.target_trend
    cells = np.flatnonzero(trend.any(axis=1))
    cells = cells[_sample(len(cells))]
    total = np.zeros((len(cells), len(mixture.trend)))
    for parts in by_candidate(mixture):
        spectrum = parts[0].spectrum
        rotated = parts[0].candidate.columns()[cells] @ spectrum.basis
        inner = np.zeros_like(rotated)
        for part in parts:
            one = spectrum.solve(part.share, spectrum.trend)
            left = trend[cells] - rotated @ one.weighted
            inner += part.weight * (
                rotated * one.precision + left @ np.linalg.inv(one.information) @ one.weighted.T
            )
        total += inner @ spectrum.basis.T
    return cells, total


def kriging_weights(xy: Floats, targets: Floats, variogram: Variogram) -> Floats:
    """Return the weights (c, k) of ordinary kriging along straight lines."""
    factor = cho_factor(variogram.covariance(xy, xy) + variogram.nugget * np.eye(len(xy)))
    ones = cho_solve(factor, np.ones(len(xy)))
    solved = cho_solve(factor, variogram.covariance(xy, targets))
    return np.asarray((solved + np.outer(ones, (1.0 - solved.sum(axis=0)) / ones.sum())).T)


def idw_weights(distance: Floats, power: float) -> Floats:
    """Return the weights (c, k) by distance (c, k); at a reading it has them all."""
    nearest = distance.min(axis=1, keepdims=True)
    weight = np.where(
        nearest > 0, (nearest / np.where(distance > 0, distance, 1.0)) ** power, distance == 0
    )
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _sample(count: int) -> Ints:
    return np.arange(0, count, max(1, -(-count // MOST_CELLS_WEIGHED)), dtype=np.int64)
