"""Ranges, nuggets and wall fluxes weighed by the precision form: for many readings.

What :func:`hgmap.field.weigh.weigh` and :func:`hgmap.field.predict.predict` do with one
eigendecomposition per range is done here with one sparse factor per range and nugget, whose cost
does not grow with the readings. So not every nugget is tried: every third first, then those round
each range's best, then outwards as long as what is found still counts. The likelihood has one top
along the nugget where readings are many; what lies lower than the least weight is left out by
both forms, so that both keep the same candidates with the same weights.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.beliefs import Beliefs
from hgmap.field.points import Progress
from hgmap.field.precision import OneShare, Weighing
from hgmap.field.precision_field import OneRange, PrecisionField
from hgmap.field.threads import one_thread
from hgmap.field.walls import WallField
from hgmap.field.weigh import LEAST_WEIGHT

Floats = NDArray[np.float64]

COARSE_STEP: Final = 3
"""Every so many shares are tried first."""


@dataclass(frozen=True)
class PrecisionPart:
    """One range (m), share and flux; its weight and sill (working-scale unit squared)."""

    range_m: float
    share: float
    flux: float
    weight: float
    sill: float


@dataclass(frozen=True)
class PrecisionEstimate:
    """The weighted mixture of all that counts.

    Attributes
    ----------
    mean, variance : arrays of shape (m,)
        Of the noise-free field in every cell (working scale, and squared); NaN where no reading
        reaches.
    parts : tuple of PrecisionPart
        The heaviest first; weights add up to 1.
    left_out_error, left_out_sd : arrays of shape (n,)
        Of each reading predicted from the others, hyperparameters kept (working scale); NaN where a
        reading stands alone.
    degrees_of_freedom : int
        Readings less means.
    tried : int
        Pairs of range and share that were factored to find the parts.
    common : PrecisionField
        The readings on their graph.
    """

    mean: Floats
    variance: Floats
    parts: tuple[PrecisionPart, ...]
    left_out_error: Floats
    left_out_sd: Floats
    degrees_of_freedom: int
    tried: int
    common: PrecisionField

    @property
    def nugget(self) -> float:
        """Weighted mean of the nugget (working-scale unit squared)."""
        return sum(one.weight * one.share * one.sill for one in self.parts)

    @property
    def sill(self) -> float:
        """Weighted mean of the field's variance (working-scale unit squared)."""
        return sum(one.weight * one.sill for one in self.parts)

    @property
    def range_m(self) -> float:
        """Weighted geometric mean of the range (m)."""
        return float(np.exp(sum(one.weight * float(np.log(one.range_m)) for one in self.parts)))


def weigh_by_precision(
    walls: WallField,
    weights: sp.csr_array,
    values: Floats,
    *,
    ranges_m: Sequence[float] | Floats,
    wall_flux: Mapping[float, float],
    error_weight: Floats | None = None,
    beliefs: Beliefs | None = None,
    progress: Progress | None = None,
) -> PrecisionEstimate:
    """Estimate every cell, weighing ranges, nuggets and wall fluxes by what the readings say.

    Parameters
    ----------
    walls : WallField
        Of the floor.
    weights : sparse array of shape (n, m)
        How the readings read the cells (:meth:`CellGraph.interpolation`).
    values : array of shape (n,)
        Working scale.
    ranges_m : sequence
        Ranges tried (m), each as likely beforehand as any other on a geometric series: their prior
        is flat in the range.
    wall_flux : mapping of float to float
        Variances of an even wall flux that are tried, in sills, and their prior weights.
    error_weight : array of shape (n,), optional
        Relative error variance of each reading.
    beliefs : Beliefs, optional
        Of the nugget; a nugget or sill that is given is not looked at here.
    progress : callable, optional
        Called with (done, all) steps; raising inside it cancels.

    Raises
    ------
    EstimateError
        If the readings do not differ within the parts of the floor and no least sill is given,
        they are too few for the means, or a range is some 90,000 cells or more.
    """
    beliefs = beliefs or Beliefs()
    common = _common(walls, weights, values, error_weight, beliefs.least_sill)
    search = _Search(common, walls, ranges_m, wall_flux, beliefs)
    with one_thread():
        for done in range(len(ranges_m)):
            search.first_look(done)
            if progress is not None:
                progress(done + 1, len(ranges_m) + 2)
        search.follow()
        if progress is not None:
            progress(len(ranges_m) + 1, len(ranges_m) + 2)
        estimate = search.mix()
    if progress is not None:
        progress(1, 1)
    return estimate


def _common(
    walls: WallField,
    weights: sp.csr_array,
    values: Floats,
    error_weight: Floats | None,
    least_sill: float,
) -> PrecisionField:
    component = walls.graph.component
    home = component[np.asarray(weights.argmax(axis=1)).ravel()]
    reached = np.unique(home)
    if len(values) <= len(reached):
        raise EstimateError("no more readings than separate parts of the floor")
    trend = (home[:, None] == reached).astype(float)
    residual = values - trend @ ((trend.T @ values) / trend.sum(axis=0))
    if least_sill <= 0 and np.abs(residual).max() <= 1e-12 * max(1.0, float(np.abs(values).max())):
        raise EstimateError("the readings do not differ")
    known = (component[:, None] == reached).astype(float)
    error_weight = np.ones(len(values)) if error_weight is None else error_weight
    return PrecisionField(walls.graph, weights, values, trend, known, error_weight)


