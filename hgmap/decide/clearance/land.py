"""Land's exact upper limit of a lognormal mean, by quadrature instead of tables."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from hgmap.decide.clearance.sample import Floats, checked, exponential
from hgmap.errors import EstimateError

NODES: Final = 160
REACH: Final = 14.0
"""How many widths of the density are integrated on either side of its top."""


@cache
def _rule() -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return nodes, weights


def land_h(log_sd: float, n: int, confidence: float = 0.95) -> float:
    """Return Land's H, so that ``UCL = exp(ybar + s^2/2 + s H / sqrt(n - 1))``.

    Under the hypothesis ``mu + sigma^2/2 = m``, given ``V^2 = sum (y - m)^2``, the statistic
    ``t = sqrt(n) (ybar - m) / V`` has a density proportional to
    ``(1 - t^2)^((n - 3)/2) exp(-sqrt(n) V t / 2)`` on (-1, 1); the limit is the m at which the
    observed t has the probability ``1 - confidence`` below it. Land, Annals of Mathematical
    Statistics 42 (1971) 1187; tables in Gilbert, Statistical Methods for Environmental Pollution
    Monitoring (1987), A10 to A13.

    Parameters
    ----------
    log_sd : float
        Sample sd of the natural logarithms (n - 1), above zero.
    n : int
        Three or more.
    confidence : float
        Above one half an upper limit; 0.05 gives the H of a 95 % lower limit.

    Examples
    --------
    >>> round(land_h(1.25, 15), 3)
    3.163
    """
    if n < 3 or not (log_sd > 0.0 and math.isfinite(log_sd)):
        raise EstimateError(
            f"Land's H needs three values and a scatter, got n = {n}, s = {log_sd:g}",
            where="clearance",
        )
    if not 0.0 < confidence < 1.0:
        raise EstimateError(f"a confidence between 0 and 1 is needed, not {confidence:g}")

    def excess(h: float) -> float:
        return _below(h, log_sd, n) - (1.0 - confidence)

    low, high = -5.0, 5.0
    while excess(high) > 0.0:
        high *= 2.0
    while excess(low) < 0.0:
        low *= 2.0
    return float(optimize.brentq(excess, low, high, xtol=1e-10, rtol=1e-12))


def _below(h: float, log_sd: float, n: int) -> float:
    """Return the probability of a t below the observed one, if the limit stood at h."""
    away = log_sd**2 / 2.0 + h * log_sd / math.sqrt(n - 1)  # m - ybar
    length = math.sqrt((n - 1) * log_sd**2 + n * away**2)
    observed = math.asin(max(-1.0, min(1.0, -math.sqrt(n) * away / length)))
    pull = math.sqrt(n) * length / 2.0
    power = n - 2.0
    # t = sin(angle): the density becomes cos^(n-2) exp(-pull sin), smooth up to both ends
    peak = (power - math.hypot(power, 2.0 * pull)) / (2.0 * pull)
    top = math.asin(max(-1.0, min(1.0, peak)))
    width = 1.0 / math.sqrt(power / max(1.0 - peak**2, 1e-12) + pull * abs(peak))
    low = max(-math.pi / 2.0, top - REACH * width)
    high = min(math.pi / 2.0, top + REACH * width)
    if observed <= low:
        return 0.0
    if observed >= high:
        return 1.0
    height = power * math.log(max(math.cos(top), 1e-300)) - pull * math.sin(top)
    left, right = (
        _integral(a, b, power, pull, height) for a, b in ((low, observed), (observed, high))
    )
    return left / (left + right)


def _integral(low: float, high: float, power: float, pull: float, height: float) -> float:
    nodes, weights = _rule()
    angle = (low + high) / 2.0 + (high - low) / 2.0 * nodes
    logs = power * np.log(np.cos(angle)) - pull * np.sin(angle) - height
    return float((high - low) / 2.0 * (weights @ np.exp(logs)))


def land_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return the exact upper confidence limit of the mean of a lognormal distribution.

    Infinite where it cannot be written as a number.

    Raises
    ------
    EstimateError
        For fewer than three values, or values that are all the same.
    """
    number, _ = checked(values)
    logs = np.log(number)
    s = float(logs.std(ddof=1)) if len(logs) > 1 else 0.0
    h = land_h(s, len(logs), confidence)
    exponent = float(logs.mean()) + s**2 / 2.0 + s * h / math.sqrt(len(logs) - 1)
    return exponential(exponent)
