"""A stretch of time over which one thing is said about an instrument."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from hgmap.site.reading import Finding


@dataclass(frozen=True, slots=True)
class HeldSpan:
    """What one rule says from ``start`` up to, not including, ``end``.

    ``finding.severity`` tells a hold from a caution. Both times are without a time zone, on the
    clock of the log (see :mod:`hgmap.site.instruments.clock`).

    Attributes
    ----------
    untimed : bool
        Whether it is also said of a reading of that day whose time nobody wrote down. False for
        what belongs to every day of use: before the opening checks, during a check, after the
        closing one.
    """

    start: datetime
    end: datetime
    finding: Finding
    untimed: bool = True
