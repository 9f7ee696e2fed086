"""Candidates of the field through the doors: a range and a wall flux each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.kept_columns import MOST_KEPT_ENTRIES, SPARE, KeptColumns
from hgmap.field.mixture import Features
from hgmap.field.points import Check, Progress, never
from hgmap.field.walls import WallField, WallKernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WALL_FLUX: Final[Mapping[float, float]] = {0.0: 0.6, 0.1: 0.2, 1.0: 0.2}
"""Variances, in sills, of an even flux out of the walls that are tried, and their prior weights."""


class Ways:
    """One range over the cells of a graph, and how the readings read them.

    The covariance between cells and readings is large: it is kept place by place where there is
    room for that (:mod:`hgmap.field.kept_columns`); else only that of the range used last is, in a
    slot that the ranges share.
    """

    def __init__(
        self,
        kernel: WallKernel,
        weights: sp.csr_array,
        slot: dict[float, Floats],
        kept: KeptColumns | None = None,
    ) -> None:
        self.kernel, self.weights, self._slot, self._kept = kernel, weights, slot, kept
        self._flux: Floats | None = None
        if kept is not None:
            self.gram = kept.gram(kept.slots(weights))
        else:
            self.half = kernel.half(weights)
            self.gram = self.half.T @ self.half

    def columns(self) -> Floats:
        """Return the covariance between all cells and the readings, shape (m, n)."""
        features, at = self.features()
        return features if self._kept is None else features[:, at]

    def flux_there(self, component: Ints) -> Floats:
        """Return the flux of each part of the floor at the readings, shape (n, parts)."""
        if self._flux is None:
            self._flux = _flux_at(self.kernel, component, self.weights)
        return self._flux

    def features(self) -> tuple[Floats, Ints]:
        """Return a matrix (m, k) and which of its columns are :meth:`columns`."""
        if self._kept is not None:
            at = self._kept.slots(self.weights)
            return self._kept.columns(), at
        key = self.kernel.range_m
        if key not in self._slot:
            self._slot.clear()
            self._slot[key] = self.kernel.columns(self.half)
        return self._slot[key], np.arange(self.weights.shape[0])


@dataclass
class WallCandidate:
    """A range and a wall flux, over the cells of a graph (see ``mixture.Candidate``).

    Parameters
    ----------
    ways : Ways
    component : array of shape (m,)
        The connected part that each cell belongs to.
    flux : float
        Variance of the wall flux, in sills.
    log_prior : float
    """

    ways: Ways
    component: NDArray[np.int64]
    flux: float
    log_prior: float
    gram: Floats = field(init=False)
    prior_variance: Floats = field(init=False)
    range_m: float = field(init=False)

    def __post_init__(self) -> None:
        kernel = self.ways.kernel
        self.range_m = kernel.range_m
        self.gram = self.ways.gram
        self.prior_variance = np.ones(len(self.component))
        if self.flux > 0:
            there = self.ways.flux_there(self.component)
            self.gram = self.gram + self.flux * there @ there.T
            self.prior_variance = self.prior_variance + self.flux * kernel.wall_flux**2

    def columns(self) -> Floats:
        """Return the covariance between all cells and the readings, shape (m, n)."""
        return self._with_flux(self.ways.columns(), self.ways.weights)

    def features(self) -> Features:
        """Return the columns as what the candidates of a range share, and the flux."""
        matrix, at = self.ways.features()
        if self.flux <= 0:
            return Features(matrix, at)
        by_part = self.flux * self.ways.flux_there(self.component).T
        return Features(matrix, at, self.ways.kernel.wall_flux, by_part, self.component)

    def columns_to(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between all cells and what weights read."""
        kernel = self.ways.kernel
        return self._with_flux(kernel.columns(kernel.half(weights)), weights)

    def between(self, weights: sp.csr_array) -> Floats:
        """Return the covariance between averages that weights take, shape (t, t)."""
        return np.asarray(weights @ self.columns_to(weights))

    def cells_to_draw(self) -> NDArray[np.int64]:
        """Return all cells."""
        return np.arange(len(self.component))

    def draw(
        self, cells: NDArray[np.int64], count: int, random: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """Draw fields of unit sill at cells and at the readings."""
        drawn = self.ways.kernel.simulate(count, random)
        if self.flux > 0:
            own = random.normal(size=(int(self.component.max()) + 1, count))
            drawn += np.sqrt(self.flux) * self.ways.kernel.wall_flux[:, None] * own[self.component]
        there = drawn if len(cells) == len(drawn) else drawn[cells]  # all of them: no copy
        return there, np.asarray(self.ways.weights @ drawn)

    def _with_flux(self, covariance: Floats, weights: sp.csr_array) -> Floats:
        if self.flux > 0:
            there = _flux_at(self.ways.kernel, self.component, weights)[:, self.component].T
            covariance = covariance + self.flux * self.ways.kernel.wall_flux[:, None] * there
        return covariance


def _flux_at(kernel: WallKernel, component: Ints, weights: sp.csr_array) -> Floats:
    """Return the flux of each part of the floor at points, shape (n, parts)."""
    parts = sp.csr_array((kernel.wall_flux, (np.arange(len(component)), component)))
    return np.asarray((weights @ parts).toarray())


def wall_candidates(
    walls: WallField,
    weights: sp.csr_array,
    ranges_m: Floats,
    *,
    wall_flux: Mapping[float, float] = WALL_FLUX,
    progress: Progress | None = None,
    check: Check = never,
) -> list[WallCandidate]:
    """Return a candidate for each range (m) and wall flux.

    Beforehand each range is as likely as any other (flat in the range, not in its logarithm).
    """
    candidates = []
    slot: dict[float, Floats] = {}
    cells, count = len(walls.graph.xy), len(ranges_m)
    keep = cells * count * (weights.shape[0] + SPARE) <= MOST_KEPT_ENTRIES
    for done, range_m in enumerate(ranges_m, start=1):
        ways = Ways(
            walls.kernel(float(range_m), check), weights, slot,
            walls.columns(float(range_m)) if keep else None,
        )  # fmt: skip
        candidates += [
            WallCandidate(ways, walls.graph.component, flux, float(np.log(range_m * share)))
            for flux, share in wall_flux.items()
        ]
        if progress is not None:
            progress(done, len(ranges_m) + 1)
    return candidates
