"""Candidates of the field along straight lines: a range each."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.field.mixture import Features
from hgmap.field.models import Model, correlation

Floats = NDArray[np.float64]

MOST_IN_AVERAGES: Final = 1500
FEWEST_IN_AVERAGE: Final = 16
"""Cells that all averages together, and each at least, are taken over."""

MOST_DRAWN: Final = 800
JITTER: Final = 1e-9
"""Of the sill, so that the Gaussian model's factor exists."""


@dataclass
class StraightCandidate:
    """A range of one correlation model, over cells (see ``mixture.Candidate``).

    Parameters
    ----------
    model : str
    range_m : float
        Practical range (m).
    xy, cells : arrays of shape (n, 2) and (m, 2)
        Readings and targets (m).
    log_prior : float
    """

    model: Model
    range_m: float
    xy: Floats
    cells: Floats
    log_prior: float
    gram: Floats = field(init=False)
    prior_variance: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.gram = self._correlation(self.xy, self.xy)
        self.prior_variance = np.ones(len(self.cells))

    def columns(self) -> Floats:
        """Return the covariance between all cells and the readings, shape (m, n)."""
        return self._correlation(self.cells, self.xy)

    def features(self) -> Features:
        """Return the columns as they are."""
        return Features(self.columns(), np.arange(len(self.xy)))

    def columns_to(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between all cells and what weights read.

        Weights that read many cells are averages; their covariance is summed a block at a time.
        """
        found = np.empty((len(self.cells), weights.shape[0]))
        block = max(1, 2**22 // max(1, len(self.cells)))
        used = np.unique(weights.indices)
        reading = sp.csr_array(weights[:, used])
        found[:] = 0.0
        for at in range(0, len(used), block):
            some = used[at : at + block]
            found += (
                self._correlation(self.cells, self.cells[some])
                @ np.asarray(reading[:, at : at + block].todense()).T
            )
        return found

    def between(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between averages that weights take, shape (t, t).

        An average over many cells is taken over an even sample of them, as a block is over its
        points (Journel and Huijbregts 1978, Mining Geostatistics, section V.A).
        """
        cells, thin = _thinned(weights)
        places = self.cells[cells]
        return np.asarray(thin @ self._correlation(places, places) @ thin.T)

    def cells_to_draw(self) -> NDArray[np.int64]:
        """Return cells spread evenly, as many as one dense factor draws in a second."""
        return np.arange(0, len(self.cells), max(1, -(-len(self.cells) // MOST_DRAWN)))

    def draw(
        self, cells: NDArray[np.int64], count: int, random: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """Draw fields of unit sill at cells and at the readings, by the Cholesky factor."""
        places = np.vstack([self.cells[cells], self.xy])
        covariance = self._correlation(places, places) + JITTER * np.eye(len(places))
        drawn = np.linalg.cholesky(covariance) @ random.normal(size=(len(places), count))
        return drawn[: len(cells)], drawn[len(cells) :]

    def _correlation(self, a: Floats, b: Floats) -> Floats:
        return np.asarray(correlation(cdist(a, b), model=self.model, range_=self.range_m))


def _thinned(weights: sp.csr_array) -> tuple[NDArray[np.int64], Floats]:
    """Return the cells that a sample of each row's weights reads, and the rows over them."""
    most = max(FEWEST_IN_AVERAGE, MOST_IN_AVERAGES // max(1, weights.shape[0]))
    cells, rows, shares = [], [], []
    for row in range(weights.shape[0]):
        own = slice(weights.indptr[row], weights.indptr[row + 1])
        index, share = weights.indices[own], weights.data[own]
        every = max(1, -(-len(index) // most))
        index, kept = index[every // 2 :: every], share[every // 2 :: every]
        total = float(kept.sum())
        cells.append(index.astype(np.int64))
        rows.append(np.full(len(index), row))
        shares.append(kept * (float(share.sum()) / total if total else 1.0))
    used, place = np.unique(np.concatenate(cells), return_inverse=True)
    thin = np.zeros((weights.shape[0], len(used)))
    np.add.at(thin, (np.concatenate(rows), place), np.concatenate(shares))
    return used, thin


def straight_candidates(
    model: Model, xy: Floats, cells: Floats, ranges_m: Floats
) -> list[StraightCandidate]:
    """Return a candidate for each range (m); beforehand each is as likely as any other."""
    return [
        StraightCandidate(model, float(range_m), xy, cells, float(np.log(range_m)))
        for range_m in ranges_m
    ]
