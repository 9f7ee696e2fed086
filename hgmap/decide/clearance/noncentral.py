"""The noncentral t distribution by quadrature: library functions end in nan far from its middle."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from scipy import special, stats

from hgmap.decide.clearance.sample import Floats

NODES: Final = 80
LEFT_OUT: Final = 1e-17
"""Probability that is left out at either end."""
REACH: Final = 9.0
"""Standard normal distances beyond which the normal distribution function is 0 or 1."""


@cache
def _rule() -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return nodes, weights


@cache
def _range(degrees: int) -> tuple[float, float]:
    low, high = stats.chi2.ppf(LEFT_OUT, degrees), stats.chi2.isf(LEFT_OUT, degrees)
    return math.sqrt(float(low) / degrees), math.sqrt(float(high) / degrees)


def noncentral_t_cdf(t: float, degrees: int, noncentrality: float) -> float:
    """Return ``P((Z + delta) / u <= t) = E Phi(t u - delta)``, ``u = sqrt(chi2(nu) / nu)``.

    The definition, integrated over the density of u between its far ends, in parts that break
    where the normal distribution function rises.

    Parameters
    ----------
    t : float
    degrees : int
        One or more.
    noncentrality : float
        delta.
    """
    low, high = _range(degrees)
    breaks = [low, min(max(1.0, low), high), high]
    if t != 0.0:
        middle, reach = noncentrality / t, REACH / abs(t)
        rise = (middle - reach, middle - reach / 3.0, middle, middle + reach / 3.0, middle + reach)
        breaks += [one for one in rise if low < one < high]
    breaks.sort()
    nodes, weights = _rule()
    half = np.diff(breaks)[:, None] / 2.0
    u = np.asarray(breaks)[:-1, None] + half * (1.0 + nodes)
    shape = degrees / 2.0
    constant = math.log(2.0) + shape * math.log(shape) - math.lgamma(shape)
    density = np.exp(constant + (degrees - 1.0) * np.log(u) - shape * u**2)
    total = (half * weights * density * special.ndtr(t * u - noncentrality)).sum()
    return min(max(float(total), 0.0), 1.0)
