"""What a map hangs on: the weights of its candidates, and of its readings in its cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.field.cell_estimate import CellEstimate
from hgmap.field.dense_cells import DenseCells
from hgmap.field.influence import idw_weights, kriging_weights
from hgmap.field.measured import trust_of
from hgmap.field.paths import Walks
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.surface import Surface
from hgmap.field.variogram import MOST_TO_PAIR, Variogram
from hgmap.site.building import Floor

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
    if surface.estimate is not None:
        return np.asarray(np.abs(mixture_weights(surface.estimate)[1]).mean(axis=0))
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
        trust = trust_of(surface.error, surface.values, log=surface.scale == "log")
        weights = idw_weights(distance, power, trust)
    elif isinstance(surface.variogram, Variogram):
        weights = kriging_weights(surface.xy, points, surface.variogram, surface.error)
    else:
        return None
    return np.asarray(np.abs(weights).mean(axis=0))


def mixture_weights(estimate: CellEstimate) -> tuple[Ints, Floats]:
    """Return a sample of reached cells, and the weights (c, k) of the readings in each."""
    cells = np.flatnonzero(estimate.target_trend.any(axis=1))
    cells = cells[_sample(len(cells))]
    size = len(cells), len(estimate.graph.xy)
    at = sp.csr_array((np.ones(len(cells)), (np.arange(len(cells)), cells)), shape=size)
    return cells, estimate.weights_of_readings(at)


def _sample(count: int) -> Ints:
    return np.arange(0, count, max(1, -(-count // MOST_CELLS_WEIGHED)), dtype=np.int64)
