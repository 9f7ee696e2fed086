"""What a reader of a clearance has to know beside its outcomes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from hgmap.decide.clearance.withheld import OCCUPIED_AIR_CHANGES_PER_H, as_occupied
from hgmap.decide.evidence import describe
from hgmap.site.cautions import LICENSED
from hgmap.site.levels import NOT_STATED
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.quality.conditions import missing_conditions
from hgmap.site.quality.figures import counted, named
from hgmap.site.reading import Reading

LAST: Final = f"{LICENSED} The health agency says who may return."
"""The last line of every clearance."""


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
    notes.append("n counts places: repeats of one place count once, at their highest")
    of_round = [one for one in site.readings if one.round == round_.name]
    if not any(one.kind == "laboratory" and one.usable for one in of_round):
        notes.append(
            "no laboratory sample confirms the direct readings of this round: ask whether the "
            "agency wants one"
        )
    notes.append(
        "one round shows one day: mercury can come back after venting stops (Maine Department of "
        "Environmental Protection, 2008); ask when to read again"
    )
    return tuple(notes)


def level_notes(level: ActionLevel, readings: Iterable[Reading]) -> tuple[str, ...]:
    """Return what holds of one level and the readings that were held against it."""
    notes, used = [], list(readings)
    if level.from_memory:
        notes.append(f"{level.name} is a value from memory: check its source")
    if level.averaging and not level.averaging.startswith(NOT_STATED):
        notes.append(f"{level.name} is averaged over: {level.averaging}")
    unplaced = sum(one.placed == "room" for one in used)
    if unplaced:
        notes.append(
            f"{counted(unplaced, 'reading names', 'readings name')} only the room: each counts as "
            "a place of its own, which nothing shows"
        )
    decided = [
        f"{one.id} ({describe(one)}) by {by}"
        for one in used
        if (by := next((f.overruled for f in one.findings if f.overruled), ""))
    ]
    if decided:
        notes.append(f"counted because a person overruled the log: {named(decided, 4, '; ')}")
    return tuple(notes)
