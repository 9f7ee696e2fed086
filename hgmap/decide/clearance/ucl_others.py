"""Upper limits of a mean by other methods, shown beside the chosen one and never ruled by."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from hgmap.decide.clearance.land import land_ucl
from hgmap.decide.clearance.sample import Floats, checked, exponential
from hgmap.decide.clearance.ucl import chebyshev_factor, chebyshev_ucl, student_t_ucl

MOST_TERMS: Final = 1000


def johnson_t_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return Student's limit moved by ``mu3 / (6 s^2 n)`` for skewness.

    Johnson, J. Am. Stat. Assoc. 73 (1978) 536, as in US EPA OSWER 9285.6-10 (2002, from memory).
    """
    number, _ = checked(values)
    shift = _skewness(number) * float(number.std(ddof=1)) / (6.0 * len(number))
    return student_t_ucl(number, confidence) + shift


def chen_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return ``mean + (z + k3 (1 + 2 z^2) / (6 sqrt(n))) s / sqrt(n)``, k3 the sample skewness.

    The central limit theorem adjusted for skewness: Chen, J. Am. Stat. Assoc. 90 (1995) 767, as in
    US EPA OSWER 9285.6-10 (2002, from memory).
    """
    number, _ = checked(values)
    root = math.sqrt(len(number))
    z = float(special.ndtri(confidence))
    moved = z + _skewness(number) * (1.0 + 2.0 * z**2) / (6.0 * root)
    return float(number.mean()) + moved * float(number.std(ddof=1)) / root


def mvue(values: ArrayLike) -> tuple[float, float]:
    """Return the unbiased mean of a lognormal distribution of least variance, and its error.

    ``exp(ybar) g(s^2 / 2)`` and ``exp(ybar) sqrt(g(s^2 / 2)^2 - g((n - 2) s^2 / (n - 1)))`` with
    Finney's g; Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987),
    chapter 13 (place from memory).
    """
    number, _ = checked(values)
    logs = np.log(number)
    n, variance = len(logs), float(logs.var(ddof=1))
    scale, first = exponential(float(logs.mean())), _finney(n, variance / 2.0)
    second = _finney(n, (n - 2.0) / (n - 1.0) * variance)
    return scale * first, scale * math.sqrt(max(first**2 - second, 0.0))


def _finney(n: int, t: float) -> float:
    """Return ``1 + (n-1) t / n + (n-1)^3 t^2 / (2! n^2 (n+1)) + ...``, the next by (n + 3)."""
    term = (n - 1.0) * t / n
    total = 1.0 + term
    for k in range(2, MOST_TERMS):
        term *= (n - 1.0) ** 2 * t / (k * n * (n + 2.0 * k - 3.0))
        total += term
        if abs(term) <= 1e-16 * abs(total):
            break
    return total


def chebyshev_mvue_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return ``mean + sqrt(1/alpha - 1) error`` with the two of :func:`mvue`."""
    mean, error = mvue(values)
    return mean + chebyshev_factor(confidence) * error


METHODS: Final[dict[str, Callable[[Floats], float]]] = {
    "Student t": student_t_ucl,
    "Johnson's modified t": johnson_t_ucl,
    "Chen's adjusted central limit": chen_ucl,
    "Land's H": land_ucl,
    "Chebyshev (mean, sd)": chebyshev_ucl,
    "Chebyshev (mean, sd) at 97.5 %": lambda values: chebyshev_ucl(values, 0.975),
    "Chebyshev (mean, sd) at 99 %": lambda values: chebyshev_ucl(values, 0.99),
    "Chebyshev (lognormal mean)": chebyshev_mvue_ucl,
}


def by_every_method(values: ArrayLike) -> dict[str, float | None]:
    """Return the 95 % limit by each method; None where it cannot be written as a number.

    Empty below three values, or where they are all the same. How far they lie apart shows how much
    hangs on the method.
    """
    number, _ = checked(values)
    if len(number) < 3 or number[-1] <= number[0] * (1.0 + 1e-12):
        return {}
    found = {name: method(number) for name, method in METHODS.items()}
    return {name: one if math.isfinite(one) else None for name, one in found.items()}


def _skewness(number: Floats) -> float:
    return float(stats.skew(number / number[-1], bias=False))
