"""Mean and median of readings with non-detects, without putting a number in their place.

Kaplan-Meier turned round, robust regression on order statistics, and maximum likelihood. None of
them can say anything about a room where nothing was detected.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special

from hgmap.decide.clearance.sample import (
    LARGEST_EXPONENT,
    CannotTell,
    Flags,
    Floats,
    checked,
    exponential,
)

NOTHING_DETECTED: Final = CannotTell("nothing was detected: only the detection limits are known")
ONE_DETECT: Final = CannotTell("the detects are one number: two different ones are the least")


@dataclass(frozen=True, slots=True)
class KaplanMeier:
    """The distribution that the readings allow, as masses at values.

    Attributes
    ----------
    mean, standard_error : float
        In the unit of the values. The error is Greenwood's, without the factor of
        :func:`small_sample_error`.
    median : float or None
        None where half of the distribution or more lies below the lowest detect.
    sd : float
        Of the distribution.
    values, masses : ndarray
        From high to low; they add up to 1.
    below : float
        Share that lies below the lowest detect.
    n, detects : int
    """

    mean: float
    standard_error: float
    median: float | None
    sd: float
    values: Floats
    masses: Floats
    below: float
    n: int
    detects: int

    def small_sample_error(self) -> float:
        """Return the error times ``sqrt(d / (d - 1))``, d detects; needs two.

        Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457, section 6.2 (place from memory).
        Without non-detects it is the standard error that any textbook gives.
        """
        return self.standard_error * math.sqrt(self.detects / (self.detects - 1))


def kaplan_meier(
    values: ArrayLike,
    is_detect: ArrayLike,
    *,
    below: Literal["own limits", "lowest limit"] = "own limits",
) -> KaplanMeier | CannotTell:
    """Estimate a left-censored distribution by Kaplan and Meier's product, turned round.

    Going down through the detects ``x_j``, with ``d_j`` of them and ``n_j`` values at or below
    (a non-detect at the same number is among them), ``F(x_j-) = F(x_j) (1 - d_j / n_j)``. The mean
    is the sum of value times mass, its variance ``sum A_j^2 d_j / (n_j (n_j - d_j))`` with
    ``A_j = E (x_j - X)+``. Helsel, Nondetects and Data Analysis (2005), chapter 6; Kaplan and
    Meier, J. Am. Stat. Assoc. 53 (1958) 457 (places from memory).

    Parameters
    ----------
    values, is_detect : array_like, shape (n,)
        Concentrations above zero; of a non-detect its detection limit.
    below
        Where the share goes that lies below the lowest detect: in equal parts to the limits of the
        non-detects there (the higher, and the default), or all of it to the lowest limit, as Efron
        does with the last one in a study of lifetimes.
    """
    number, detect = checked(values, is_detect)
    if not detect.any():
        return NOTHING_DETECTED
    places, counts = np.unique(number[detect], return_counts=True)
    places, counts = places[::-1], counts[::-1]
    at_risk = np.searchsorted(number, places, side="right")
    left = np.cumprod(1.0 - counts / at_risk)
    masses = np.concatenate([[1.0], left[:-1]]) * counts / at_risk
    rest = float(left[-1])
    limits = number[(~detect) & (number <= places[-1])][::-1]
    if len(limits) and rest > 0.0:
        tail = limits if below == "own limits" else limits[-1:]
        places = np.concatenate([places, tail])
        masses = np.concatenate([masses, np.full(len(tail), rest / len(tail))])
    mean = float(masses @ places)
    deviation = float(masses @ (places - mean) ** 2)
    used = np.flatnonzero(at_risk > counts)
    # A_j = x_j F(x_j) - sum of value times mass from x_j down
    lower, weighted = (np.cumsum(one[::-1])[::-1] for one in (masses, masses * places))
    area = places[used] * lower[used] - weighted[used]
    risk, events = at_risk[used].astype(np.float64), counts[used]
    variance = float((area**2 * events / (risk * (risk - events))).sum())
    return KaplanMeier(
        mean=mean,
        standard_error=math.sqrt(variance),
        median=_median(places[: len(counts)], masses[: len(counts)]) if rest < 0.5 - TIE else None,
        sd=math.sqrt(max(deviation, 0.0)),
        values=places,
        masses=masses,
        below=rest,
        n=len(number),
        detects=int(detect.sum()),
    )


TIE: Final = 1e-9
"""How near to one half counts as one half."""


def _median(places: Floats, masses: Floats) -> float:
    # where the distribution stands at one half between two values, their middle, as for any sample
    above = np.cumsum(masses)
    j = int(np.argmax(above >= 0.5 - TIE))
    if above[j] <= 0.5 + TIE and j + 1 < len(places):
        return float(places[j] + places[j + 1]) / 2.0
    return float(places[j])


@dataclass(frozen=True, slots=True)
class RegressionOnOrder:
    """Mean, sd and median after regression on order statistics.

    Attributes
    ----------
    mean, sd, median : float
        Of ``fitted``; the sd is that of a sample (n - 1).
    fitted : ndarray, shape (n,)
        From low to high: detects as they were read, non-detects from the line.
    log_mean, log_sd : float
        Intercept and slope of the line, in natural logarithms.
    """

    mean: float
    sd: float
    median: float
    fitted: Floats
    log_mean: float
    log_sd: float


def exceedance_at_limits(values: ArrayLike, is_detect: ArrayLike) -> tuple[Floats, Floats]:
    """Return the detection limits and the share of all that lies at or above each.

    ``P_j = P_{j+1} + A_j / (A_j + B_j) (1 - P_{j+1})``: A_j detects from limit j up to the next,
    B_j values known to be below it. Helsel and Cohn, Water Resources Research 24 (1988) 1997;
    Hirsch and Stedinger 1987 (from memory). Zero stands before the limits, with all above it.
    """
    number, detect = checked(values, is_detect)
    limits = np.concatenate([[0.0], np.unique(number[~detect])])
    share = np.zeros(len(limits) + 1)
    ends = np.append(limits[1:], np.inf)
    for j in range(len(limits) - 1, -1, -1):
        above = int((detect & (number >= limits[j]) & (number < ends[j])).sum())
        lower = int((detect & (number < limits[j])).sum() + (~detect & (number <= limits[j])).sum())
        part = above / (above + lower) if above + lower else 0.0
        share[j] = share[j + 1] + part * (1.0 - share[j + 1])
    share[0] = 1.0
    return limits, share[:-1]


def robust_ros(values: ArrayLike, is_detect: ArrayLike) -> RegressionOnOrder | CannotTell:
    """Fill the non-detects from a line through the logarithms of the detects at their ranks.

    Plotting positions of Hirsch and Stedinger: detects share ``(1 - P_j, 1 - P_{j+1})`` at
    ``i / (A_j + 1)``, non-detects at limit j ``(0, 1 - P_j)`` at ``i / (C_j + 1)``. Only the
    filled values come from the line (robust). Helsel, Nondetects and Data Analysis (2005),
    chapter 6 (place from memory).
    """
    number, detect = checked(values, is_detect)
    if not detect.any():
        return NOTHING_DETECTED
    if number[detect].min() == number[detect].max():
        return ONE_DETECT
    limits, share = exceedance_at_limits(number, detect)
    following = np.append(share[1:], 0.0)
    group = np.searchsorted(limits, number, side="right") - 1
    position = np.empty(len(number))
    for j in range(len(limits)):
        seen, unseen = np.flatnonzero(detect & (group == j)), np.flatnonzero(~detect & (group == j))
        up = np.arange(1, len(seen) + 1) / (len(seen) + 1)
        position[seen] = (1.0 - share[j]) + (share[j] - following[j]) * up
        position[unseen] = (1.0 - share[j]) * np.arange(1, len(unseen) + 1) / (len(unseen) + 1)
    score = special.ndtri(position)
    x, y = score[detect], np.log(number[detect])
    slope = float(((x - x.mean()) @ (y - y.mean())) / ((x - x.mean()) @ (x - x.mean())))
    start = float(y.mean() - slope * x.mean())
    fitted = np.sort(np.where(detect, number, np.exp(start + slope * score)))
    return RegressionOnOrder(
        mean=float(fitted.mean()),
        sd=float(fitted.std(ddof=1)),
        median=float(np.median(fitted)),
        fitted=fitted,
        log_mean=start,
        log_sd=slope,
    )


@dataclass(frozen=True, slots=True)
class LognormalFit:
    """A lognormal distribution by maximum likelihood.

    Attributes
    ----------
    log_mean, log_sd : float
        Of natural logarithms.
    log_likelihood : float
        Of the values themselves (not of their logarithms).
    """

    log_mean: float
    log_sd: float
    log_likelihood: float

    @property
    def mean(self) -> float:
        """``exp(mu + sigma^2 / 2)``, in the unit of the values."""
        return exponential(self.log_mean + self.log_sd**2 / 2.0)

    @property
    def sd(self) -> float:
        """``mean sqrt(exp(sigma^2) - 1)``."""
        square = self.log_sd**2
        return self.mean * math.sqrt(math.expm1(square) if square < LARGEST_EXPONENT else math.inf)

    @property
    def median(self) -> float:
        """``exp(mu)``."""
        return exponential(self.log_mean)


def censored_normal(values: Floats, is_detect: Flags) -> tuple[float, float, float] | CannotTell:
    """Return mean, sd and log-likelihood of a normal distribution with left-censored values.

    Maximises ``sum log(phi(z) / sigma)`` over detects plus ``sum log Phi(z)`` over non-detects,
    ``z = (x - mu) / sigma``, in ``(mu / sigma, 1 / sigma)``, where it is concave (Olsen,
    Econometrica 46 (1978) 1211, from memory). The values may be of either sign.
    """
    detects, limits = values[is_detect], values[~is_detect]
    if not len(detects):
        return NOTHING_DETECTED
    if detects.min() == detects.max():
        return ONE_DETECT
    centre, scale = float(detects.mean()), float(detects.std())
    x, c = (detects - centre) / scale, (limits - centre) / scale

    def loss(at: Floats) -> tuple[float, Floats]:
        shift, rate = at
        z, q = rate * x - shift, rate * c - shift
        below = special.log_ndtr(q)
        hazard = np.exp(-0.5 * q**2 - 0.5 * math.log(2.0 * math.pi) - below)
        value = 0.5 * float(z @ z) - len(x) * math.log(rate) - float(below.sum())
        slope = np.array([
            -z.sum() + hazard.sum(),
            z @ x - len(x) / rate - hazard @ c,
        ])  # fmt: skip
        return value, slope

    found: Any = optimize.minimize(
        loss,
        np.array([0.0, 1.0]),
        jac=True,
        method="L-BFGS-B",
        bounds=[(None, None), (1e-9, None)],
        options={"ftol": 1e-15, "gtol": 1e-9, "maxiter": 500},
    )
    shift, rate = (float(one) for one in found.x)
    likelihood = -float(found.fun) - len(x) * (math.log(scale) + 0.5 * math.log(2.0 * math.pi))
    return centre + scale * shift / rate, scale / rate, likelihood


def lognormal_likelihood(values: ArrayLike, is_detect: ArrayLike) -> LognormalFit | CannotTell:
    """Fit a lognormal distribution to readings with non-detects by maximum likelihood.

    :func:`censored_normal` of the logarithms. Cohen, Technometrics 1 (1959) 217 (from memory).
    """
    number, detect = checked(values, is_detect)
    logs = np.log(number)
    fit = censored_normal(logs, detect)
    if isinstance(fit, CannotTell):
        return fit
    return LognormalFit(fit[0], fit[1], fit[2] - float(logs[detect].sum()))
