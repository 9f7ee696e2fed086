"""What the diagnostic plots draw: arrays from a surface, and not a word about drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.special import ndtri

from hgmap.decide.model import FloorEvidence
from hgmap.field.dense_cells import DenseCells
from hgmap.field.mixture import Mixture
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.surface import Surface
from hgmap.field.variogram import FEWEST_TO_FIT, MOST_TO_PAIR, AveragedFit, Variogram

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PAIRS_PER_BIN: Final = 15
BINS: Final = (3, 12)
"""Fewest and most distance bins; between, as many as leave each about 15 pairs (common practice,
no source: 30 are wanted where there are many readings)."""

MOST_TO_DRAW: Final = 1000
"""Of more places than this, an even sample is paired where draws are compared with them."""

DRAWS: Final = 400
BAND: Final = (0.1, 0.9)
"""Draws of the readings that the fit allows, and the quantiles of their semivariances."""

JITTER: Final = 1e-9


@dataclass(frozen=True)
class PlaceNames:
    """Which readings stand at each place of a surface.

    Attributes
    ----------
    names : tuple of str
        Ids of the readings; empty where they cannot be told.
    interval : array of shape (k,), bool
        Whether a reading there is an interval: a non-detect, a saturated reading.
    """

    names: tuple[str, ...]
    interval: NDArray[np.bool_]


@dataclass(frozen=True)
class PairBins:
    """Pairs of readings, binned by straight-line distance.

    Attributes
    ----------
    distance_m, gamma, pairs : arrays of shape (b,)
        Mean distance (m), semivariance (working-scale unit squared) and number; no empty bins.
    implied, low, high : arrays of shape (b,) or None
        Semivariance that the weighed candidates expect of the same pairs, and the quantiles of
        what readings drawn from them show; None where nothing was weighed.
    intervals : int
        Places left out because a reading there is an interval.
    apart : int
        Pairs left out because air does not join their parts of the floor.
    """

    distance_m: Floats
    gamma: Floats
    pairs: Ints
    implied: Floats | None
    low: Floats | None
    high: Floats | None
    intervals: int
    apart: int


@dataclass(frozen=True)
class LeftOut:
    """Readings predicted from the others (working scale); ``sd`` None without an error model."""

    which: Ints
    observed: Floats
    predicted: Floats
    sd: Floats | None

    @property
    def half_width(self) -> Floats | None:
        """Half of each 95 % interval, by the normal that the coverage is counted with."""
        return None if self.sd is None else float(ndtri(0.975)) * self.sd

    @property
    def outside(self) -> NDArray[np.bool_]:
        """Which readings lie outside their interval."""
        half = self.half_width
        if half is None:
            return np.zeros(len(self.which), dtype=bool)
        return np.asarray(np.abs(self.observed - self.predicted) > half)


def place_names(surface: Surface, evidence: FloorEvidence) -> PlaceNames:
    """Find the readings of each place."""
    count = len(surface.values)
    if len(surface.group) != len(evidence.used):
        return PlaceNames(("",) * count, np.zeros(count, dtype=bool))
    lower, upper = evidence.bounds
    ids: list[list[str]] = [[] for _ in range(count)]
    for item, place in zip(evidence.used, surface.group, strict=True):
        ids[place].append(item.reading.id)
    names = tuple(", ".join(one) if len(one) < 3 else f"{one[0]} (×{len(one)})" for one in ids)
    hidden = np.bincount(surface.group, weights=lower < upper, minlength=count) > 0
    return PlaceNames(names, hidden)


def pair_bins(surface: Surface, interval: NDArray[np.bool_]) -> PairBins:
    """Average squared differences of readings that are numbers (Matheron's estimator), binned.

    Up to half of the greatest distance between two of them, or the whole with fewer than eight.
    """
    use = np.flatnonzero(~interval)
    made = surface.estimate
    mixture = made.mixture if isinstance(made, DenseCells) else None
    most = MOST_TO_PAIR if mixture is None else MOST_TO_DRAW
    if len(use) > most:
        use = use[np.linspace(0, len(use) - 1, most).astype(int)]
    one, other = np.triu_indices(len(use), 1)
    i, j = use[one], use[other]
    joined = np.ones(len(i), dtype=bool)
    trend = made.made.common.trend if isinstance(made, PrecisionCells) else None
    if mixture is not None:
        trend = mixture.trend
    if trend is not None:
        part = trend.argmax(axis=1)
        joined = part[i] == part[j]
    apart = int((~joined).sum())
    h = np.hypot(*(surface.xy[i] - surface.xy[j]).T)
    furthest = float(h[joined].max(initial=0.0))
    cutoff = furthest if len(use) < FEWEST_TO_FIT else furthest / 2.0
    keep = joined & (h > 0) & (h <= cutoff)
    i, j, h = i[keep], j[keep], h[keep]
    if not len(h):
        none = np.empty(0)
        return PairBins(none, none, none.astype(np.int64), None, None, None,
                        int(interval.sum()), apart)  # fmt: skip
    bins = int(np.clip(len(h) // PAIRS_PER_BIN, *BINS))
    place = np.minimum(np.ceil(h / (cutoff / bins)).astype(int) - 1, bins - 1)
    pairs = np.bincount(place, minlength=bins)
    full = pairs > 0

    def mean(values: Floats) -> Floats:
        return np.bincount(place, weights=values, minlength=bins)[full] / pairs[full]

    implied = low = high = None
    if mixture is not None:
        weight = np.array([one.weight for one in mixture.parts])
        implied = weight @ np.array([mean(one) for one in implied_semivariances(mixture, i, j)])
        drawn = drawn_readings(mixture, use, int(surface.settings.get("seed", 0)))
        at = np.zeros(len(surface.values), dtype=np.int64)
        at[use] = np.arange(len(use))
        shown = drawn_semivariances(drawn, at[i], at[j], place)[full]
        low, high = np.quantile(shown, BAND, axis=1)
    gamma = mean((surface.values[i] - surface.values[j]) ** 2) / 2.0
    return PairBins(mean(h), gamma, pairs[full], implied, low, high, int(interval.sum()), apart)


def implied_semivariances(mixture: Mixture, i: Ints, j: Ints) -> list[Floats]:
    """Return half the variance of the difference of readings i and j by each part.

    sill ((S_ii + S_jj) / 2 - S_ij + share (w_i + w_j) / 2), S the covariance of the readings in
    sills and w the relative variance of their errors.
    """
    error = (mixture.error_weight[i] + mixture.error_weight[j]) / 2.0
    found = []
    for part in mixture.parts:
        gram = part.candidate.gram
        own = np.diag(gram)
        found.append(part.sill * ((own[i] + own[j]) / 2.0 - gram[i, j] + part.share * error))
    return found


def drawn_readings(mixture: Mixture, which: Ints, seed: int) -> Floats:
    """Draw what surveys of such a field would read at some places, shape (len(which), draws).

    Each draw takes a part by its weight; the unknown means are 0, which differences do not see.
    """
    random = np.random.default_rng(seed)
    weight = np.array([one.weight for one in mixture.parts])
    times = random.multinomial(DRAWS, weight / weight.sum())
    drawn = []
    for part, count in zip(mixture.parts, times, strict=True):
        if not count:
            continue
        covariance = part.candidate.gram[np.ix_(which, which)] + np.diag(
            part.share * mixture.error_weight[which]
        )
        covariance += JITTER * float(np.diag(covariance).max()) * np.eye(len(which))
        root = np.sqrt(part.sill) * np.linalg.cholesky(covariance)
        drawn.append(root @ random.normal(size=(len(which), count)))
    return np.hstack(drawn)


def drawn_semivariances(drawn: Floats, i: Ints, j: Ints, place: Ints) -> Floats:
    """Return the binned semivariances of draws (n, d): (bins, d), zero in empty bins.

    A sum of squared differences is z' L z, with L the Laplacian of the graph of the pairs.
    """
    n, found = len(drawn), np.zeros((int(place.max()) + 1, drawn.shape[1]))
    for one in np.unique(place):
        here = place == one
        link = sp.coo_array((np.ones(int(here.sum())), (i[here], j[here])), shape=(n, n)).tocsr()
        links = link + link.T
        laplacian = sp.diags_array(links.sum(axis=1)) - links
        found[one] = np.einsum("nd,nd->d", drawn, laplacian @ drawn) / (2.0 * here.sum())
    return found


def fitted_line(surface: Surface, h: Floats) -> Floats | None:
    """Return the semivariance of the fit at distances (m); None where it is no function of them."""
    fit = surface.variogram
    if fit is None or fit.model == "through doors":
        return None
    if isinstance(fit, AveragedFit):
        fit = Variogram(fit.model, fit.nugget, fit.psill, fit.range_m)
    return fit.gamma(h)


def left_out(surface: Surface) -> LeftOut:
    """Return what each reading is and what the others say it is; none where no other one does."""
    scores = surface.scores
    which = np.empty(0, dtype=np.int64) if scores.which is None else scores.which
    observed = surface.values[which]
    error = scores.residuals[: len(which)]
    return LeftOut(which, observed, observed - error, scores.sd)
