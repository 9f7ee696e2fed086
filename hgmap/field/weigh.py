"""Weighing the candidates: what the readings say of range, nugget and sill, and of intervals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.beliefs import Beliefs
from hgmap.field.mixture import Candidate, Mixture, Part
from hgmap.field.points import Check, never
from hgmap.field.spectrum import Profiles, Spectrum
from hgmap.field.truncated import Conditional, Intervals, sweep

Floats = NDArray[np.float64]

LEAST_WEIGHT: Final = 2e-3
"""Candidates lighter than this, relative to the heaviest, are left out."""

BURN_IN: Final = 50
DRAWS: Final = 200
"""Sweeps over the readings that are intervals: thrown away, and kept."""

MOST_KEPT: Final = 64


def weigh(
    candidates: Sequence[Candidate],
    values: Floats,
    trend: Floats,
    *,
    error_weight: Floats | None = None,
    beliefs: Beliefs | None = None,
    intervals: Intervals | None = None,
    seed: int = 0,
    check: Check = never,
) -> Mixture:
    """Weigh every candidate with every nugget by its restricted likelihood and prior.

    Readings that are intervals are drawn, in turn with the parameters, from what is left of them
    (data augmentation: Tanner and Wong 1987, J. Am. Stat. Assoc. 82:528-540): a weight is then the
    mean over the draws, and each part keeps the mean and covariance of the values it was drawn
    with.

    Parameters
    ----------
    candidates : sequence of Candidate
    values : array of shape (n,)
        Working scale; anything finite where a reading is an interval.
    trend : array of shape (n, p)
    error_weight : array of shape (n,), optional
    beliefs : Beliefs, optional
    intervals : Intervals, optional
    seed : int
        Of the draws.
    check : callable, optional
        Called now and then; raising inside it cancels.

    Raises
    ------
    EstimateError
        If the readings do not differ within the parts of the floor and no least sill is given, or
        they are too few for the means.
    """
    error_weight = np.ones(len(values)) if error_weight is None else error_weight
    beliefs = beliefs or Beliefs()
    freedom = len(values) - trend.shape[1]
    if freedom < 1:
        raise EstimateError("no more readings than separate parts of the floor")
    if intervals is None and beliefs.least_sill <= 0 and beliefs.sill is None:
        _refuse_even(values, trend)
    table = _Table(candidates, trend, error_weight, beliefs)
    numbers = np.ones(len(values), dtype=bool)
    if intervals is None or not len(intervals.which):
        draws, draw_weight, draw_sill = values[None], *(a[None] for a in table.weigh(values))
    else:
        numbers[intervals.which] = False
        draws, draw_weight, draw_sill = _draw(table, values, intervals, seed, check)
    parts = _parts(table, draws, draw_weight, draw_sill)
    return Mixture(parts, error_weight, trend, numbers, beliefs.sill_is_known)


def _refuse_even(values: Floats, trend: Floats) -> None:
    residual = values - trend @ np.linalg.lstsq(trend, values, rcond=None)[0]
    if np.abs(residual).max() <= 1e-12 * max(1.0, float(np.abs(values).max())):
        raise EstimateError("the readings do not differ")


class _Table:
    """Every candidate with every share, to be weighed by any readings."""

    def __init__(
        self,
        candidates: Sequence[Candidate],
        trend: Floats,
        error_weight: Floats,
        beliefs: Beliefs,
    ) -> None:
        self.candidates, self.beliefs = list(candidates), beliefs
        self.shares = beliefs.tried()
        self.freedom = trend.shape[0] - trend.shape[1]
        self.spectra = [Spectrum.of(one.gram, trend, error_weight) for one in candidates]
        self.profiles = Profiles(self.spectra, self.shares)
        self._log_prior = np.array([[one.log_prior] for one in candidates])
        self._conditionals: dict[int, Conditional] = {}

    def weigh(self, values: Floats) -> tuple[Floats, Floats]:
        """Return the weights of all entries, adding up to 1, and their sills."""
        squares = self.profiles.squares(values)
        sill = self.beliefs.sills(squares, self.freedom)
        likelihood = squares / sill + self.freedom * np.log(sill) + self.profiles.log_determinant
        likelihood *= -0.5
        log = likelihood + self._log_prior + self.beliefs.log_prior(self.shares * sill)
        log -= log.max()
        weight = np.exp(log, out=log).ravel()
        weight /= weight.sum()
        return weight, sill.ravel()

    def entry(self, index: int) -> tuple[Candidate, float, Spectrum]:
        """Return the candidate, share and spectrum of an entry."""
        which, share = divmod(index, len(self.shares))
        return self.candidates[which], float(self.shares[share]), self.spectra[which]

    def conditional(self, index: int, which: NDArray[np.int64]) -> Conditional:
        """Return what intervals owe to the other readings, by an entry; the last few are kept."""
        if index not in self._conditionals:
            if len(self._conditionals) >= MOST_KEPT:
                self._conditionals.pop(next(iter(self._conditionals)))
            _, share, spectrum = self.entry(index)
            self._conditionals[index] = Conditional.of(spectrum.projected_precision(share), which)
        return self._conditionals[index]


def _draw(
    table: _Table, values: Floats, intervals: Intervals, seed: int, check: Check
) -> tuple[Floats, Floats, Floats]:
    """Draw parameters and hidden values in turn; return draws, weights and sills, a row each."""
    random = np.random.default_rng(seed)
    current = values.copy()
    current[intervals.which] = intervals.start()
    kept = []
    weight, sill = table.weigh(current)
    for step in range(BURN_IN + DRAWS):
        check()
        # as Generator.choice draws, without its checks
        total = weight.cumsum()
        index = int((total / total[-1]).searchsorted(random.random(), side="right"))
        drawn = float(sill[index])
        if not table.beliefs.sill_is_known:  # given the readings it is scaled inverse chi-squared
            drawn *= table.freedom / float(random.chisquare(table.freedom))
        conditional = table.conditional(index, intervals.which)
        sweep(current, conditional, max(drawn, table.beliefs.least_sill), intervals, random)
        weight, sill = table.weigh(current)
        if step >= BURN_IN:
            kept.append((current.copy(), weight, sill))
    draws, weights, sills = (np.array(column) for column in zip(*kept, strict=True))
    return draws, weights, sills


def _parts(table: _Table, draws: Floats, weights: Floats, sills: Floats) -> tuple[Part, ...]:
    total = weights.mean(axis=0)
    heavy = np.flatnonzero(total >= LEAST_WEIGHT * total.max())
    heavy = heavy[np.argsort(-total[heavy], kind="stable")]
    parts = []
    hidden = np.flatnonzero(np.ptp(draws, axis=0) > 0)
    for index in heavy:
        share = weights[:, index] / weights[:, index].sum()
        mean = share @ draws
        spread = ((draws[:, hidden] - mean[hidden]) * np.sqrt(share)[:, None]).T
        candidate, nugget_share, spectrum = table.entry(int(index))
        parts.append(
            Part(
                candidate,
                nugget_share,
                float(share @ sills[:, index]),
                float(total[index] / total[heavy].sum()),
                spectrum,
                mean,
                _fewest_columns(spread, hidden, len(mean)),
            )
        )
    return tuple(parts)


def _fewest_columns(spread: Floats, rows: NDArray[np.intp], n: int) -> Floats:
    """Return a matrix with the same product with its transpose, and no idle columns, (n, r).

    ``spread`` are its ``rows`` that are not zero.
    """
    if not len(rows):
        return np.empty((n, 0))
    # as the singular values would have it, from a matrix that is much smaller
    squares, left = np.linalg.eigh(spread @ spread.T)
    size, left = np.sqrt(np.maximum(squares[::-1], 0.0)), left[:, ::-1]
    keep = size > 1e-3 * size[0]
    found = np.zeros((n, int(keep.sum())))
    found[rows] = left[:, keep] * size[keep]
    return found
