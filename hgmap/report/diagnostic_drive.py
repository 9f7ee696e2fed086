"""What a map hangs on: the weights of its candidates, and of its readings in its cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist

from hgmap.field.averaged import CellEstimate
from hgmap.field.predict import by_candidate
from hgmap.field.surface import Surface
from hgmap.field.variogram import MOST_TO_PAIR, Variogram

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
    for part in surface.estimate.mixture.parts:
        key = part.candidate.range_m, part.share
        table[key] = table.get(key, 0.0) + part.weight
        through = getattr(part.candidate, "flux", None)
        if through is not None:
            flux[through] = flux.get(through, 0.0) + part.weight
    ranges, shares = np.array(list(table)).T
    return CandidateWeights(
        ranges, shares, np.array(list(table.values())), dict(sorted(flux.items()))
    )


def drive(surface: Surface) -> Floats | None:
    """Return how much each reading drives the map: its mean absolute weight over the cells (k,).

    None where there are too many readings for one system.
    """
    if surface.estimate is not None:
        return np.asarray(np.abs(mixture_weights(surface.estimate)[1]).mean(axis=0))
    if len(surface.values) > MOST_TO_PAIR:
        return None
    points = surface.raster.points()
    points = points[_sample(len(points))]
    if surface.method == "idw":
        weights = idw_weights(surface.xy, points, float(surface.settings["power"]))
    elif isinstance(surface.variogram, Variogram):
        weights = kriging_weights(surface.xy, points, surface.variogram)
    else:
        return None
    return np.asarray(np.abs(weights).mean(axis=0))


def mixture_weights(estimate: CellEstimate) -> tuple[Ints, Floats]:
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


def idw_weights(xy: Floats, targets: Floats, power: float) -> Floats:
    """Return the weights (c, k) of inverse distance weighting; at a reading it has them all."""
    distance = cdist(targets, xy)
    nearest = distance.min(axis=1, keepdims=True)
    weight = np.where(
        nearest > 0, (nearest / np.where(distance > 0, distance, 1.0)) ** power, distance == 0
    )
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _sample(count: int) -> Ints:
    return np.arange(0, count, max(1, -(-count // MOST_CELLS_WEIGHED)), dtype=np.int64)
