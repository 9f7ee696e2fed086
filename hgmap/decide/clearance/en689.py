"""The European test of workplace exposure against a limit, for readings without non-detects."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from hgmap.decide.clearance.sample import CannotTell, checked
from hgmap.decide.clearance.tolerance import tolerance_factor
from hgmap.errors import EstimateError

Screening = Literal["compliant", "not compliant", "more readings"]

SHARES: Final = {3: 0.1, 4: 0.15, 5: 0.2}
"""Share of the limit that all of so many readings may reach (EN 689:2018, 5.5.2, from memory)."""
LEAST: Final = 6


def screen(values: ArrayLike, level: float) -> Screening:
    """Judge three to five readings: all far below the limit, one above it, or neither.

    EN 689:2018: all of 3 up to 0.1, of 4 up to 0.15, of 5 up to 0.2 of the limit comply; any
    reading above the limit does not; else more readings are needed. With other numbers of readings
    only the second part is judged. Whether the standard counts a reading at exactly the share is
    not known to us: it is not counted as below here.
    """
    number, _ = checked(values)
    if not level > 0.0:
        raise EstimateError(f"a level above zero is needed, not {level:g}", where="clearance")
    if len(number) and number[-1] > level:
        return "not compliant"
    share = SHARES.get(len(number))
    return "compliant" if share is not None and number[-1] < share * level else "more readings"


@dataclass(frozen=True, slots=True)
class ToleranceTest:
    """``U = (ln L - ln GM) / ln GSD`` against ``U_R``.

    Attributes
    ----------
    u, needed : float
    compliant : bool
        95 % of exposures are below the limit with 70 % confidence.
    """

    u: float
    needed: float
    compliant: bool


def tolerance_test(values: ArrayLike, level: float) -> ToleranceTest | CannotTell:
    """Test six readings or more: ``U >= U_R``, the k of 95 % coverage at 70 % confidence.

    EN 689:2018, annex F (place from memory); lognormal exposures.
    """
    number, _ = checked(values)
    if not level > 0.0:
        raise EstimateError(f"a level above zero is needed, not {level:g}", where="clearance")
    if len(number) < LEAST:
        return CannotTell(f"{len(number)} of the {LEAST} readings that are the least")
    logs = np.log(number)
    s = float(logs.std(ddof=1))
    if not s > 0.0:
        return CannotTell("all readings are the same number: their scatter is not known")
    u = (math.log(level) - float(logs.mean())) / s
    needed = tolerance_factor(len(number), 0.95, 0.70)
    return ToleranceTest(u, needed, u >= needed)
