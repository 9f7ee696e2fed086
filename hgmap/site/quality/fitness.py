"""Can the readings be mapped? A verdict, every reason for it, and what to do.

The rules below are ours (common practice, no source); each stands in one line of the code.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.completeness import PLAN, Completeness
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.quality.measures import Measures, measure

FitnessVerdict = Literal["fit to map", "fit with cautions", "not fit"]

FEWEST_ON_A_FLOOR: Final = 3
MOST_HELD: Final = 0.5
MOST_SAID: Final = 2


@dataclass(frozen=True, slots=True)
class Fitness:
    """Whether the readings can be mapped.

    Attributes
    ----------
    verdict : {"fit to map", "fit with cautions", "not fit"}
    reasons : tuple of str
        Everything that stands against them, the worst first.
    todo : tuple of str
        What to do about it, in the order of the reasons; the same thing is said once.
    usable : int
        Readings that a map can be made of.
    against : tuple of str
        Those of the reasons that make the readings not fit.
    """

    verdict: FitnessVerdict
    reasons: tuple[str, ...]
    todo: tuple[str, ...]
    usable: int = 0
    against: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """The verdict in one plain sentence, with the first reasons and what to do first."""
        if not self.reasons:
            return (
                f"Fit to map: {counted(self.usable, 'usable reading')}, and nothing was found "
                "that stands against them."
            )
        more = len(self.reasons) - MOST_SAID
        why = "; ".join(self.reasons[:MOST_SAID])
        if more > 0:
            why += f"; and {counted(more, 'more reason')}"
        head = f"{self.verdict.capitalize()}: {why}."
        # which ones stands in the list of what to do
        return f"{head} First: {self.todo[0].split(': ')[0]}." if self.todo else head


def fitness(site: Site, level: ActionLevel | None, round_name: str | None) -> Fitness:
    """Judge whether the readings of a round can be mapped.

    Parameters
    ----------
    site : Site
    level : ActionLevel or None
    round_name : str or None
        None for all readings of the site.
    """
    return judge(measure(site, level, round_name))


def judge(found: Measures) -> Fitness:
    """Return the verdict on what was measured."""
    against = list(_not_fit(found))
    cautions = [*_cautions_of_conditions(found), *_cautions_of_instruments(found),
                *_cautions_of_readings(found), *_small_cautions(found)]  # fmt: skip
    verdict: FitnessVerdict = (
        "not fit" if against else "fit with cautions" if cautions else "fit to map"
    )
    every = [*against, *cautions]
    return Fitness(
        verdict,
        tuple(reason for reason, _ in every),
        tuple(dict.fromkeys(todo for _, todo in every)),
        found.usable_on_map,
        tuple(reason for reason, _ in against),
    )


def _not_fit(found: Measures) -> Iterator[tuple[str, str]]:
    for text in found.lost_files:
        yield text, "mend or replace the readings file, and check again"
    if not found.on_map:
        yield "no reading that a map can be made of", "add the readings of the round"
        return
    if not found.usable_on_map:
        yield (
            f"all {counted(found.on_map, 'reading')} held",
            "mend what holds the readings, or measure again",
        )
        return
    if found.needs_log and not found.has_log and any(one.asked for one in found.conditions):
        yield (
            "a clearance round without an instrument log: nothing vouches for the analyser",
            "write the checks of the analyser into instruments/log.csv",
        )
    if found.on_map_held > MOST_HELD * found.on_map:
        yield (
            f"{found.on_map_held} of {found.on_map} readings are held, more than half",
            "mend what holds the readings, or measure again",
        )
    if found.most_on_a_floor < FEWEST_ON_A_FLOOR:
        yield (
            f"no floor has {FEWEST_ON_A_FLOOR} usable readings at one height",
            f"take {FEWEST_ON_A_FLOOR} readings or more on a floor, at one height",
        )
    blind = sum(len(one.limit.readings) for one in found.limits if one.ruling == "above the level")
    if blind and blind >= found.usable_on_map:
        yield (
            "every usable reading is a non-detect whose detection limit is above the level",
            "measure again with a method that reaches lower",
        )


def _cautions_of_readings(found: Measures) -> Iterator[tuple[str, str]]:
    verdicts = dict(found.verdicts)
    if verdicts["held"] and not (found.on_map_held == verdicts["held"] > MOST_HELD * found.on_map):
        yield (
            f"{counted(verdicts['held'], 'reading')} held",
            "read why each is held; mend it or measure again",
        )
    if found.strays:
        yield (
            f"{counted(found.strays, 'reading')} in no known round",
            "give each reading a round that site.toml has",
        )
    if found.saturated:
        yield (
            f"{counted(found.saturated, 'reading')} saturated: the air held more than "
            f"{'it says' if found.saturated == 1 else 'they say'}",
            "measure saturated places again with a range that reaches higher",
        )
    if found.plan_strays:
        yield (
            f"{counted(found.plan_strays, 'row')} of the sampling plan in no known round",
            "give each row of the sampling plan a round that site.toml has",
        )
    for one in found.completeness:
        yield from _incomplete(one)
    pairs = found.replicates
    if pairs.flagged:
        yield (
            f"{len(pairs.flagged)} of {counted(len(pairs.groups), 'replicate')} "
            f"{'differs' if len(pairs.flagged) == 1 else 'differ'} by more than custom allows",
            "measure again where replicates differ, and look for the reason",
        )
    if pairs.lonely:
        yield (
            f"{counted(len(pairs.lonely), 'duplicate')} without the reading it repeats",
            "write the id of the original in duplicate_of",
        )
    if found.usable_on_map and not any(one.compared for one in pairs.groups):
        yield (
            "no reading was taken twice within two hours: nothing shows how well readings repeat",
            "take one reading in ten again at the same place",
        )


def _incomplete(one: Completeness) -> Iterator[tuple[str, str]]:
    if not one.complete:
        short = [line.text for line in one.lines if line.usable < line.planned]
        missing = short if one.basis == PLAN else one.rooms_without
        yield one.summary, f"take the readings that are missing: {named(missing, 4, '; ')}"
    elif one.rooms_without:
        without = counted(len(one.rooms_without), "room")
        yield (
            f"{without} without a usable breathing-zone reading",
            f"take a reading there, or read nothing into the map there: "
            f"{named(one.rooms_without, 4, '; ')}",
        )


def _cautions_of_instruments(found: Measures) -> Iterator[tuple[str, str]]:
    if found.needs_log and not found.has_log:
        yield (
            "no instrument log: nothing vouches for the analyser",
            "write the checks of the analyser into instruments/log.csv",
        )
    if found.needs_log and found.has_log and not found.log_rows:
        yield (
            "the instrument log holds no check: nothing vouches for the analyser",
            "write the checks of the analyser into instruments/log.csv",
        )
    if found.log_problems:
        yield (
            f"{counted(len(found.log_problems), 'row')} of the instrument log cannot be read",
            "mend those rows",
        )
    blanks = (*found.blanks, *found.backgrounds)
    above = [name for one in blanks if one.limit is not None for name in one.above]
    unknown = [name for one in blanks if one.limit is None for name in one.above]
    if above:
        yield (
            f"{counted(len(above), 'blank or background reading', 'blanks or background readings')}"
            f" above the detection limit ({named(above, 4)})",
            "find out where that mercury comes from; sample again where blanks hold any",
        )
    if unknown:
        yield (
            f"{counted(len(unknown), 'field blank')} not empty, and no detection limit is known",
            "ask the laboratory for its detection limit, and where that mercury comes from",
        )
    if any(high for high, _ in found.background_against):
        yield (
            "the background is not below the indoor readings",
            "read the background again, far from the source",
        )
    for ruling in ("above the level", "above half the level"):
        n = sum(len(one.limit.readings) for one in found.limits if one.ruling == ruling)
        if n:
            never = " and can never support a release" if ruling == "above the level" else ""
            verb = "has" if n == 1 else "have"
            yield (
                f"{counted(n, 'non-detect')} {verb} a detection limit {ruling}{never}",
                "measure those places again with a lower detection limit",
            )
    drifting = sum(one.flagged for one in found.drifts)
    if drifting:
        yield (
            f"{counted(drifting, 'fixed point')} changed over a day by more than custom allows",
            "check the analyser on zero air and span, and measure again what was read late",
        )
    if found.level is None:
        yield (
            "no action level is in force: detection limits are not judged",
            "choose the level in site.toml",
        )


def _cautions_of_conditions(found: Measures) -> Iterator[tuple[str, str]]:
    for one in found.conditions:
        if one.problem:
            yield (
                "a clearance round without a guidance to hold its conditions against",
                "choose a guidance in [clearance] guidance of site.toml",
            )
        unmet, missing = one.named("unmet"), one.named("missing")
        if unmet:
            yield (
                f"conditions of {one.guidance} not met: {named(unmet)}",
                "read the round again under the conditions that the guidance asks for",
            )
        if missing:
            yield (
                f"conditions of {one.guidance} not written down: {named(missing)}",
                "write the conditions into [rounds.conditions] of site.toml",
            )


def _small_cautions(found: Measures) -> Iterator[tuple[str, str]]:
    n = dict(found.verdicts)["usable with a caution"]
    if n:
        yield (
            f"{counted(n, 'reading')} usable with a caution",
            "read each caution before relying on the map",
        )
    cold = [one for one in found.temperature if one.cold]
    if cold:
        yield (
            f"read at {figure(cold[0].from_c)} °C, colder than the occupied building: the warm "
            f"building may hold {figure(cold[0].ratio)} times as much",
            "read again with the building at its occupied temperature",
        )
