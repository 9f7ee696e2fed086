"""Which distribution the readings of a room look like."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from hgmap.decide.clearance.sample import checked

DistributionName = Literal["normal", "lognormal", "neither", "not known"]

REJECTED: Final = 0.05
"""p below which a distribution is given up (common practice, no source)."""
MOST_TESTED: Final = 5000
"""More readings than this and any smooth distribution is given up; the test itself ends there."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What the detects look like.

    Attributes
    ----------
    name : {"normal", "lognormal", "neither", "not known"}
        The better of the two by W where neither is given up.
    p_normal, p_lognormal : float
        Of the Shapiro-Wilk test; nan where there is none.
    skewness : float
        ``sqrt(n (n - 1)) / (n - 2)`` times the third moment over the second to the 3/2.
    log_sd : float
        Sample sd of natural logarithms.
    """

    name: DistributionName
    p_normal: float
    p_lognormal: float
    skewness: float
    log_sd: float


def shape_of(values: ArrayLike) -> Shape:
    """Test readings for a normal and a lognormal distribution (Shapiro and Wilk).

    Shapiro and Wilk, Biometrika 52 (1965) 591; p by Royston's approximation, in scipy. Not known
    below three values or where all are the same.
    """
    number, _ = checked(values)
    if len(number) < 3 or number[-1] <= number[0] * (1.0 + 1e-12):
        return Shape("not known", math.nan, math.nan, math.nan, 0.0)
    scaled, logs = number / number[-1], np.log(number)
    skewness = float(stats.skew(scaled, bias=False))
    log_sd = float(logs.std(ddof=1))
    if len(number) > MOST_TESTED:
        return Shape("neither", 0.0, 0.0, skewness, log_sd)
    w_normal, p_normal = (float(one) for one in stats.shapiro(scaled))
    w_log, p_log = (float(one) for one in stats.shapiro(logs))
    name: DistributionName = "neither"
    if p_normal >= REJECTED and (w_normal >= w_log or p_log < REJECTED):
        name = "normal"
    elif p_log >= REJECTED:
        name = "lognormal"
    return Shape(name, p_normal, p_log, skewness, log_sd)
