"""Values that are only known to lie between two bounds: draws from a truncated normal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri, ndtri_exp

Floats = NDArray[np.float64]

MOST_DIRECTIONS: Final = 30

LEAST_MOVE: Final = 1e-12
"""A direction that moves an interval by less leaves it where it is."""

LEAST_STIFFNESS: Final = 1e-10

FAR_OUT: Final = -30.0
"""Standard deviations beyond which a share of the normal distribution is taken by its logarithm."""

_ROOT_HALF: Final = math.sqrt(0.5)


@dataclass(frozen=True)
class Intervals:
    """Readings that are intervals, not numbers.

    Attributes
    ----------
    which : array of shape (c,)
        Their positions among the readings.
    lower, upper : arrays of shape (c,)
        Bounds on the working scale, lower below upper; one of them may be infinite.
    """

    which: NDArray[np.int64]
    lower: Floats
    upper: Floats

    def start(self) -> Floats:
        """Return a value in each interval: the middle, or the bound where there is but one."""
        low = np.where(np.isfinite(self.lower), self.lower, self.upper)
        high = np.where(np.isfinite(self.upper), self.upper, self.lower)
        return np.asarray((low + high) / 2.0)


def draw_between(
    mean: float, sd: float, lower: float, upper: float, random: np.random.Generator
) -> float:
    """Draw from a normal distribution cut off at two bounds, however far out they lie.

    The inverse of the distribution function; by logarithms far out in the tail that is nearer.
    """
    return _between(mean, sd, lower, upper, random.random())


def _between(mean: float, sd: float, lower: float, upper: float, share: float) -> float:
    """Return the value below which ``share`` of a normal distribution between two bounds lies."""
    a, b = (lower - mean) / sd, (upper - mean) / sd
    flip = a > 0  # the upper tail is the lower one of the mirror image
    if flip:
        a, b = -b, -a
    if a > FAR_OUT:
        low = math.erfc(-a * _ROOT_HALF)
        z = float(ndtri(0.5 * (low + share * (math.erfc(-b * _ROOT_HALF) - low))))
    else:
        below, above = float(log_ndtr(a)), float(log_ndtr(b))
        z = float(ndtri_exp(above + math.log(share + (1.0 - share) * math.exp(below - above))))
    if z < a:
        z = a
    elif z > b:
        z = b
    return mean - sd * z if flip else mean + sd * z


@dataclass(frozen=True)
class Conditional:
    """What the readings that are intervals owe to all others, for one set of parameters.

    Attributes
    ----------
    which : array of shape (c,)
        Positions of the intervals among the readings.
    precision : array of shape (c, n)
        Rows of the readings' precision (in sills, the unknown means projected out).
    own : array of shape (c, c)
        Of the intervals among themselves.
    directions : array of shape (k, c)
        Joint moves that the precision resists least: intervals that hang together move together.
    stiffness : array of shape (k,)
        How much the precision resists each direction: an eigenvalue, since directions are
        eigenvectors of ``own``, so that no one of them changes what another is pulled by.
    """

    which: NDArray[np.int64]
    precision: Floats
    own: Floats
    directions: Floats
    stiffness: Floats

    @classmethod
    def of(cls, precision: Floats, which: NDArray[np.int64]) -> Conditional:
        """Take the rows of a precision (n, n) that belong to intervals."""
        rows = precision[which]
        own = rows[:, which]
        directions = np.ascontiguousarray(np.linalg.eigh(own)[1][:, :MOST_DIRECTIONS].T)
        return cls(
            which, rows, own, directions, np.einsum("ij,ij->i", directions, directions @ own.T)
        )

    @cached_property
    def single(self) -> list[tuple[Floats, float]]:
        """What each value pulls by itself, and how stiff it is."""
        return list(zip(self.own, np.diagonal(self.own).tolist(), strict=True))

    @cached_property
    def _all_stiffness(self) -> Floats:
        return np.concatenate([np.diagonal(self.own), self.stiffness])

    @cached_property
    def firm(self) -> list[bool]:
        """Whether other readings bear on each single move, then on each direction."""
        return [bool(one) for one in self._all_stiffness > LEAST_STIFFNESS]

    @cached_property
    def looseness(self) -> Floats:
        """One over the root of the stiffness, 0 where there is none."""
        firm = self._all_stiffness > LEAST_STIFFNESS
        return np.where(firm, 1.0 / np.sqrt(np.where(firm, self._all_stiffness, 1.0)), 0.0)

    @cached_property
    def _ends(self) -> dict[int, tuple[Intervals, list[tuple[Floats, Floats]]]]:
        return {}

    @cached_property
    def _moves(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_], Floats]:
        still = np.abs(self.directions) <= LEAST_MOVE
        return self.directions < 0, still, 1.0 / np.where(still, 1.0, self.directions)

    def ends(self, intervals: Intervals) -> list[tuple[Floats, Floats]]:
        """Return where intervals end along each direction, as what to take hidden values from.

        For each direction E and T of shape (2, c): of E - T z the largest number of the first row
        is how far it can be gone back, that of the second minus how far on. The last are kept.
        """
        if id(intervals) not in self._ends:
            self._ends.clear()
            self._ends[id(intervals)] = intervals, self._ends_of(intervals)
        return self._ends[id(intervals)][1]

    def _ends_of(self, intervals: Intervals) -> list[tuple[Floats, Floats]]:
        falls, still, share = self._moves
        lower, upper = intervals.lower * share, intervals.upper * share
        ends = np.stack([np.where(falls, upper, lower), -np.where(falls, lower, upper)], axis=1)
        ends.swapaxes(1, 2)[still] = -np.inf
        return list(zip(ends, np.stack([share, -share], axis=1), strict=True))


def sweep(
    values: Floats,
    conditional: Conditional,
    sill: float,
    intervals: Intervals,
    random: np.random.Generator,
) -> None:
    """Draw the intervals' values, in place, from their distribution given the numbers.

    Along a direction d of the intervals' values z, with P the precision in sills, the step is
    normal about -(d' P z) / (d' P d) with variance sill / (d' P d), cut off where an interval ends
    (a Gibbs sweep: Geman and Geman 1984, IEEE Trans. PAMI 6:721-741). Each value moves by itself,
    and all together along the directions that are stiffest to single moves.

    Parameters
    ----------
    values : array of shape (n,)
        Changed where readings are intervals.
    conditional : Conditional
        For these intervals.
    sill : float
        Variance that the precision is in units of.
    intervals : Intervals
    random : numpy.random.Generator
    """
    # a sweep is a few dozen short steps: the calls are what costs, so that all but the vectors is
    # done with plain floats
    which, own, lower, upper = conditional.which, conditional.own, intervals.lower, intervals.upper
    hidden = values[which]
    numbers = conditional.precision @ values - own @ hidden
    root, draw = math.sqrt(sill), random.random
    firm = conditional.firm
    sds = (root * conditional.looseness).tolist()
    now = hidden.tolist()
    bounds = zip(numbers.tolist(), lower.tolist(), upper.tolist(), strict=True)
    for k, ((pull, stiff), (slope, low, high)) in enumerate(
        zip(conditional.single, bounds, strict=True)
    ):
        at = now[k]
        if firm[k]:
            slope += float(pull.dot(hidden))
            hidden[k] = _between(at - slope / stiff, sds[k], min(low, at), max(high, at), draw())
        else:
            hidden[k] = at + _anywhere(min(low - at, 0.0), max(high - at, 0.0), random)
    slopes = conditional.directions @ (numbers + own @ hidden)
    count = len(which)
    means = (-slopes * conditional.looseness[count:] ** 2).tolist()
    joint = zip(
        conditional.directions, means, sds[count:], firm[count:], conditional.ends(intervals),
        strict=True,
    )  # fmt: skip
    for step, mean, sd, is_firm, (ends, turn) in joint:
        back, on = (ends - turn * hidden).tolist()
        # by rounding only may an end lie on the other side of where the values are
        low, high = min(max(back), 0.0), max(-max(on), 0.0)
        hidden += (_between(mean, sd, low, high, draw()) if is_firm
                   else _anywhere(low, high, random)) * step  # fmt: skip
    values[which] = np.minimum(np.maximum(hidden, lower), upper)


def _anywhere(lower: float, upper: float, random: np.random.Generator) -> float:
    """Draw how far to go along a direction that no other reading bears on, between two ends."""
    if math.isfinite(lower) and math.isfinite(upper):
        return float(random.uniform(lower, upper))
    return 0.0
