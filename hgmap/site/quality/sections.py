"""The quality record in words: the same lines are printed on the terminal and set on the page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hgmap.site.quality.completeness import PLAN
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.quality.measures import Measures
from hgmap.site.quality.quality import QualityReport

MOST_AGREEING = 12
"""Replicates that differ by no more than custom allows, listed one by one; those that do differ
are all listed."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line; ``flagged`` marks what a person should act on."""

    text: str
    flagged: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its lines."""

    title: str
    lines: tuple[Line, ...]


def sections(report: QualityReport) -> tuple[Section, ...]:
    """Put a quality record into words, without its verdict; an empty section is left out."""
    found = report.measures
    parts = (
        ("Readings", _readings(found)),
        ("Completeness", _completeness(found)),
        ("Replicates", _replicates(found)),
        ("Blanks and background", _blanks(found)),
        ("Detection limits", _limits(found)),
        ("Drift at a fixed point", _drift(found)),
        ("Instrument log", _log(found)),
        ("Clearance conditions", _conditions(found)),
        ("Temperature", (Line(one.text, one.cold) for one in found.temperature)),
    )
    made = (Section(title, tuple(lines)) for title, lines in parts)
    return tuple(one for one in made if one.lines)


def what_to_do(report: QualityReport) -> tuple[Section, ...]:
    """Put the reasons of the verdict and what to do about them into words."""
    fit = report.fitness
    if not fit.reasons:
        return ()
    return (
        Section("Why", tuple(Line(text) for text in fit.reasons)),
        Section("What to do", tuple(Line(text) for text in fit.todo)),
    )


def _readings(found: Measures) -> Iterator[Line]:
    counts = ", ".join(f"{n} {name}" for name, n in found.verdicts)
    yield Line(f"{counted(found.readings, 'reading')}: {counts}")
    if len(found.kinds) > 1:
        yield Line("of kind " + ", ".join(f"{name} {n}" for name, n in found.kinds))
    if found.other_media:
        yield Line(
            f"{counted(found.other_media, 'reading')} of another medium: reported, never mapped, "
            "and held against nothing here"
        )
    words = {"hold": "held", "caution": "caution", "overruled": "overruled by a person"}
    for one in found.reasons:
        yield Line(
            f"{words[one.severity]}: {one.count} × {one.text} ({named(one.readings)})",
            one.severity == "hold",
        )


def _completeness(found: Measures) -> Iterator[Line]:
    for title, one in zip(found.rounds, found.completeness, strict=True):
        lead = f"{title}: " if len(found.rounds) > 1 else ""
        if not one.planned:
            continue
        text = (
            f"{one.summary}; {one.taken} taken"
            if one.basis == PLAN
            else (f"{one.summary} ({one.basis})")
        )
        yield Line(lead + text, not one.complete)
        short = [line for line in one.lines if line.usable < line.planned]
        if len(one.lines) > 1:
            for line in short:
                yield Line(f"{line.text}: {line.taken} taken, {line.usable} usable", True)
        if one.rooms_without:
            rooms = counted(len(one.rooms_without), "room")
            yield Line(
                f"{rooms} without a usable reading: {named(one.rooms_without, 40, '; ')}", True
            )


def _replicates(found: Measures) -> Iterator[Line]:
    pairs = found.replicates
    wanted = sum(one.replicates_wanted for one in found.completeness)
    taken = sum(one.compared for one in pairs.groups)
    if found.on_map:
        yield Line(
            f"{counted(taken, 'replicate')} taken; one reading in ten would be "
            f"{wanted} (common practice, no source)",
            not taken,
        )
    if pairs.absolute is not None:
        relative = f", {figure(100.0 * pairs.relative.sd)} % of the mean" if pairs.relative else ""
        log = f", {figure(pairs.log.sd)} on the log scale" if pairs.log else ""
        yield Line(
            f"pooled standard deviation {figure(pairs.absolute.sd)} {found.unit}{relative}{log} "
            f"({counted(pairs.absolute.degrees_of_freedom, 'degree', 'degrees')} of freedom)"
        )
    for one in pairs.flagged:
        yield Line(one.text, True)
    agreeing = [one for one in pairs.groups if not one.flagged]
    for one in agreeing[:MOST_AGREEING]:
        yield Line(one.text)
    if len(agreeing) > MOST_AGREEING:
        yield Line(f"{len(agreeing) - MOST_AGREEING} more within what custom allows")
    for lonely in pairs.lonely:
        yield Line(f"{lonely.reading} {lonely.why}", True)


def _blanks(found: Measures) -> Iterator[Line]:
    for title, *both in zip(found.rounds, found.blanks, found.backgrounds, strict=True):
        lead = f"{title}: " if len(found.rounds) > 1 else ""
        for one in both:
            for text in one.texts:
                yield Line(lead + text, bool(one.above) and text.startswith(named(one.above)))
            if one.kind == found.subtract and one.mean is not None:
                yield Line(
                    f"{lead}taken off plain numbers, with its error; a non-detect, a saturated "
                    "reading and a range stay as they are"
                    if one.mean
                    else f"{lead}nothing to take off: no {one.kind} was detected"
                )
    for high, text in found.background_against:
        yield Line(text, high)


def _limits(found: Measures) -> Iterator[Line]:
    for one in found.limits:
        yield Line(one.text, one.ruling != "low enough")
    if not found.limits and found.on_map and found.level is not None:
        yield Line("no usable non-detect: the readings show no detection limit to judge")
    if found.level is None:
        yield Line("no action level is in force: detection limits are not judged", True)


def _drift(found: Measures) -> Iterator[Line]:
    for one in found.drifts:
        yield Line(one.text, one.flagged)
    if found.needs_log and not found.drifts:
        yield Line(
            "no control point in the log twice over an hour or more of a day, and no place read "
            "three times: drift over the day shows only in zero-air and span checks"
        )


def _log(found: Measures) -> Iterator[Line]:
    if found.needs_log and not found.has_log:
        yield Line("none: nothing vouches for the analyser", True)
    if found.has_log:
        days = "on the days of these readings"
        yield Line(
            f"{counted(found.log_rows, 'check')}, {found.log_of_days or 'none'} {days}",
            found.needs_log and not found.log_of_days,
        )
    for text in found.log_problems:
        yield Line(text, True)


def _conditions(found: Measures) -> Iterator[Line]:
    for title, one in zip(found.rounds, found.conditions, strict=True):
        lead = f"{title}: " if len(found.rounds) > 1 else ""
        if not one.asked:
            if found.needs_log:
                yield Line(f'{lead}nothing is asked: purpose = "clearance" is not stated')
            continue
        if one.guidance:
            yield Line(f"{lead}held against the guidance {one.guidance}")
        if one.problem:
            yield Line(lead + one.problem, True)
        for two in one.findings:
            yield Line(f"{lead}{two.status}: {two.text} [{two.source}]", two.status != "met")
        for text in one.notes:
            yield Line(f"note: {text}")
