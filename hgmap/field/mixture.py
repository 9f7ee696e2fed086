"""Kriging that does not pretend to know its range and nugget: a weighted mixture over both.

For one covariance of the field, S (unit variance), and a nugget of ``share`` times the sill, the
readings z have the covariance sill (S + share W), W the relative error variances, round a mean
F b with one coefficient for each part of the floor that air does not join to the others. Sill and
means are profiled out (restricted likelihood: Patterson and Thompson 1971, Biometrika 58). The
estimate is that of every candidate, weighted by its likelihood and prior; its variance is the mean
of theirs plus the variance of their estimates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.spectrum import Spectrum

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Features:
    """The covariance between targets and readings, in what several candidates have in common.

    Column j is column ``at[j]`` of ``matrix``, plus ``shape`` times row c of ``by_part`` at j, with
    c the ``component`` of the target.

    Attributes
    ----------
    matrix : array of shape (m, k)
        The same object for candidates that share it.
    at : array of shape (n,)
    shape : array of shape (m,) or None
        None: nothing is added.
    by_part : array of shape (parts, n) or None
    component : array of shape (m,) or None
    """

    matrix: Floats
    at: NDArray[np.int64]
    shape: Floats | None = None
    by_part: Floats | None = None
    component: NDArray[np.int64] | None = None


class Candidate(Protocol):
    """One covariance of the field, to be weighed against others.

    ``gram`` is that of the readings, (n, n); ``columns()`` that between all targets and the
    readings, (m, n), ``features()`` the same in parts, ``columns_to(weights)`` that between all
    targets and averages of them, and ``between(weights)`` that between the averages, (t, t);
    ``prior_variance`` that of the targets, (m,). ``draw`` makes fields of unit sill at some
    targets, (k, count), and at the readings, (n, count); ``cells_to_draw()`` are those that it can
    draw together.
    """

    @property
    def range_m(self) -> float: ...  # noqa: D102
    @property
    def log_prior(self) -> float: ...  # noqa: D102
    @property
    def gram(self) -> Floats: ...  # noqa: D102
    @property
    def prior_variance(self) -> Floats: ...  # noqa: D102
    def columns(self) -> Floats: ...  # noqa: D102
    def features(self) -> Features: ...  # noqa: D102
    def columns_to(self, weights: sp.csr_array) -> Floats: ...  # noqa: D102
    def between(self, weights: sp.csr_array) -> Floats: ...  # noqa: D102
    def cells_to_draw(self) -> NDArray[np.int64]: ...  # noqa: D102
    def draw(  # noqa: D102
        self, cells: NDArray[np.int64], count: int, random: np.random.Generator
    ) -> tuple[Floats, Floats]: ...


@dataclass(frozen=True)
class Part:
    """One candidate with one nugget, its weight, and the readings as it takes them.

    Attributes
    ----------
    values : array of shape (n,)
        Readings; where they are intervals, what is expected there.
    spread : array of shape (n, r)
        Its product with its transpose is the covariance of what the intervals hide.
    """

    candidate: Candidate
    share: float
    sill: float
    weight: float
    spectrum: Spectrum
    values: Floats
    spread: Floats


@dataclass(frozen=True)
class Mixture:
    """What the readings make of the candidates.

    Attributes
    ----------
    parts : tuple of Part
        The heaviest first; weights add up to 1.
    error_weight : array of shape (n,)
        Relative variance of each reading's error (1 for one reading, 1/k for the mean of k).
    trend : array of shape (n, p)
        1 where a reading belongs to a part of the floor.
    numbers : array of shape (n,), bool
        Readings that are numbers, not intervals.
    sill_is_known : bool
        Whether the sills were given, not estimated.
    """

    parts: tuple[Part, ...]
    error_weight: Floats
    trend: Floats
    numbers: NDArray[np.bool_]
    sill_is_known: bool = False

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less means."""
        return int(self.trend.shape[0] - self.trend.shape[1])

    @property
    def values(self) -> Floats:
        """Readings as all parts together take them, shape (n,)."""
        return np.asarray(sum(part.weight * part.values for part in self.parts))

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
        logs = sum(p.weight * float(np.log(p.candidate.range_m)) for p in self.parts)
        return float(np.exp(logs))
