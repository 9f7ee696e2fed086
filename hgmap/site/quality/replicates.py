"""Readings that repeat each other: how far they lie apart, and what scatter that shows.

Which readings repeat each other stands in :mod:`hgmap.site.quality.pairing`. The limits are common
practice, no source; the statistics are published (see :mod:`hgmap.site.quality.statistics`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.site.quality.detection import DetectionLimit, detection_limits, limit_for
from hgmap.site.quality.figures import counted, figure, hours_between, named
from hgmap.site.quality.pairing import Lonely, groups_of
from hgmap.site.quality.statistics import (
    Pooled,
    pooled_log_sd,
    pooled_relative_sd,
    pooled_sd,
    relative_percent_difference,
)
from hgmap.site.reading import Reading

MOST_RPD_PERCENT: Final = 25.0
"""Above this a pair is flagged, where both values are high enough: common practice, no source."""

TIMES_LIMIT: Final = 5.0
"""Above this many detection limits the relative difference counts, below it the absolute one:
common practice, no source."""

APART_H: Final = 2.0
"""Readings farther apart in time (h) are compared, but their difference may be the air's, and they
do not enter the pooled scatter: a limit of ours, no source."""

COMPARED: Final = frozenset({"", "~"})
_JUST: Final = 1.0 + 1e-9  # a difference of just the limit is within it, whatever floats say


@dataclass(frozen=True, slots=True)
class Replicates:
    """Two readings or more that repeat each other.

    Attributes
    ----------
    readings : tuple of str
        Ids.
    values : tuple of float
        The numbers among them (computing unit), in the order of ``readings``.
    non_detects : tuple of float
        The limits of those that were not detected.
    rpd_percent : float or None
        Between the highest and the lowest number; None where there are not two.
    detection_limit : float or None
        The one that the pair was judged with.
    hours : float or None
        Between the first and the last; None where a time is missing.
    flagged : bool
    text : str
        What was compared, by which rule, and what came out.
    """

    readings: tuple[str, ...]
    floor: str
    room: str
    values: tuple[float, ...]
    non_detects: tuple[float, ...]
    rpd_percent: float | None
    detection_limit: float | None
    hours: float | None
    flagged: bool
    text: str

    @property
    def compared(self) -> bool:
        """Whether two of them at least, taken soon after each other, show how readings repeat."""
        return len(self.values) + len(self.non_detects) > 1 and self._together

    @property
    def pooled(self) -> bool:
        """Whether its numbers enter the pooled scatter."""
        return len(self.values) > 1 and self._together

    @property
    def _together(self) -> bool:
        return self.hours is None or self.hours <= APART_H


@dataclass(frozen=True, slots=True)
class ReplicateSummary:
    """All replicates of some readings.

    Attributes
    ----------
    groups : tuple of Replicates
    lonely : tuple of Lonely
        Duplicates whose original was not found, with why.
    absolute, relative, log : Pooled or None
        Pooled standard deviation in the computing unit, as a share of the mean, and of the
        natural logarithms.
    """

    groups: tuple[Replicates, ...]
    lonely: tuple[Lonely, ...]
    absolute: Pooled | None
    relative: Pooled | None
    log: Pooled | None

    @property
    def flagged(self) -> tuple[Replicates, ...]:
        """Those that differ by more than custom allows."""
        return tuple(one for one in self.groups if one.flagged)


def replicates(readings: Sequence[Reading], unit: str) -> ReplicateSummary:
    """Compare the usable readings that repeat each other.

    Parameters
    ----------
    readings : sequence of Reading
        Of any round; held ones are left out, and those of another medium than the site's.
    unit : str
        The computing unit, for the words.

    Returns
    -------
    ReplicateSummary
        The same whatever the order of the readings.
    """
    readings = [one for one in readings if not one.medium]
    usable = [one for one in readings if one.usable and one.concentration is not None]
    gathered, lonely = groups_of(usable, readings)
    limits = detection_limits(readings)
    groups = tuple(_compare(one, limits, unit) for one in gathered)
    pooled = [one.values for one in groups if one.pooled]
    return ReplicateSummary(
        groups, lonely, pooled_sd(pooled), pooled_relative_sd(pooled), pooled_log_sd(pooled)
    )


def _compare(group: Sequence[Reading], limits: Sequence[DetectionLimit], unit: str) -> Replicates:
    values = tuple(_number(one) for one in group if one.qualifier in COMPARED)
    below = tuple(_number(one) for one in group if one.qualifier == "<")
    known = [one for one in (limit_for(reading, limits) for reading in group) if one is not None]
    limit = max((*below, *known), default=None)
    rpd = None
    if len(values) > 1 and max(values) > 0.0:
        rpd = relative_percent_difference(max(values), min(values))
    hours = hours_between([one.time for one in group])
    flagged, text = _judge(values, below, rpd, limit, unit)
    apart = hours is not None and hours > APART_H
    words = [f"{named([one.id for one in group])}: {text}"]
    others = len(group) - len(values) - len(below)
    if others:
        words.append(f"{counted(others, 'saturated value or range', 'saturated values or ranges')} "
                     "left out")  # fmt: skip
    if apart and hours is not None:
        words.append(
            f"taken {figure(hours)} h apart: the air may have changed; not in the pooled scatter"
        )
    return Replicates(
        tuple(one.id for one in group), group[0].floor, group[0].room, values, below, rpd,
        limit, hours, flagged, "; ".join(words),
    )  # fmt: skip


def _judge(
    values: Sequence[float],
    below: Sequence[float],
    rpd: float | None,
    limit: float | None,
    unit: str,
) -> tuple[bool, str]:
    """Return whether the readings differ by more than custom allows, and the rule in words."""
    if not values:
        return False, (
            "all below their detection limits, which is no difference"
            if len(below) > 1
            else "no two values to compare"
        )
    high, low = max(values), min(values)
    if below and high > max(below):
        bound = max(below)
        flagged = high - bound > bound * _JUST
        return flagged, (
            f"{figure(high)} {unit} beside a non-detect below {figure(bound)}: the non-detect "
            f"taken at its limit, the difference is {figure(high - bound)}, "
            f"{'more than' if flagged else 'within'} one detection limit"
        )
    if below and len(values) == 1:
        return False, (
            f"{figure(high)} {unit} beside a non-detect below {figure(max(below))}, which is no "
            "difference"
        )
    if rpd is None:
        return False, "no two values to compare"
    pair = f"{figure(high)} and {figure(low)} {unit}"
    if limit is None or low > TIMES_LIMIT * limit:
        flagged = rpd > MOST_RPD_PERCENT * _JUST
        why = "no detection limit is known" if limit is None else "above 5 detection limits"
        return flagged, (
            f"{pair}, relative difference {figure(rpd)} % "
            f"({why}: {'more than' if flagged else 'within'} {MOST_RPD_PERCENT:g} %)"
        )
    flagged = high - low > limit * _JUST
    return flagged, (
        f"{pair}, relative difference {figure(rpd)} %; near the detection limit of "
        f"{figure(limit)} the difference of {figure(high - low)} counts, "
        f"{'more than' if flagged else 'within'} one limit"
    )


def _number(reading: Reading) -> float:
    return 0.0 if reading.concentration is None else reading.concentration
