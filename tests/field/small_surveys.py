"""Small invented surveys, and candidates whose matrices are simply there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.field.beliefs import Beliefs
from hgmap.field.mixture import Features, Mixture
from hgmap.field.models import correlation
from hgmap.field.weigh import weigh

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Given:
    """A candidate whose matrices are simply there."""

    range_m: float
    log_prior: float
    gram: Floats
    prior_variance: Floats
    cross: Floats

    def columns(self) -> Floats:
        return self.cross

    def features(self) -> Features:
        columns = self.columns()
        return Features(columns, np.arange(columns.shape[1]))

    def columns_to(self, weights: sp.csr_array) -> Floats:
        return np.asarray(self.cross @ weights.T)


@dataclass(frozen=True)
class Survey:
    """Readings and targets in one or two parts of a floor that air does not join."""

    xy: Floats
    part: NDArray[np.int64]
    values: Floats
    error_weight: Floats
    targets: Floats
    target_part: NDArray[np.int64]

    @property
    def trend(self) -> Floats:
        return (self.part[:, None] == np.unique(self.part)).astype(float)

    @property
    def target_trend(self) -> Floats:
        return (self.target_part[:, None] == np.unique(self.part)).astype(float)

    def candidate(self, range_m: float, log_prior: float = 0.0) -> Given:
        def between(a: Floats, pa: Floats, b: Floats, pb: Floats) -> Floats:
            rho = correlation(cdist(a, b), model="exponential", range_=range_m)
            return np.where(pa[:, None] == pb, rho, 0.0)

        gram = between(self.xy, self.part, self.xy, self.part)
        cross = between(self.targets, self.target_part, self.xy, self.part)
        return Given(range_m, log_prior, gram, np.ones(len(self.targets)), cross)


def survey(seed: int, n: int = 14, parts: int = 2, *, range_m: float = 6.0) -> Survey:
    random = np.random.default_rng(seed)
    xy = random.uniform(0, 10, (n, 2))
    part = np.arange(n) % parts
    weight = 1 / random.integers(1, 4, n)
    targets, target_part = random.uniform(0, 10, (9, 2)), random.integers(0, parts, 9)
    drawn = Survey(xy, part, np.zeros(n), weight, targets, target_part)
    gram = drawn.candidate(range_m).gram + 0.05 * np.diag(drawn.error_weight)
    values = 3.0 * part + np.linalg.cholesky(gram) @ random.normal(size=n)
    return replace(drawn, values=values)


def weighed(
    one: Survey,
    *candidates: Given,
    shares: tuple[float, ...] = (0.05, 0.5),
    least_sill: float = 0.0,
) -> Mixture:
    beliefs = Beliefs(shares=np.array(shares), least_sill=least_sill)
    return weigh(candidates, one.values, one.trend, error_weight=one.error_weight, beliefs=beliefs)
