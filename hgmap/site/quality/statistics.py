"""The statistics of repeated readings and of a straight line, each from its published formula."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


def relative_percent_difference(a: float, b: float) -> float:
    """Return ``RPD = 200 |a - b| / (a + b)``, between 0 and 200.

    The formula is that of US EPA's contract and method manuals (common practice, no one source).

    Raises
    ------
    ValueError
        If a value is below zero, or both are zero.

    Examples
    --------
    >>> round(relative_percent_difference(0.45, 0.37), 1)
    19.5
    """
    if not (a >= 0.0 and b >= 0.0 and a + b > 0.0 and math.isfinite(a + b)):
        raise ValueError("two concentrations, not both zero, are needed")
    return 200.0 * (abs(a - b) / (a + b))


@dataclass(frozen=True, slots=True)
class Pooled:
    """A standard deviation from several groups, each about its own mean.

    Attributes
    ----------
    sd : float
        In the unit of the values.
    degrees_of_freedom : int
    groups : int
    """

    sd: float
    degrees_of_freedom: int
    groups: int


def sum_of_squares(values: Sequence[float]) -> float:
    """Return the sum of squared distances from the mean.

    Examples
    --------
    >>> sum_of_squares([1.0, 3.0])
    2.0
    """
    mean = math.fsum(values) / len(values)
    return math.fsum((one - mean) ** 2 for one in values)


def pooled_sd(groups: Iterable[Sequence[float]]) -> Pooled | None:
    """Pool the scatter of groups: ``s = sqrt(sum SS_i / sum (n_i - 1))``.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 2.4.4.4. Groups of one say nothing
    and are left out; None where no group has two values.

    Examples
    --------
    >>> pooled_sd([[1.0, 3.0], [5.0, 5.0], [7.0]])
    Pooled(sd=1.0, degrees_of_freedom=2, groups=2)
    """
    used = [one for one in groups if len(one) > 1]
    if not used:
        return None
    return pool([(sum_of_squares(one), len(one) - 1) for one in used])


def pool(parts: Sequence[tuple[float, int]]) -> Pooled:
    """Pool sums of squares with their degrees of freedom; there has to be one at least."""
    degrees = sum(one for _, one in parts)
    return Pooled(math.sqrt(math.fsum(one for one, _ in parts) / degrees), degrees, len(parts))


def pooled_relative_sd(groups: Iterable[Sequence[float]]) -> Pooled | None:
    """Pool the scatter of groups as shares of each group's mean (its root mean square)."""
    used = []
    for one in groups:
        mean = math.fsum(one) / len(one) if one else 0.0
        if len(one) > 1 and mean > 0.0:
            used.append([value / mean for value in one])
    return pooled_sd(used)


def pooled_log_sd(groups: Iterable[Sequence[float]]) -> Pooled | None:
    """Pool the scatter of natural logarithms; groups with a value of zero are left out."""
    return pooled_sd(
        [math.log(one) for one in group] for group in groups if group and min(group) > 0.0
    )


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line by ordinary least squares.

    Attributes
    ----------
    slope, intercept : float
    slope_error : float
        Standard error of the slope, with ``n - 2`` degrees of freedom.
    n : int
    """

    slope: float
    intercept: float
    slope_error: float
    n: int


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line | None:
    """Fit a line by least squares: ``b = Sxy / Sxx``, ``se(b) = sqrt(SSE / (n - 2) / Sxx)``.

    Any textbook; checked against the certified values of NIST's StRD data set Norris. None for
    fewer than three points, or where all stand at one x.
    """
    n = len(x)
    if n < 3 or len(y) != n:
        return None
    mean_x, mean_y = math.fsum(x) / n, math.fsum(y) / n
    sxx = math.fsum((one - mean_x) ** 2 for one in x)
    if sxx <= 0.0:
        return None
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / sxx
    rest = math.fsum(((b - mean_y) - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    return Line(slope, mean_y - slope * mean_x, math.sqrt(rest / (n - 2) / sxx), n)
