"""What a reader of a clearance has to know beside its outcomes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from hgmap.decide.clearance.statistics import RoomStatistics
from hgmap.decide.clearance.withheld import OCCUPIED_AIR_CHANGES_PER_H, as_occupied
from hgmap.decide.evidence import TOO_CLOSE, describe
from hgmap.report.words import number
from hgmap.site.cautions import LICENSED
from hgmap.site.levels import NOT_STATED
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.quality.conditions import missing_conditions
from hgmap.site.quality.figures import counted, named
from hgmap.site.reading import Reading

LAST: Final = f"{LICENSED} The health agency says who may return."
"""The last line of every clearance."""


def highest_words(found: RoomStatistics) -> str:
    """Return the highest reading with its sign: a non-detect is below its detection limit."""
    if found.highest_saturated is not None:
        return f">{number(max(found.highest_saturated, found.maximum or 0.0))}"
    if found.maximum is not None:
        return number(found.maximum)
    return "–" if found.highest_limit is None else f"<{number(found.highest_limit)}"


def elsewhere_words(found: RoomStatistics) -> str:
    """Return the highest reading at other heights; of a saturated one, what it is above."""
    over, highest = found.saturated_elsewhere, found.highest_elsewhere
    if over is not None:
        return f">{number(max(over, highest or 0.0))}"
    return "–" if highest is None else number(highest)


def round_notes(site: Site, round_: Round, every_rule: bool) -> tuple[str, ...]:
    """Return what holds of a round at every level."""
    notes = []
    if every_rule:
        notes.append(
            "no rule was chosen, so that every rule is shown: the agency or the contract names it; "
            "--rule NAME asks for one"
        )
    check = missing_conditions(site, round_)
    if check.asked and check.guidance:
        notes.append(
            f"conditions held against the guidance {check.guidance}, which is no regulation"
        )
        notes += [text for text in check.notes if not text.startswith("guidances differ")]
        if as_occupied(round_, check):
            notes.append(
                "the ventilation ran as in the occupied building, which the guidance asks for: "
                f"{OCCUPIED_AIR_CHANGES_PER_H:g} air changes an hour are assumed for the hours "
                "since it was last aired"
            )
    notes += _days(site, round_)
    notes.append("n counts places: repeats of one place count once, at their highest")
    of_round = [one for one in site.readings if one.round == round_.name]
    if not any(one.kind == "laboratory" and one.usable for one in of_round):
        notes.append(
            "no laboratory sample confirms the direct readings of this round: ask whether the "
            "agency wants one (the rule every-reading-below-confirmed asks for one in each room)"
        )
    notes.append(
        "one round shows one day: mercury can come back after venting stops (Maine Department of "
        "Environmental Protection, 2008); ask when to read again"
    )
    return tuple(notes)


def _days(site: Site, round_: Round) -> list[str]:
    """Say where a round was read on several days, or not on its own: conditions are given once."""
    of_round = [one for one in site.readings if one.round == round_.name and one.on_map]
    days = sorted({one.time.date() for one in of_round if one.time is not None})
    if not days:
        return []
    if len(days) > 1:
        return [
            f"the round was read on {len(days)} days, {days[0]} to {days[-1]}, and its conditions "
            "are written down once: they have to hold for each of them"
        ]
    if round_.date is not None and days[0] != round_.date:
        return [f"the round is dated {round_.date} and was read on {days[0]}: one of them is wrong"]
    return []


def level_notes(level: ActionLevel, readings: Iterable[Reading]) -> tuple[str, ...]:
    """Return what holds of one level and the readings that were held against it."""
    notes, used = [], list(readings)
    if level.from_memory:
        notes.append(f"{level.name} is a value from memory: check its source")
    if level.averaging and not level.averaging.startswith(NOT_STATED):
        notes.append(
            f"{level.name} is averaged over: {level.averaging}; a direct reading is an average of "
            "seconds or minutes, and stands for those hours only while the air is steady"
        )
    unplaced = sum(one.placed == "room" for one in used)
    if unplaced:
        notes.append(
            f"{counted(unplaced, 'reading names', 'readings name')} only the room: each counts as "
            "a place of its own, which nothing shows"
        )
    samples = [one for one in used if one.kind == "laboratory"]
    blind = [
        one for one in samples
        if one.qualifier == "<" and (one.concentration or 0.0) > TOO_CLOSE * level.concentration
    ]  # fmt: skip
    if blind:
        ids = named([f"{one.id} ({describe(one)})" for one in blind], 4)
        notes.append(
            f"cannot see half of {level.name}, and so confirm nothing: {ids}; a laboratory's limit "
            "falls as the sampled volume grows"
        )
    decided = [
        f"{one.id} ({describe(one)}) by {by}"
        for one in used
        if (by := next((f.overruled for f in one.findings if f.overruled), ""))
    ]
    if decided:
        notes.append(f"counted because a person overruled the log: {named(decided, 4, '; ')}")
    return tuple(notes)
