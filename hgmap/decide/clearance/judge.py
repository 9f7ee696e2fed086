"""The outcome of one room under one named rule.

Strictly above the level does not meet; strictly below may meet; anything else, and any doubt, is
``cannot tell yet``. A non-detect is below its detection limit, so one at the level is below it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from hgmap.decide.clearance.limits import guarded_limit, ucl_short, utl_short, wide_name
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.clearance.statistics import RoomStatistics
from hgmap.decide.clearance.tolerance import samples_needed
from hgmap.errors import EstimateError, LevelError
from hgmap.site.quality.figures import counted

Outcome = Literal["meets", "does not meet", "cannot tell yet"]

TENTH: Final = 0.1
"""Share of a room that a remark speaks of: readings at random places miss it with 0.9 each."""
NEAR_LIMIT: Final = 0.5
"""Share of the level from which a detection limit is remarked on (custom, from memory)."""


@dataclass(frozen=True, slots=True)
class Ruling:
    """What a rule says of a room.

    Attributes
    ----------
    outcome : {"meets", "does not meet", "cannot tell yet"}
    reasons : tuple of str
        One at least.
    missing : tuple of str
        What would settle it; empty unless the outcome is ``cannot tell yet``.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    missing: tuple[str, ...] = ()


def judge(
    rule: ClearanceRule,
    statistics: RoomStatistics,
    level: float,
    probability_nowhere: float | None = None,
    *,
    held: int = 0,
) -> Ruling:
    """Hold a room against a level under a rule.

    Parameters
    ----------
    level : float
        In the unit of the statistics; it need not be the level that they were made for.
    probability_nowhere : float, optional
        The map's probability that nowhere in the room is above the level.
    held : int
        Readings that will count too once an instrument vouches for them. They decide nothing; no
        more are asked for in their place.

    Raises
    ------
    LevelError
        If the level is not a number above zero.
    EstimateError
        If the probability does not lie between 0 and 1.
    """
    if not (math.isfinite(level) and level > 0.0):
        raise LevelError(f"a level above zero is needed, not {level:g}", where="clearance")
    if probability_nowhere is not None and not 0.0 <= probability_nowhere <= 1.0:
        raise EstimateError(
            f"a probability between 0 and 1 is needed, not {probability_nowhere:g}",
            where="clearance",
        )
    if failed := _fails(rule, statistics, level, probability_nowhere):
        return Ruling("does not meet", tuple(failed))
    reasons, missing = _doubts(rule, statistics, level, held)
    more_reasons, more_missing = _short_of(rule, statistics, level, probability_nowhere)
    if held:
        # how many more is known only when these are back
        more_missing = [text for text in more_missing if not text.startswith("more readings")]
    reasons, missing = [*reasons, *more_reasons], [*missing, *more_missing]
    if reasons:
        return Ruling("cannot tell yet", tuple(reasons), tuple(dict.fromkeys(missing)))
    return Ruling("meets", (_met(rule, statistics, level, probability_nowhere), *_remarks(
        statistics, level
    )))  # fmt: skip


def withhold(ruling: Ruling, reasons: Sequence[str], missing: Sequence[str]) -> Ruling:
    """Take back a ``meets`` for reasons outside the numbers: conditions, heights, checks.

    What does not meet stays so; what could not be told is told with these too.
    """
    if not reasons or ruling.outcome == "does not meet":
        return ruling
    kept = ruling.reasons if ruling.outcome == "cannot tell yet" else ()
    return replace(
        ruling,
        outcome="cannot tell yet",
        reasons=(*kept, *reasons),
        missing=tuple(dict.fromkeys((*ruling.missing, *missing))),
    )


def _fails(
    rule: ClearanceRule, room: RoomStatistics, level: float, nowhere: float | None
) -> list[str]:
    """Return what shows that the rule is not met, however many readings there are."""
    highest, over = room.maximum, room.highest_saturated
    found = []
    if rule.test in ("every reading", "map"):
        # a saturated reading is no number: it is said below
        number = highest is not None and (over is None or highest > over)
        if number and highest is not None and highest > level:
            found.append(f"a reading of {highest:.4g} is above {level:.4g}")
        if over is not None and over >= level:
            found.append(f"a saturated reading is above {over:.4g}, and so above {level:.4g}")
    if rule.test == "map":
        assert rule.probability is not None
        # the counterpart of the rule's probability: as sure of the opposite
        if nowhere is not None and nowhere <= 1.0 - rule.probability:
            found.append(f"the probability that nowhere is above is {nowhere:.3f}")
    if rule.test == "mean":
        assert rule.single_factor is not None
        most = rule.single_factor * level
        if highest is not None and (highest > most or (over is not None and over >= most)):
            found.append(
                f"a reading of {highest:.4g} is above {rule.single_factor:g} times {level:.4g}"
            )
    if room.n < (rule.fails_from or rule.least):
        return found
    # with the non-detects at zero: what they hide cannot bring the mean below this
    least = room.least_mean
    if rule.test in ("mean", "ucl") and least is not None and least > level:
        found.append(f"the mean is {least:.4g} or more, above {level:.4g}")
    if rule.test == "utl":
        part = room.percentile95.value
        if part is not None and part > level:
            found.append(f"the 95th percentile {part:.4g} is above {level:.4g}")
    return found


