"""Everything that the readings of a round, or of a site, show about themselves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.blanks import BlankSummary, blank_summary, compare_background
from hgmap.site.quality.completeness import Completeness, completeness
from hgmap.site.quality.conditions import ConditionsCheck, missing_conditions
from hgmap.site.quality.detection import LimitRuling, detection_limits, rule_on_limits
from hgmap.site.quality.drift import Drift, drifts
from hgmap.site.quality.figures import clock
from hgmap.site.quality.reasons import ReasonCount, reason_counts, verdict_counts
from hgmap.site.quality.replicates import ReplicateSummary, replicates
from hgmap.site.quality.temperature import TemperatureAdvice, temperature_advice
from hgmap.site.reading import Reading, ReadingKind, Verdict
from hgmap.site.units import COMPUTING_UNIT
from hgmap.site.warnings import lost_readings


@dataclass(frozen=True, slots=True)
class Measures:
    """What there is to judge by, for one round or for all.

    Attributes
    ----------
    site, rounds : str, tuple of str
        Name of the site, titles of the rounds.
    unit : str
        The computing unit, which all figures are in.
    level : ActionLevel or None
    readings : int
        Of every kind and verdict.
    kinds, verdicts : tuple of (name, count)
        Only kinds that were found; every verdict.
    on_map, on_map_held : int
        Readings of a kind that a surface is made of, and how many of those are held.
    most_on_a_floor : int
        The greatest number of usable ones that share a round, a floor and a height band; of the
        band to map, where the site names one.
    strays : int
        Readings of the site that name no round that it has.
    lost_files : tuple of str
    other_media : int
        Readings of another medium than the site's; they are compared with nothing.
    saturated : int
        Usable ones to map that are only known to be above a value.
    plan_strays : int
        Rows of the sampling plan that name a round that the site does not have.
    needs_log, has_log, log_rows, log_of_days, log_problems
        Whether readings were made by an analyser, what its log holds, and how many of its checks
        stand on the days of these readings (all of them, where a reading has no time).
    subtract : {"nothing", "background", "field blank"}
        What the site asks to be taken off its readings.
    background_against : tuple of (bool, str)
        Background held against the readings of its round.
    """

    site: str
    rounds: tuple[str, ...]
    unit: str
    level: ActionLevel | None
    readings: int
    kinds: tuple[tuple[ReadingKind, int], ...]
    verdicts: tuple[tuple[Verdict, int], ...]
    reasons: tuple[ReasonCount, ...]
    on_map: int
    on_map_held: int
    most_on_a_floor: int
    strays: int
    other_media: int
    saturated: int
    plan_strays: int
    lost_files: tuple[str, ...]
    needs_log: bool
    has_log: bool
    log_rows: int
    log_of_days: int
    log_problems: tuple[str, ...]
    completeness: tuple[Completeness, ...]
    replicates: ReplicateSummary
    blanks: tuple[BlankSummary, ...]
    backgrounds: tuple[BlankSummary, ...]
    subtract: Literal["nothing", "background", "field blank"]
    background_against: tuple[tuple[bool, str], ...]
    limits: tuple[LimitRuling, ...]
    drifts: tuple[Drift, ...]
    conditions: tuple[ConditionsCheck, ...]
    temperature: tuple[TemperatureAdvice, ...]

    @property
    def usable_on_map(self) -> int:
        """Readings that a surface can be made of."""
        return self.on_map - self.on_map_held


def measure(site: Site, level: ActionLevel | None, round_name: str | None) -> Measures:
    """Gather everything that the readings show about themselves.

    Parameters
    ----------
    site : Site
        With judged readings, or with readings that no log was held against.
    level : ActionLevel or None
        Where None, detection limits are not judged.
    round_name : str or None
        One round; None for every reading of the site, whatever its round.
    """
    rounds = [one for one in site.rounds if round_name in (None, one.name)]
    names = [one.name for one in rounds]
    readings = [one for one in site.readings if round_name in (None, one.round)]
    unit = COMPUTING_UNIT[site.medium]
    on_map = [one for one in readings if one.on_map]
    repeats = {name: replicates([one for one in readings if one.round == name], unit)
               for name in names} if len(names) > 1 else {}  # fmt: skip
    summary = replicates(readings, unit)
    fits = level is not None and level.medium == site.medium
    limits = rule_on_limits(detection_limits(on_map), level, unit) if fits and level else ()
    backgrounds = tuple(blank_summary(readings, "background", name, unit) for name in names)
    against = (compare_background(readings, one, unit) for one in backgrounds)
    known = {one.name for one in site.rounds}
    log = site.log
    of_days = _of_days(log, readings) if log is not None else None
    kinds = Counter(one.kind for one in readings)
    return Measures(
        site=site.name,
        rounds=tuple(one.title or one.name for one in rounds),
        unit=unit,
        level=level,
        readings=len(readings),
        kinds=tuple((kind, kinds[kind]) for kind in get_args(ReadingKind) if kinds[kind]),
        verdicts=tuple(verdict_counts(readings).items()),
        reasons=reason_counts(readings),
        on_map=len(on_map),
        on_map_held=sum(not one.usable for one in on_map),
        most_on_a_floor=_most_on_a_floor(site, on_map),
        strays=sum(one.round not in known for one in site.readings),
        other_media=sum(bool(one.medium) for one in readings),
        saturated=sum(one.usable and one.qualifier == ">" for one in on_map),
        plan_strays=sum(one.round not in ("", *known) for one in site.sampling_plan),
        lost_files=tuple(text for name in names for text in lost_readings(site, name)),
        needs_log=site.medium == "air" and any(one.kind != "laboratory" for one in on_map),
        has_log=log is not None,
        log_rows=len(log.checks) if log is not None else 0,
        log_of_days=len(of_days.checks) if of_days is not None else 0,
        log_problems=tuple(
            f"{one.where}: {one.message}" for one in (log.problems if log is not None else ())
        ),
        completeness=tuple(
            completeness(site, name, len(repeats.get(name, summary).groups)) for name in names
        ),
        replicates=summary,
        blanks=tuple(blank_summary(readings, "field blank", name, unit) for name in names),
        backgrounds=backgrounds,
        subtract=site.trust.subtract,
        background_against=tuple(one for one in against if one is not None),
        limits=limits,
        drifts=drifts(readings, of_days if site.medium == "air" else None, unit),
        conditions=tuple(missing_conditions(site, one) for one in rounds),
        temperature=tuple(text for name in names for text in temperature_advice(site, name)),
    )


def _of_days(log: InstrumentLog, readings: Sequence[Reading]) -> InstrumentLog:
    """Return the log with the checks of the days on which readings were taken."""
    times = [one.time for one in readings]
    if None in times:
        return log
    days = {clock(one).date() for one in times if one is not None}
    return replace(log, checks=tuple(one for one in log.checks if clock(one.start).date() in days))


def _most_on_a_floor(site: Site, on_map: list[Reading]) -> int:
    wanted = site.settings.height_band
    counts = Counter(
        (one.round, one.floor, one.band)
        for one in on_map
        if one.usable and (wanted is None or site.medium != "air" or one.band == wanted)
    )
    return max(counts.values(), default=0)
