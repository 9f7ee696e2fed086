"""Statements about the share of a room that lies below a level, each from its exact law."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special, stats

from hgmap.decide.clearance.censored import lognormal_likelihood
from hgmap.decide.clearance.distribution import shape_of
from hgmap.decide.clearance.noncentral import noncentral_t_cdf
from hgmap.decide.clearance.sample import CannotTell, Flags, Floats, checked, exponential
from hgmap.errors import EstimateError

COVERAGE: Final = 0.95
CONFIDENCE: Final = 0.95
LEAST: Final = 3
LEAST_CENSORED: Final = 8
"""Detects below which readings with non-detects get no tolerance limit (ours, no source)."""


def tolerance_factor(n: int, coverage: float = COVERAGE, confidence: float = CONFIDENCE) -> float:
    """Return the one-sided k of ``mean + k s`` for a normal distribution.

    ``k = t'(confidence; n - 1, z sqrt(n)) / sqrt(n)``, t' the noncentral t quantile, z the normal
    quantile of the coverage. Owen 1963; NIST/SEMATECH e-Handbook, section 7.2.6.3.

    Examples
    --------
    >>> round(tolerance_factor(10), 3)
    2.911
    """
    if n < 2:
        raise EstimateError(f"a tolerance factor needs two values, got {n}", where="clearance")
    z = float(special.ndtri(coverage))
    root = math.sqrt(n)

    def excess(k: float) -> float:
        return noncentral_t_cdf(k * root, n - 1, z * root) - confidence

    step, low, high = 1.0, z, z
    while excess(low) > 0.0:
        low, step = low - step, 2.0 * step
    while excess(high) < 0.0:
        high, step = high + step, 2.0 * step
    return float(optimize.brentq(excess, low, high, xtol=1e-12)) if low < high else z


@cache
def samples_needed(
    coverage: float = COVERAGE, confidence: float = CONFIDENCE, exceedances: int = 0
) -> int:
    """Return how many readings, with so many above at most, show that the coverage is below.

    The smallest n with ``P(Binomial(n, 1 - coverage) <= exceedances) <= 1 - confidence``. Wilks,
    Annals of Mathematical Statistics 12 (1941) 91.

    Examples
    --------
    >>> [samples_needed(exceedances=one) for one in (0, 1, 2)]
    [59, 93, 124]
    """
    n = exceedances + 1
    while float(stats.binom.cdf(exceedances, n, 1.0 - coverage)) > 1.0 - confidence:
        n += 1
    return n


def utl_normal(
    values: ArrayLike, coverage: float = COVERAGE, confidence: float = CONFIDENCE
) -> float:
    """Return the upper tolerance limit ``mean + k s`` of a normal distribution."""
    number, _ = checked(values)
    k = tolerance_factor(len(number), coverage, confidence)
    return float(number.mean()) + k * float(number.std(ddof=1))


def utl_lognormal(
    values: ArrayLike, coverage: float = COVERAGE, confidence: float = CONFIDENCE
) -> float:
    """Return the upper tolerance limit ``exp(ybar + k s_y)`` of a lognormal distribution."""
    number, _ = checked(values)
    logs = np.log(number)
    k = tolerance_factor(len(logs), coverage, confidence)
    return exponential(float(logs.mean()) + k * float(logs.std(ddof=1)))


def utl_nonparametric(
    values: ArrayLike, coverage: float = COVERAGE, confidence: float = CONFIDENCE
) -> float | CannotTell:
    """Return the lowest reading that is an upper tolerance limit whatever the distribution.

    The largest of 59, the second largest of 93, the third of 124 for 95/95 (Wilks 1941). A
    non-detect stands at its limit.
    """
    number, _ = checked(values)
    n = len(number)
    if (needed := samples_needed(coverage, confidence)) > n:
        return CannotTell(f"{n} of the {needed} readings that this needs")
    # the most readings that may lie above it: all but the limit itself are allowed to be there
    above = np.arange(n)
    enough = stats.binom.cdf(above, n, 1.0 - coverage) <= 1.0 - confidence
    return float(number[n - 1 - int(np.flatnonzero(enough)[-1])])


@dataclass(frozen=True, slots=True)
class Exceedance:
    """The share of a room above a level, with its limits.

    Attributes
    ----------
    fraction, lower, upper : float
        Between 0 and 1; the limits are one-sided, each at the confidence.
    method : str
    """

    fraction: float
    lower: float
    upper: float
    method: str


def exceedance_lognormal(
    values: ArrayLike, level: float, confidence: float = CONFIDENCE
) -> Exceedance:
    """Return the share of a lognormal distribution above a level, with exact limits.

    ``1 - Phi(z)``, ``z = (ln L - ybar) / s``; the upper limit is ``1 - Phi(K)`` with
    ``P(T'(n - 1, sqrt(n) K) > sqrt(n) z) = 1 - confidence``, T' noncentral t. Hewett and Ganser,
    Applied Occupational and Environmental Hygiene 12 (1997) 132 (from memory).

    Raises
    ------
    EstimateError
        For fewer than two values, values that are all the same, or a level of zero or below.
    """
    number, _ = checked(values)
    logs = np.log(number)
    if len(number) < 2 or not (s := float(logs.std(ddof=1))) > 0.0:
        raise EstimateError("an exceedance fraction needs values with a scatter", where="clearance")
    _positive(level)
    z = (math.log(level) - float(logs.mean())) / s
    return Exceedance(
        fraction=float(special.ndtr(-z)),
        lower=float(special.ndtr(-_noncentral(z, len(number), confidence))),
        upper=float(special.ndtr(-_noncentral(z, len(number), 1.0 - confidence))),
        method="lognormal, exact limits",
    )


def _noncentral(z: float, n: int, survival: float) -> float:
    """Return the K at which ``P(T'(n - 1, sqrt(n) K) > sqrt(n) z) = 1 - survival``."""
    root = math.sqrt(n)

    def excess(k: float) -> float:
        return noncentral_t_cdf(root * z, n - 1, root * k) - (1.0 - survival)

    step, low, high = (1.0 + abs(z)) / root, z, z
    while excess(low) < 0.0:
        low, step = low - step, 2.0 * step
    while excess(high) > 0.0:
        high, step = high + step, 2.0 * step
    return float(optimize.brentq(excess, low, high, xtol=1e-13)) if low < high else z


def clopper_pearson(
    exceedances: int, n: int, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Return the exact one-sided limits of a share, each at the confidence.

    Quantiles of beta distributions; Clopper and Pearson, Biometrika 26 (1934) 404.

    Examples
    --------
    >>> round(clopper_pearson(0, 59)[1], 6)
    0.049508
    """
    if not 0 <= exceedances <= n or n < 1:
        raise EstimateError(f"{exceedances} of {n} is not a count", where="clearance")
    x = exceedances
    lower = 0.0 if x == 0 else float(special.betaincinv(x, n - x + 1, 1.0 - confidence))
    upper = 1.0 if x == n else float(special.betaincinv(x + 1, n - x, confidence))
    return lower, upper


def exceedance_counted(
    values: ArrayLike, is_detect: ArrayLike, level: float, confidence: float = CONFIDENCE
) -> Exceedance | CannotTell:
    """Return the share of readings above a level with its exact limits, whatever the distribution.

    It cannot be told while a detection limit lies above the level.
    """
    number, detect = checked(values, is_detect)
    _positive(level)
    if not len(number):
        return CannotTell("there is no reading")
    if (blind := int((~detect & (number > level)).sum())) > 0:
        return CannotTell(f"{blind} of {len(number)} have a detection limit above the level")
    above = int((detect & (number > level)).sum())
    lower, upper = clopper_pearson(above, len(number), confidence)
    return Exceedance(above / len(number), lower, upper, "counted, Clopper-Pearson limits")


def utl95(values: ArrayLike, is_detect: ArrayLike) -> tuple[float, str, str] | CannotTell:
    """Return the 95/95 upper tolerance limit, its method and why that one.

    From 59 readings the nonparametric limit: it holds for any distribution, and one that the
    readings seem to fit may still miss a hot part of the room. Below that, all detects: the normal
    or lognormal one, the higher where both pass; with non-detects: maximum likelihood with the k of
    the number of detects, from 8 detects and where they look lognormal (ours, no source:
    approximate).
    """
    number, detect = checked(values, is_detect)
    n, detects = len(number), int(detect.sum())
    if n < LEAST:
        return CannotTell(f"{n} of the {LEAST} readings that are the least")
    free = utl_nonparametric(number)
    if not isinstance(free, CannotTell):
        return free, "nonparametric", f"{n} readings: it holds for any distribution"
    shape = shape_of(number[detect])
    both: list[tuple[float, str]] = []
    if detects == n and shape.p_normal >= 0.05:
        both.append((utl_normal(number), "normal"))
    if detects == n and shape.p_lognormal >= 0.05:
        both.append((utl_lognormal(number), "lognormal"))
    if both:
        value, name = max(both)
        why = "both fit, the higher limit counts" if len(both) > 1 else f"the readings look {name}"
        return (value, name, why) if math.isfinite(value) else CannotTell("the limit has no end")
    if detects == n:
        return CannotTell(f"neither normal nor lognormal, and {free.reason}")
    return _censored(number, detect, shape.p_lognormal, free.reason)


def _censored(
    number: Floats, detect: Flags, p_lognormal: float, needed: str
) -> tuple[float, str, str] | CannotTell:
    n, detects = len(number), int(detect.sum())
    if detects < LEAST_CENSORED or not p_lognormal >= 0.05:
        return CannotTell(f"{n - detects} of {n} not detected, and {needed}")
    fit = lognormal_likelihood(number, detect)
    if isinstance(fit, CannotTell):
        return fit
    value = exponential(fit.log_mean + tolerance_factor(detects) * fit.log_sd)
    if not math.isfinite(value):
        return CannotTell("the limit has no end")
    why = f"{n - detects} of {n} not detected; approximate, k of {detects} detects"
    return max(value, float(number.max())), "lognormal, maximum likelihood", why


def _positive(level: float) -> None:
    if not (math.isfinite(level) and level > 0.0):
        raise EstimateError(f"a level above zero is needed, not {level:g}", where="clearance")