def _doubts(
    rule: ClearanceRule, room: RoomStatistics, level: float, held: int
) -> tuple[list[str], list[str]]:
    """Return what stands against any ``meets``, whatever the rule, and what is missing."""
    reasons, missing = [], []
    if room.n < rule.least:
        waiting = f" besides {held} held for want of a check or of the log" if held else ""
        reasons.append(
            f"{counted(room.n, 'reading')}{waiting}, the rule needs {rule.least}"
            f"{_why_so_many(rule)}"
        )
        if rule.least > room.n + held:
            missing.append(counted(rule.least - room.n - held, "more usable reading"))
    if room.highest_limit is not None and room.highest_limit > level:
        reasons.append(f"a detection limit of {room.highest_limit:.4g} is above {level:.4g}")
        missing.append(f"an instrument or a laboratory method that can see {level:.4g}")
    if room.saturated:
        reasons.append(f"{counted(room.saturated, 'saturated reading')}: how high is not known")
        missing.append("the saturated places read again with a higher range")
    elsewhere = room.highest_elsewhere
    if elsewhere is not None and elsewhere >= level:
        reasons.append(
            f"{elsewhere:.4g} was read at another height, not below {level:.4g}: a hot place is "
            "not averaged away"
        )
        missing.append("the place at the other height cleaned and read again")
    return reasons, missing


def _why_so_many(rule: ClearanceRule) -> str:
    """Return what a tolerance limit needs before it can be met at all."""
    if rule.test != "utl":
        return ""
    least = samples_needed()
    return (
        f": {least}, all below, show with 95 % confidence that 95 % of the room is below, whatever "
        "its distribution; fewer show it only if the room is as even as they look"
    )


def _short_of(
    rule: ClearanceRule, room: RoomStatistics, level: float, nowhere: float | None
) -> tuple[list[str], list[str]]:
    """Return why the rule's own number is not below the level, and what is missing."""
    if not room.n or room.saturated:
        return [], []  # said already
    if rule.test == "every reading":
        if room.maximum is not None and room.maximum >= level:
            return [f"a reading stands at the level, {level:.4g}"], ["that place read again"]
        return [], []
    if rule.test == "map":
        assert rule.probability is not None
        if nowhere is None:
            return ["there is no map of this room"], ["a map's probability that nowhere is above"]
        if nowhere < rule.probability:
            reason = f"the probability that nowhere is above is {nowhere:.3f}"
            return [f"{reason}, under {rule.probability:g}"], ["readings where the map is in doubt"]
        if room.maximum is not None and room.maximum >= level:
            return [f"a reading stands at the level, {level:.4g}"], ["that place read again"]
        return [], []
    if rule.test == "mean":
        return _mean_short(room, level)
    if rule.test == "ucl":
        return ucl_short(rule, room, level)
    return utl_short(rule, room, level)


def _mean_short(room: RoomStatistics, level: float) -> tuple[list[str], list[str]]:
    value = room.mean.value
    if value is None:
        # every reading lies below a detection limit, and so does their mean; a limit above the
        # level is a doubt already
        if not room.detects:
            return [], []
        return [f"no mean: {room.mean.why}"], ["more readings"]
    if value >= level:
        reason = f"the mean {value:.4g} ({room.mean.method}) is not below {level:.4g}"
        return [reason], ["more readings, or a method with a lower detection limit"]
    return [], []


def _met(rule: ClearanceRule, room: RoomStatistics, level: float, nowhere: float | None) -> str:
    if rule.test == "every reading":
        return f"all {room.n} readings are below {level:.4g}{_all_may_miss(room.n)}"
    if rule.test == "map":
        return f"the probability that nowhere is above is {nowhere:.3f}"
    if rule.test == "mean":
        if room.mean.value is None:
            return f"nothing was detected; every detection limit is {level:.4g} or lower"
        return (
            f"the mean {room.mean.value:.4g} ({room.mean.method}) is below {level:.4g}"
            f"{_limit_of_mean(room, level)}"
        )
    if rule.test == "ucl":
        assert rule.guard is not None
        if room.ucl.value is None:
            return (
                f"no upper confidence limit of its own ({room.ucl.why}), but "
                f"{wide_name(rule, room)}, {guarded_limit(rule.guard, room):.4g}, is below "
                f"{level:.4g}"
            )
        return (
            f"the limit {room.ucl.value:.4g} ({room.ucl.method}) is below {level:.4g}, and so is "
            f"{wide_name(rule, room)}, {guarded_limit(rule.guard, room):.4g}"
        )
    assert room.utl.value is not None
    return f"the limit {room.utl.value:.4g} ({room.utl.method}) is below {level:.4g}"


def _all_may_miss(n: int) -> str:
    """Say how often so many readings miss a tenth of a room that is above, each with 0.9."""
    missed = (1.0 - TENTH) ** n
    if missed < 0.05:
        return ""
    return (
        f"; if a tenth of the room were above, {n} readings would all miss it about "
        f"{100 * missed:.0f} times in 100"
    )


def _limit_of_mean(room: RoomStatistics, level: float) -> str:
    """Say where readings do not show that the mean of the room is below, though theirs is."""
    limit = room.ucl.value
    if limit is None:
        return "; how far the room's mean may be above that of its readings is not known"
    if limit >= level:
        return f"; its 95 % upper confidence limit {limit:.4g} ({room.ucl.method}) is not"
    return ""


def _remarks(room: RoomStatistics, level: float) -> list[str]:
    remarks = []
    if room.highest_limit is not None and room.highest_limit > NEAR_LIMIT * level:
        remarks.append(
            f"a detection limit of {room.highest_limit:.4g} is more than half of the level"
        )
    if room.maximum is not None and room.maximum > level:
        remarks.append(f"a reading of {room.maximum:.4g} is above the level")
    return remarks
