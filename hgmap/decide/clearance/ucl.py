"""The upper confidence limit of a room's mean, with the method chosen by distribution and said."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from numpy.typing import ArrayLike
from scipy import stats

from hgmap.decide.clearance.bootstrap import bca_limits
from hgmap.decide.clearance.censored import (
    KaplanMeier,
    LognormalFit,
    kaplan_meier,
    lognormal_likelihood,
)
from hgmap.decide.clearance.distribution import DistributionName, Shape, shape_of
from hgmap.decide.clearance.land import land_ucl
from hgmap.decide.clearance.sample import CannotTell, Flags, Floats, checked
from hgmap.errors import EstimateError

LEAST: Final = 3
"""Readings (and detects, where there are non-detects) below which nothing is said (ours)."""
FEW: Final = 8
"""Readings below which a limit is flagged: risk-assessment practice asks for 8 to 10 (memory)."""
BOOTSTRAP_FROM: Final = 30
"""Readings from which the bootstrap is believed, where the skewness is 1 or less (common practice,
no source; in our simulation it held the mean of a room with a tenth of hot places too seldom)."""
EVEN: Final = 0.5
"""sd of logarithms up to which readings with non-detects get Student's t (ours, no source)."""
SKEWED: Final = 1.0
"""sd of logarithms over which Land's H may be far too high and Chebyshev at 95 % falls short
(Singh, Singh and Engelhardt for US EPA, about 1997, from memory)."""
HIGHER: Final = 0.975


@dataclass(frozen=True, slots=True)
class Ucl:
    """An upper confidence limit of the mean, or why there is none.

    Attributes
    ----------
    value : float or None
        In the unit of the readings.
    method : str
        Empty where there is no value.
    why : str
        Why this method, with its warnings; or why there is none.
    distribution : str
    """

    value: float | None
    method: str
    why: str
    distribution: DistributionName


