"""What takes a ``meets`` back, outside the numbers: conditions, checks, heights, files."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from hgmap.decide.clearance.gather import RoomReadings, once
from hgmap.decide.clearance.outcome import HoldBack
from hgmap.decide.evidence import describe
from hgmap.site.level_table import same_analyte
from hgmap.site.levels import levels
from hgmap.site.model import ActionLevel, Round, Site, Use
from hgmap.site.quality.conditions import ConditionsCheck, missing_conditions
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.quality.guidance import guidances
from hgmap.site.quality.quality import QualityReport
from hgmap.site.quality.temperature import LEAST_STEP_C
from hgmap.site.reading import Reading

AIR_CHANGES_PER_H: Final = 0.2
"""Of a closed house: an assumption, common in practice, no source."""
OCCUPIED_AIR_CHANGES_PER_H: Final = 0.5
"""Of a building with the ventilation of its use: at least this (ours, no source)."""
REBUILT: Final = 0.95
"""Share of the rebuilt level that a reading has to show (ours, no source): three time constants."""
MOST_IDS: Final = 4

NO_RETURN: Final = frozenset({"isolation", "emergency", "belongings"})
"""Kinds of level that are for leaving a building, or for things."""

VOUCH: Final[dict[str, str]] = {
    "closing-check": "a closing check of the analyser; where none was made, the round read again",
    "no-log": "the instrument log, instruments/log.csv",
    "no-check": "the checks of the analyser on the day of the readings",
    "not-in-log": "the checks of that analyser in the instrument log",
    "which-instrument": "the name of the analyser beside each reading",
    "unknown-principle": "the principle of the analyser in the instrument log",
    "log-doubt": "the rows of the instrument log that cannot be read",
    "bracket": "checks of the analyser before and after the readings",
    "no-span-check": "a span check on the day of the readings",
    "certificate": "a calibration certificate that was valid on the day",
}
"""What has to be there before an instrument vouches for a release, by the rule that misses it."""


def share_rebuilt(hours: float, air_changes_per_h: float = AIR_CHANGES_PER_H) -> float:
    """Return the share of the rebuilt level that a room shows so long after it was vented.

    Well-mixed room, from nothing: ``C(t) / C(end) = 1 - exp(-lambda t)``.

    Examples
    --------
    >>> round(share_rebuilt(1.0), 2), round(share_rebuilt(15.0), 2)
    (0.18, 0.95)
    """
    return -math.expm1(-air_changes_per_h * max(hours, 0.0))


def hours_needed(share: float = REBUILT, air_changes_per_h: float = AIR_CHANGES_PER_H) -> float:
    """Return the hours closed after which a well-mixed room shows a share of its rebuilt level.

    Examples
    --------
    >>> round(hours_needed(), 1)
    15.0
    """
    return -math.log1p(-share) / air_changes_per_h


def of_round(site: Site, round_: Round, quality: QualityReport) -> list[HoldBack]:
    """Return what holds for every room of a round."""
    found = []
    if round_.purpose != "clearance":
        found.append(HoldBack(
            f"{round_.title or round_.name} is a survey round: nobody says that it was read for "
            "clearance",
            'a round with purpose = "clearance" and its [rounds.conditions] in site.toml',
        ))  # fmt: skip
    check = missing_conditions(site, round_)
    found += _conditions(check)
    found += _vented(round_, check)
    for one in quality.measures.temperature:
        if one.cold:
            found.append(HoldBack(
                f"read at {figure(one.from_c)} °C, colder than the occupied building "
                f"({figure(one.to_c)} °C)",
                "the round read again with the building at its occupied temperature or warmer",
            ))  # fmt: skip
    fit, lost = quality.fitness, quality.measures.lost_files
    for text in lost:
        found.append(HoldBack(text.split(": nothing is clear")[0],
                              "the readings file that could not be read"))  # fmt: skip
    if fit.verdict == "not fit":
        why = [one for one in fit.against if one not in lost]
        if why:
            text = f"the readings are not fit to map: {'; '.join(why)}"
            todo = "readings that are fit to map: `hgmap check` says how"
            found.append(HoldBack(text, todo))
    return found


def _conditions(check: ConditionsCheck) -> Iterator[HoldBack]:
    if check.problem:
        yield HoldBack(
            check.problem.split(":")[0].split(";")[0].removeprefix("a clearance round, and "),
            "a guidance in [clearance] guidance of site.toml, and the conditions that it asks for",
        )
    for one in check.findings:
        asks = one.text.split(";")[0]
        if one.status == "unmet":
            yield HoldBack(f"condition of {check.guidance} not met: {one.text}",
                           f"the round read again under the condition: {asks}")  # fmt: skip
        elif one.status == "missing":
            yield HoldBack(
                f"condition of {check.guidance} not known: {one.text}",
                f"the condition written down, and met: {asks}",
            )


def _vented(round_: Round, check: ConditionsCheck) -> Iterator[HoldBack]:
    """Hold back a room that was aired and then read: it shows the outside air, not its own.

    Where the guidance asks for the ventilation of the occupied building and the round had it, the
    air comes back sooner (``OCCUPIED_AIR_CHANGES_PER_H``). Open windows and ventilation that was
    raised count against a round whatever its guidance asks.
    """
    at = round_.conditions
    if at.windows == "open":
        yield HoldBack("the windows were open: the outside air was read too",
                       "the round read again with the windows closed")  # fmt: skip
    if at.ventilation == "raised":
        yield HoldBack("the ventilation was raised above that of the occupied building",
                       "the round read again without raised ventilation")  # fmt: skip
    if round_.purpose != "clearance":
        return
    occupied = as_occupied(round_, check)
    changes = OCCUPIED_AIR_CHANGES_PER_H if occupied else AIR_CHANGES_PER_H
    hours = math.ceil(10.0 * hours_needed(REBUILT, changes)) / 10.0
    needed = f"{figure(hours)} h closed before the first reading"
    assumed = f"well-mixed room, {changes:g} air changes an hour assumed"
    if occupied:
        assumed += " for the ventilation of the occupied building"
    if at.hours_closed is None:
        yield HoldBack(
            "nobody wrote down how long the building had been closed: a room that was vented and "
            "then read reads low",
            f"{needed}, written down ({assumed})",
        )
    elif share_rebuilt(at.hours_closed, changes) < REBUILT - 1e-3:
        yield HoldBack(
            f"closed for {figure(at.hours_closed)} h: the air shows about "
            f"{100.0 * share_rebuilt(at.hours_closed, changes):.0f} % of the level that it comes "
            f"back to ({assumed})",
            f"{needed}, for {100.0 * REBUILT:.0f} %",
        )


def as_occupied(round_: Round, check: ConditionsCheck) -> bool:
    """Tell whether a round had the ventilation of the occupied building, as its guidance asks."""
    return round_.conditions.ventilation == "as occupied" and any(
        condition.key == "ventilation" and condition.is_ == "as occupied"
        for guidance in guidances()
        if guidance.name == check.guidance
        for condition in guidance.condition
    )


def of_level(level: ActionLevel, use: Use | None = None) -> list[HoldBack]:
    """Return what stands against a level: one for leaving, or for another kind of building.

    One that was written for another use still counts where it is no higher than the highest
    published occupancy level for this one.
    """
    missing = "an occupancy level for this building: `hgmap levels` lists them"
    if level.kind in NO_RETURN:
        text = f"{level.name} is a level of the kind {level.kind}, not one for coming back"
        return [HoldBack(text, missing)]
    if use is None or level.kind == "stated" or use in level.uses:
        return []
    if level.kind == "occupational":
        text = f"{level.name} is a limit for work with mercury; it clears no {use} building"
        return [HoldBack(text, missing)]
    published = [
        one.concentration
        for one in levels()
        if one.kind == "occupancy"
        and use in one.uses
        and one.medium == level.medium
        and same_analyte(one.analyte, level.analyte)
    ]
    if not published or level.concentration <= max(published) * (1.0 + 1e-9):
        return []
    text = (
        f"{level.name} was written for: {', '.join(level.uses)}; it is above every published "
        f"occupancy level for the use of this building, {use}"
    )
    return [HoldBack(text, missing)]


def of_room(room: RoomReadings, occupied_c: float | None) -> list[HoldBack]:
    """Return what stands against one room, whatever the height.

    Parameters
    ----------
    occupied_c : float or None
        Temperature (°C) of the occupied building.
    """
    found = list(_held(room.held))
    cold = min((one.temperature_c for one in room.counted if one.temperature_c is not None),
               default=None)  # fmt: skip
    if cold is not None and occupied_c is not None and cold < occupied_c - LEAST_STEP_C:
        found.append(HoldBack(
            f"read at {figure(cold)} °C, colder than when occupied ({figure(occupied_c)} °C)",
            "the cold places read again at the occupied temperature or warmer",
        ))  # fmt: skip
    for text, missing in _not_vouched(room.counted):
        found.append(HoldBack(text, missing))
    if room.bags:
        ids = ", ".join(f"{one.id} {describe(one)}" for one in room.bags[:MOST_IDS])
        found.append(HoldBack(f"the headspace of a bag is above the level: {ids}",
                              "the item taken away, and the room read again"))  # fmt: skip
    saturated = [one.id for one in room.beside if one.qualifier == ">"]
    if saturated:
        found.append(HoldBack(
            f"saturated at another height: {named(saturated, MOST_IDS)}",
            "the saturated places read again with a higher range",
        ))  # fmt: skip
    if not room.counted and room.beside:
        found.append(HoldBack(
            f"only {counted(len(room.beside), 'reading')} at other heights, none in the breathing "
            "zone",
            "readings in the breathing zone",
        ))  # fmt: skip
    return found


def _held(held: Sequence[Reading]) -> Iterator[HoldBack]:
    why: dict[str, list[Reading]] = {}
    for one in held:
        why.setdefault(one.held[0] if one.held else "no concentration", []).append(one)
    for text, some in why.items():
        ids = named([f"{one.id} ({describe(one)})" for one in some], MOST_IDS)
        rules = {finding.rule for one in some for finding in one.findings}
        vouch = [VOUCH[rule] for rule in VOUCH if rule in rules]
        yield HoldBack(
            f"{counted(len(some), 'held reading')}, {ids}: {text}",
            vouch[0]
            if vouch
            else f"what holds {named([one.id for one in some], MOST_IDS)} mended, or read again",
        )


def held_for_a_check(room: RoomReadings, band: str) -> int:
    """Count the places at a height whose readings count once an instrument vouches for them.

    Nothing but what ``VOUCH`` lists holds them, and they show a number; a place that is read by a
    usable reading too is not counted again.
    """
    waiting = [
        one
        for one in room.held
        if one.band == band
        and one.kind != "source search"
        and one.room == room.room.id
        and one.concentration is not None
        and one.qualifier != ">"
        and _only_not_vouched(one)
    ]
    return len(once([*room.by_band[band], *waiting])) - len(room.by_band[band]) if waiting else 0


def _only_not_vouched(reading: Reading) -> bool:
    holds = [one for one in reading.findings if one.severity == "hold"]
    return {one.text for one in holds if one.rule in VOUCH} >= set(reading.held)


def vouched_first(missing: Iterable[str]) -> tuple[str, ...]:
    """Put what makes an instrument vouch before all else: it may bring held readings back.

    Examples
    --------
    >>> vouched_first(["2 more usable readings", VOUCH["no-log"]])
    ('the instrument log, instruments/log.csv', '2 more usable readings')
    """
    return tuple(sorted(missing, key=lambda text: not vouches(text)))


def vouches(text: str) -> bool:
    """Tell whether what is missing would make an instrument vouch for its readings."""
    return text in VOUCH.values()


def _not_vouched(readings: Sequence[Reading]) -> Iterator[tuple[str, str]]:
    """Yield what the log leaves out of readings that are used with a caution.

    A person may lift what holds a reading, never what the log does not show of its instrument.
    """
    rules: Counter[str] = Counter()
    messages: dict[str, str] = {}
    for one in readings:
        for finding in one.findings:
            if finding.rule in VOUCH and finding.severity == "caution":
                rules[finding.rule] += 1
                messages.setdefault(finding.rule, finding.message)
    for rule, number in rules.items():
        yield f"{counted(number, 'reading')}: {messages[rule]}", VOUCH[rule]