class _Search:
    """Which ranges and shares have been tried, and what came of them."""

    def __init__(
        self,
        common: PrecisionField,
        walls: WallField,
        ranges_m: Sequence[float] | Floats,
        wall_flux: Mapping[float, float],
        beliefs: Beliefs,
    ) -> None:
        self.common, self.walls = common, walls
        self.ranges_m, self.wall_flux, self.beliefs = ranges_m, wall_flux, beliefs
        self.shares, self.least_sill = beliefs.shares, beliefs.least_sill
        self.tried: dict[tuple[int, int], list[Weighing]] = {}
        self._ranges: dict[int, OneRange] = {}

    def over(self, r: int) -> OneRange:
        """Return the field with the r-th range; made once."""
        if r not in self._ranges:
            self._ranges[r] = OneRange(self.common, self.walls.kernel(float(self.ranges_m[r])))
        return self._ranges[r]

    def look(self, r: int, s: int) -> None:
        """Weigh one range and share, unless it is done or lies past an end."""
        if (r, s) in self.tried or not 0 <= s < len(self.shares):
            return
        one = OneShare(self.over(r), float(self.shares[s]))
        self.tried[r, s] = [one.weigh(flux, self.least_sill) for flux in self.wall_flux]

    def weight(self, r: int, s: int) -> float:
        """Return the log weight of a range and share with their best flux."""
        return max(self.weights_of(r, s).values())

    def weights_of(self, r: int, s: int) -> dict[float, float]:
        """Return the log weight of a range and share with each flux."""
        found = {}
        for (flux, prior), one in zip(self.wall_flux.items(), self.tried[r, s], strict=True):
            nugget = np.array([self.shares[s] * one.sill])
            belief = float(self.beliefs.log_prior(nugget)[0])
            found[flux] = one.log_likelihood + float(np.log(self.ranges_m[r] * prior)) + belief
        return found

    def first_look(self, r: int) -> None:
        """Try a range with every third share, and the last."""
        last = len(self.shares) - 1
        for s in {*range(0, last + 1, COARSE_STEP), last}:
            self.look(r, s)

    def follow(self) -> None:
        """Try the shares round each range's best, then those beside any that counts."""
        best = {r: max((pair for pair in self.tried if pair[0] == r), key=self._of)
                for r in range(len(self.ranges_m))}  # fmt: skip
        for r, s in sorted(best.values(), key=self._of, reverse=True):
            if self.weight(r, s) + self._to_gain(r, s) < self._lightest():
                continue
            for step in range(1, COARSE_STEP):
                self.look(r, s - step)
                self.look(r, s + step)
        while True:
            lightest = self._lightest()
            heavy = [pair for pair in self.tried if self.weight(*pair) >= lightest]
            before = len(self.tried)
            for r, s in heavy:
                self.look(r, s - 1)
                self.look(r, s + 1)
            if len(self.tried) == before:
                return

    def _of(self, pair: tuple[int, int]) -> float:
        return self.weight(*pair)

    def _lightest(self) -> float:
        """Return the log weight below which nothing counts."""
        return max(map(self._of, self.tried)) + float(np.log(LEAST_WEIGHT))

    def _to_gain(self, r: int, s: int) -> float:
        """Return more than what a range's top can lie above the best of its coarse shares.

        The parabola through that and its neighbours, its rise taken four times, and 5 besides.
        """
        beside = [self.tried.get((r, s + step)) for step in (-COARSE_STEP, COARSE_STEP)]
        if None in beside:
            return float(np.inf)
        here, before, after = (self.weight(r, s + step) for step in (0, -COARSE_STEP, COARSE_STEP))
        bend = 2.0 * here - before - after
        return 5.0 + (0.5 * (after - before) ** 2 / bend if bend > 0 else 0.0)

    def mix(self) -> PrecisionEstimate:
        """Return the mixture of what counts."""
        top = max(self.weight(*pair) for pair in self.tried)
        kept: dict[tuple[int, int], dict[float, float]] = {}
        for r, s in self.tried:
            for flux, log_weight in self.weights_of(r, s).items():
                weight = float(np.exp(log_weight - top))
                if weight >= LEAST_WEIGHT:
                    kept.setdefault((r, s), {})[flux] = weight
        total = sum(weight for fluxes in kept.values() for weight in fluxes.values())
        parts = []
        cells, readings = len(self.common.target_trend), len(self.common.values)
        at_cells, at_readings = np.zeros((2, cells)), np.zeros((2, readings))
        for (r, s), fluxes in kept.items():
            one_share = OneShare(self.over(r), float(self.shares[s]))
            made = one_share.posteriors(tuple(fluxes), self.least_sill)
            for (flux, unscaled), one in zip(fluxes.items(), made, strict=True):
                weight = unscaled / total
                parts.append(
                    PrecisionPart(
                        float(self.ranges_m[r]), float(self.shares[s]), flux, weight, one.sill
                    )
                )
                at_cells += weight * np.stack([one.mean, one.variance + one.mean**2])
                error = one.left_out_error
                at_readings += weight * np.stack([error, one.left_out_sd**2 + error**2])
        parts.sort(key=lambda part: -part.weight)
        mean, left_out = at_cells[0], at_readings[0]
        return PrecisionEstimate(
            mean,
            np.maximum(at_cells[1] - mean**2, 0.0),
            tuple(parts),
            left_out,
            np.sqrt(np.maximum(at_readings[1] - left_out**2, 0.0)),
            readings - self.common.trend.shape[1],
            len(self.tried),
            self.common,
        )
