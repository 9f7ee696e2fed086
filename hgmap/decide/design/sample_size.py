"""How many samples a statement needs, each by its published formula."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from scipy.special import ndtr, ndtri

from hgmap.errors import EstimateError

MOST_SAMPLES: Final = 10_000_000
OVERAGE: Final = 1.2
"""A fifth more than the formula says, for lost readings (NUREG-1575 rev. 1, section 5.5.2)."""


class MeanTestSize(NamedTuple):
    """``n`` samples, and the number before it was rounded up."""

    n: int
    unrounded: float


def tolerance_samples(coverage: float, confidence: float, *, failures: int = 0) -> int:
    """Return how many samples state that a share ``coverage`` of the air is below the level.

    The statement holds with ``confidence`` where at most ``failures`` samples are above the level:
    the least n with ``P(X <= failures) <= 1 - confidence`` for X binomial of n and
    ``1 - coverage`` (Wilks 1941, Annals of Mathematical Statistics 12). 59 samples for 95 % and
    95 %; 93 with one failure, 124 with two. They have to be random, not the corners of choice.

    Raises
    ------
    EstimateError
        If coverage or confidence is not between 0 and 1, failures is negative, or the number would
        be above ten million.
    """
    _share(coverage, "coverage")
    _share(confidence, "confidence")
    if failures < 0:
        raise EstimateError(f"{failures} failures cannot be allowed", todo="give 0 or more")
    from scipy.stats import binom  # takes a second to import

    allowed = 1 - confidence

    def enough(n: int) -> bool:
        return bool(binom.cdf(failures, n, 1 - coverage) <= allowed * (1 + 1e-12))

    high = failures + 1
    while not enough(high):
        high *= 2
        if high > MOST_SAMPLES:
            raise EstimateError(
                f"a coverage of {coverage:g} needs more than {MOST_SAMPLES} samples",
                todo="ask for less coverage or confidence",
            )
    low = failures  # never enough: all of them may fail
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def sign_test_samples(relative_shift: float, *, alpha: float, beta: float) -> int:
    r"""Return the number of samples of a sign test, a fifth for lost ones in it.

    :math:`N = \lceil 1.2 \lceil (z_{1-\alpha} + z_{1-\beta})^2 / (4 (p - 0.5)^2) \rceil \rceil`,
    :math:`p = \Phi(\Delta/\sigma)` (NUREG-1575 rev. 1, eq. 5-2 and table 5.5).

    Parameters
    ----------
    relative_shift : float
        Δ/σ: width of the grey region over the standard deviation, above 0.
    alpha, beta : float
        Chance to release what is above, and to hold what is below; each under 0.5.
    """
    z = _both_quantiles(relative_shift, alpha, beta)
    p = float(ndtr(relative_shift))
    return _ceil(OVERAGE * _ceil(z**2 / (4 * (p - 0.5) ** 2)))


def rank_sum_samples(
    relative_shift: float, *, alpha: float, beta: float, probability: float | None = None
) -> int:
    r"""Return the number of samples *in each* of the two areas of a rank-sum test, a fifth in it.

    :math:`N/2 = \lceil 0.6 (z_{1-\alpha} + z_{1-\beta})^2 / (3 (P_r - 0.5)^2) \rceil`,
    :math:`P_r = \Phi(\Delta / (\sigma \sqrt 2))`, the chance that a sample of the area exceeds one
    of the background (NUREG-1575 rev. 1, eq. 5-1 and table 5.3).

    The manual prints :math:`P_r` rounded a little low (0.528182 at Δ/σ = 0.1; the formula gives
    0.528186), so its table asks for up to two samples more than the exact number. To get the
    table's number, give the printed value as ``probability``.

    Parameters
    ----------
    relative_shift, alpha, beta
        As for :func:`sign_test_samples`.
    probability : float, optional
        P_r as printed, between 0.5 and 1; default: exact.
    """
    z = _both_quantiles(relative_shift, alpha, beta)
    exact = float(ndtr(relative_shift / math.sqrt(2)))
    p = exact if probability is None else probability
    if not 0.5 < p <= 1:
        raise EstimateError(f"a probability of {p:g} shows no shift", todo="give 0.5 to 1")
    return _ceil(OVERAGE / 2 * z**2 / (3 * (p - 0.5) ** 2))


def finite_population_samples(population: int, defects: int, confidence: float) -> int:
    """Return how many of a finite number of things to look at to find one of the bad ones.

    The least n with ``C(N - D, n) / C(N, n) <= 1 - confidence`` (hypergeometric, no failure):
    if n of ``population`` rooms, lockers or bags show nothing, fewer than ``defects`` are bad.

    Raises
    ------
    EstimateError
        If the counts are not 1 <= defects <= population, or confidence not between 0 and 1.
    """
    _share(confidence, "confidence")
    if not 1 <= defects <= population <= MOST_SAMPLES:
        raise EstimateError(
            f"{defects} of {population} cannot be looked for", todo="give 1 to the whole number"
        )
    from scipy.stats import hypergeom  # takes a second to import

    low, high = 0, population - defects + 1  # that many hold a bad one for certain
    while high - low > 1:
        middle = (low + high) // 2
        missed = hypergeom.pmf(0, population, defects, middle)
        if missed <= (1 - confidence) * (1 + 1e-12):
            high = middle
        else:
            low = middle
    return high


def mean_test_samples(sd: float, difference: float, *, alpha: float, beta: float) -> MeanTestSize:
    r"""Return the number of samples of a one-sample t test of the mean.

    :math:`n = s^2 (z_{1-\alpha} + z_{1-\beta})^2 / \delta^2 + z_{1-\alpha}^2 / 2` (EPA QA/G-9S
    2006, one-sample t test).

    Parameters
    ----------
    sd, difference : float
        Standard deviation s, and the difference δ from the level that has to be seen; in one unit.
    alpha, beta : float
        Error chances, each under 0.5.
    """
    if not (math.isfinite(sd) and sd > 0):
        raise EstimateError(
            f"a standard deviation of {sd:g} cannot be used", todo="give one above 0"
        )
    if not math.isfinite(difference):
        raise EstimateError("the difference is not a number", todo="give one above 0")
    z = _both_quantiles(difference / sd, alpha, beta)
    unrounded = (sd / difference * z) ** 2 + float(ndtri(1 - alpha)) ** 2 / 2
    return MeanTestSize(max(2, _ceil(unrounded)), unrounded)


def _both_quantiles(relative_shift: float, alpha: float, beta: float) -> float:
    if not (math.isfinite(relative_shift) and relative_shift > 0):
        raise EstimateError(
            f"a shift of {relative_shift:g} cannot be seen", todo="give a difference above 0"
        )
    for name, value in (("alpha", alpha), ("beta", beta)):
        if not 0 < value < 0.5:
            raise EstimateError(f"{name} = {value:g} cannot be used", todo="give 0 to 0.5")
    return float(ndtri(1 - alpha) + ndtri(1 - beta))


def _share(value: float, name: str) -> None:
    if not 0 < value < 1:
        raise EstimateError(
            f"a {name} of {value:g} cannot be stated", todo="give one between 0 and 1"
        )


def _ceil(value: float) -> int:
    """Round up, but not for the last bit of a float."""
    if not value <= MOST_SAMPLES:
        raise EstimateError(
            f"it takes {value:.3g} samples",
            todo="look for a greater difference, or allow more error",
        )
    return math.ceil(value - 1e-9)
