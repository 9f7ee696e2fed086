"""Numbers, lists and clock times in words, for every part of the quality record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

MOST_NAMED = 8


def figure(value: float) -> str:
    """Write a number with three significant digits.

    Examples
    --------
    >>> figure(0.04999), figure(1234.5), figure(19.512)
    ('0.05', '1230', '19.5')
    """
    return f"{float(f'{value:.3g}'):g}" if math.isfinite(value) else "–"


def signed(value: float) -> str:
    """Write a number with its sign.

    Examples
    --------
    >>> signed(0.0123), signed(-2.0)
    ('+0.0123', '-2')
    """
    return f"{'-' if value < 0 else '+'}{figure(abs(value))}"


def counted(number: int, one: str, many: str = "") -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> counted(1, "reading"), counted(3, "reading"), counted(0, "day")
    ('1 reading', '3 readings', '0 days')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def named(names: Sequence[str], most: int = MOST_NAMED, between: str = ", ") -> str:
    """List names, the rest of a long list as a count.

    Examples
    --------
    >>> named(["A", "B", "C"], most=2)
    'A, B and 1 more'
    """
    if len(names) <= most:
        return between.join(names)
    return f"{between.join(names[:most])} and {len(names) - most} more"


def clock(time: datetime) -> datetime:
    """Return a time as the clock on the wall showed it: logs and readings mix both forms."""
    return time.replace(tzinfo=None)


def hours_between(times: Sequence[datetime | None]) -> float | None:
    """Return how far (h) the first and the last time lie apart; None where one is not known."""
    known = [clock(one) for one in times if one is not None]
    if len(known) < len(times) or not known:
        return None
    return (max(known) - min(known)).total_seconds() / 3600.0
