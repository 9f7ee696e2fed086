"""Values that are only known to lie between two bounds: draws from a truncated normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri_exp

Floats = NDArray[np.float64]

MOST_DIRECTIONS: Final = 30


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

    The inverse of the distribution function, by logarithms in the tail that is nearer.
    """
    a, b = (lower - mean) / sd, (upper - mean) / sd
    flip = a > 0  # the upper tail is the lower one of the mirror image
    if flip:
        a, b = -b, -a
    low, high = float(log_ndtr(a)), float(log_ndtr(b))
    share = random.uniform()
    log_probability = high + float(np.log(share + (1.0 - share) * np.exp(low - high)))
    z = min(max(float(ndtri_exp(log_probability)), a), b)
    return mean + sd * (-z if flip else z)


@dataclass(frozen=True)
class Conditional:
    """What the readings that are intervals owe to all others, for one set of parameters.

    Attributes
    ----------
    precision : array of shape (c, n)
        Rows of the readings' precision (in sills, the unknown means projected out).
    directions : array of shape (c, k)
        Joint moves that the precision resists least: intervals that hang together move together.
    """

    precision: Floats
    directions: Floats

    @classmethod
    def of(cls, precision: Floats, which: NDArray[np.int64]) -> Conditional:
        """Take the rows of a precision (n, n) that belong to intervals."""
        rows = precision[which]
        return cls(rows, np.linalg.eigh(rows[:, which])[1][:, :MOST_DIRECTIONS])


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
    sill : float
        Variance that the precision is in units of.
    intervals : Intervals
    random : numpy.random.Generator
    """
    which = intervals.which
    own = conditional.precision[:, which]
    product = conditional.precision @ values
    hidden = values[which]
    lower, upper = intervals.lower, intervals.upper
    for k in range(len(which)):
        # a value by itself touches one row only: with a thousand of them the rest is what costs
        pull = own[:, k]
        length = _length(
            float(product[k]), float(pull[k]), sill, min(float(lower[k] - hidden[k]), 0.0),
            max(float(upper[k] - hidden[k]), 0.0), random,
        )  # fmt: skip
        if length:
            hidden[k] += length
            product += length * pull
    for step in conditional.directions.T:
        moving = np.abs(step) > 1e-12
        ends = np.stack([lower - hidden, upper - hidden])[:, moving]
        ends = np.sort(ends / step[moving], axis=0)
        pull = own @ step
        length = _length(
            float(step @ product), float(step @ pull), sill, min(float(ends[0].max()), 0.0),
            max(float(ends[1].min()), 0.0), random,
        )  # fmt: skip
        if length:
            hidden += length * step
            product += length * pull
    values[which] = hidden


def _length(
    slope: float,
    stiffness: float,
    sill: float,
    lower: float,
    upper: float,
    random: np.random.Generator,
) -> float:
    """Draw how far to go along a direction, between two ends."""
    # what no other reading bears on is anywhere between its bounds
    if stiffness > 1e-10:
        sd = float(np.sqrt(sill / stiffness))
        return draw_between(-slope / stiffness, sd, lower, upper, random)
    if np.isfinite(lower) and np.isfinite(upper):
        return float(random.uniform(lower, upper))
    return 0.0
