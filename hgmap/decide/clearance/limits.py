"""Upper limits held against a level, and how many readings would bring them down."""

from __future__ import annotations

import math

from hgmap.decide.clearance.rules import ClearanceRule, Guard
from hgmap.decide.clearance.statistics import RoomStatistics
from hgmap.decide.clearance.tolerance import samples_needed
from hgmap.decide.clearance.ucl import chebyshev_factor


def mean_and_error(room: RoomStatistics) -> tuple[float, float] | None:
    """Return the mean that a limit is built on and its error; at worst where no limit is known.

    Too few detects, or detects that are all the same number, have no confidence limit. What lies
    below a detection limit is bounded all the same: ``worst_mean`` and ``worst_sd`` are as high as
    such readings can be. Else the cleaner of two rooms could never meet (our rule, no source).
    """
    if room.ucl.value is not None and room.mean.value is not None and room.mean_error is not None:
        return room.mean.value, room.mean_error
    if room.worst_mean is None or room.worst_sd is None:
        return None
    return room.worst_mean, room.worst_sd / math.sqrt(room.n)


def guarded_limit(guard: Guard, room: RoomStatistics) -> float | None:
    """Return ``mean + sqrt(1 / alpha - 1) max(error, c mean / sqrt(n))``.

    c is the least scatter of the guard. None where mean and error have no bound either.
    """
    found = mean_and_error(room)
    if found is None:
        return None
    mean, error = found
    least = guard.least_scatter * mean / math.sqrt(room.n)
    return mean + chebyshev_factor(guard.confidence_of(room.n)) * max(error, least)


def readings_wanted(guard: Guard, room: RoomStatistics, level: float) -> int | None:
    """Return how many readings would bring the limit below a level, mean and scatter unchanged.

    None where no number would: the mean itself is not below.
    """
    found = mean_and_error(room)
    if found is None or found[0] >= level:
        return None
    mean, error = found
    sd = max(error * math.sqrt(room.n), guard.least_scatter * mean)

    def enough(confidence: float) -> int:
        root = chebyshev_factor(confidence) * sd / (level - mean)
        return math.floor(root**2) + 1

    n = enough(guard.few_confidence)
    n = n if n < guard.few else max(guard.few, enough(guard.confidence))
    return max(n, room.n + 1)


def ucl_short(
    rule: ClearanceRule, room: RoomStatistics, level: float
) -> tuple[list[str], list[str]]:
    """Hold the limit of the distribution against the level, then the one that asks for none."""
    assert rule.guard is not None
    value, wide = room.ucl.value, guarded_limit(rule.guard, room)
    if wide is None:
        return (
            [f"no upper confidence limit: {room.ucl.why}"],
            ["more readings, or a method with a lower detection limit"],
        )
    if max(wide if value is None else value, wide) < level:
        return [], []
    if value is None:
        reason = (
            f"no upper confidence limit: {room.ucl.why}; {wide_name(rule, room)} is {wide:.4g}, "
            f"not below {level:.4g}"
        )
    elif value >= level:
        reason = (
            f"the upper confidence limit {value:.4g} ({room.ucl.method}) is not below {level:.4g}"
        )
    else:
        reason = (
            f"the upper confidence limit {value:.4g} ({room.ucl.method}) is below {level:.4g}, but "
            f"{wide_name(rule, room)} is {wide:.4g}: {room.n} readings do not show how uneven the "
            "room is"
        )
    wanted = readings_wanted(rule.guard, room, level)
    lower = " or a method with a lower detection limit" if room.detects < room.n else ""
    if wanted is None:
        todo = f"the room cleaned and read again{lower}: the mean of its readings is not below"
        return [reason], [f"{todo} {level:.4g}"]
    by_method = f",{lower}" if value is None else ""
    return [reason], [
        f"more readings: about {wanted} in the room, if their mean and scatter stay as they are"
        f"{by_method}"
    ]


def wide_name(rule: ClearanceRule, room: RoomStatistics) -> str:
    """Return what the limit without a distribution is called."""
    assert rule.guard is not None
    confidence = 100.0 * rule.guard.confidence_of(room.n)
    worst = ""
    if room.ucl.value is None and room.detects < room.n:
        worst = ", the non-detects as uneven below their limits as they can be"
    return f"the one that asks for no distribution (Chebyshev, {confidence:g} %{worst})"


def utl_short(
    rule: ClearanceRule, room: RoomStatistics, level: float
) -> tuple[list[str], list[str]]:
    """Return why a tolerance limit is not below a level, and how many readings could mend it."""
    value = room.utl.value
    if room.n < rule.least:
        return [], []  # said already
    if value is None:
        return (
            [f"no upper tolerance limit: {room.utl.why}"],
            ["more readings, or a method with a lower detection limit"],
        )
    if value >= level:
        allowed = next(k for k in range(1, room.n + 2) if samples_needed(exceedances=k) > room.n)
        return (
            [f"the upper tolerance limit {value:.4g} is not below {level:.4g}"],
            [
                f"more readings: {samples_needed(exceedances=allowed)} in the room where {allowed} "
                f"of them {'is' if allowed == 1 else 'are'} not below, "
                f"{samples_needed(exceedances=allowed + 1)} where {allowed + 1} are"
            ],
        )
    return [], []