def student_t_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return ``mean + t(confidence, n - 1) s / sqrt(n)`` (Student; US EPA, OSWER 9285.6-10)."""
    number = _two(values)
    t = float(stats.t.ppf(confidence, len(number) - 1))
    return float(number.mean() + t * number.std(ddof=1) / math.sqrt(len(number)))


def chebyshev_factor(confidence: float = 0.95) -> float:
    """Return ``sqrt(1 / (1 - confidence) - 1)``, from the one-sided Chebyshev inequality."""
    return math.sqrt(1.0 / (1.0 - confidence) - 1.0)


def chebyshev_ucl(values: ArrayLike, confidence: float = 0.95) -> float:
    """Return ``mean + sqrt(1/alpha - 1) s / sqrt(n)`` (US EPA, OSWER 9285.6-10, 2002)."""
    number = _two(values)
    error = float(number.std(ddof=1)) / math.sqrt(len(number))
    return float(number.mean()) + chebyshev_factor(confidence) * error


def mean_and_error(values: ArrayLike, is_detect: ArrayLike) -> tuple[float, float] | None:
    """Return mean and standard error of the mean; by Kaplan-Meier where there are non-detects.

    None below two detects, or where all detects are the same number: their scatter is not known.
    """
    number, detect = checked(values, is_detect)
    seen = number[detect]
    if len(seen) < 2 or seen[-1] <= seen[0] * (1.0 + 1e-12):
        return None
    if detect.all():
        return float(number.mean()), float(number.std(ddof=1)) / math.sqrt(len(number))
    km = kaplan_meier(number, detect)
    assert isinstance(km, KaplanMeier)  # there are detects
    return km.mean, km.small_sample_error()


def bca_ucl(values: ArrayLike, confidence: float = 0.95, *, seed: int = 0) -> float | CannotTell:
    """Return the one-sided BCa bootstrap limit of the mean (Efron and Tibshirani 1993, ch. 14)."""
    number, _ = checked(values)
    limits = bca_limits(number, [confidence], seed=seed)
    return limits if isinstance(limits, CannotTell) else limits[0]


def ucl95(values: ArrayLike, is_detect: ArrayLike, *, seed: int = 0) -> Ucl:
    """Return a 95 % upper confidence limit of the mean, choosing its method.

    All detects: normal (Shapiro-Wilk) gets Student's t; lognormal Land's H; neither the BCa
    bootstrap from 30 readings with a skewness of 1 or less, else Chebyshev (mean, sd); the order is
    that of US EPA OSWER 9285.6-10 (2002, from memory). Where both distributions pass, the higher of
    the two limits counts: few readings cannot tell them apart, and the lower one is the risk. With
    non-detects: Kaplan-Meier mean and error with Student's t where the detects look normal, are
    half of all or more and have an sd of logarithms up to 0.5, else with Chebyshev, at 97.5 % where
    the fitted sd of logarithms is over 1 (common practice, no source). A limit below the mean is
    put aside for Chebyshev's.
    """
    number, detect = checked(values, is_detect)
    n, detects = len(number), int(detect.sum())
    if n < LEAST:
        return Ucl(None, "", f"{n} of the {LEAST} readings that are the least", "not known")
    if not detects:
        why = "nothing was detected: the mean and its limit are not known"
        return Ucl(None, "", why, "not known")
    if detects < LEAST:
        why = f"{detects} of the {LEAST} detects that are the least where there are non-detects"
        return Ucl(None, "", why, "not known")
    shape = shape_of(number[detect])
    if shape.name == "not known":
        return Ucl(
            None, "", "all detects are the same number: their scatter is not known", "not known"
        )
    chosen = _chosen(number, shape, seed) if detects == n else _censored(number, detect, shape)
    value, method, why = chosen
    if not math.isfinite(value):
        return Ucl(None, "", f"{method} has no end here: the scatter is too large", shape.name)
    if n < FEW:
        why += f"; only {n} readings, fewer than {FEW}: take it as a hint"
    return Ucl(value, method, why, shape.name)


def _chosen(number: Floats, shape: Shape, seed: int) -> tuple[float, str, str]:
    chebyshev = chebyshev_ucl(number)
    value, method, why = chebyshev, "Chebyshev (mean, sd)", ""
    if shape.p_normal >= 0.05 or shape.p_lognormal >= 0.05:
        t, land = student_t_ucl(number), land_ucl(number)
        passes = f"Shapiro-Wilk p {shape.p_normal:.2g} normal, {shape.p_lognormal:.2g} lognormal"
        if shape.p_lognormal < 0.05:
            value, method, why = t, "Student t", f"normal, not lognormal ({passes})"
        elif shape.p_normal < 0.05:
            value, method, why = land, "Land's H", f"lognormal, not normal ({passes})"
        elif t >= land:
            value, method, why = t, "Student t", f"both fit, the higher limit counts ({passes})"
        else:
            value, method, why = land, "Land's H", f"both fit, the higher limit counts ({passes})"
        if method == "Land's H" and shape.log_sd > SKEWED:
            why += f"; sd of logarithms {shape.log_sd:.2g}: the limit may be far too high"
    elif len(number) >= BOOTSTRAP_FROM and abs(shape.skewness) <= 1.0:
        limit = bca_ucl(number, seed=seed)
        if not isinstance(limit, CannotTell):
            value, method = limit, "BCa bootstrap"
            why = f"neither normal nor lognormal, {len(number)} readings, skewness 1 or less"
    if method.startswith("Chebyshev"):
        why = "neither normal nor lognormal, and few or skewed"
    if value < float(number.mean()):
        return chebyshev, "Chebyshev (mean, sd)", f"{method} fell below the mean"
    return value, method, why


def _censored(number: Floats, detect: Flags, shape: Shape) -> tuple[float, str, str]:
    km = kaplan_meier(number, detect)
    assert isinstance(km, KaplanMeier)  # there are detects
    error = km.small_sample_error()
    unseen = f"{km.n - km.detects} of {km.n} not detected"
    if shape.name == "normal" and 2 * km.detects >= km.n and shape.log_sd <= EVEN:
        t = float(stats.t.ppf(0.95, km.n - 1))
        why = f"{unseen}; the detects look normal and even"
        return km.mean + t * error, "Kaplan-Meier mean, Student t", why
    fit = lognormal_likelihood(number, detect)
    if isinstance(fit, LognormalFit) and fit.log_sd > SKEWED:
        why = f"{unseen}; fitted sd of logarithms {fit.log_sd:.2g}, over 1"
        value = km.mean + chebyshev_factor(HIGHER) * error
        return value, "Kaplan-Meier mean, Chebyshev at 97.5 %", why
    why = f"{unseen}; the detects are few, skewed or uneven"
    return km.mean + chebyshev_factor() * error, "Kaplan-Meier mean, Chebyshev", why


def _two(values: ArrayLike) -> Floats:
    number, _ = checked(values)
    if len(number) < 2:
        raise EstimateError(f"two values are the least, got {len(number)}", where="clearance")
    return number
