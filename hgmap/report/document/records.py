"""Instrument quality, the limits of the survey, signatures, and the appendix with every reading."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from hgmap.decide.evidence import describe
from hgmap.errors import one_line
from hgmap.report.document.content import (
    Bullets,
    Facts,
    Figure,
    Heading,
    Paragraph,
    Part,
    Signatures,
    Table,
    TableColumn,
)
from hgmap.report.document.survey import Survey
from hgmap.report.quality_files import spans_of
from hgmap.report.timeline import KEY, draw_day, height_mm
from hgmap.report.timeline_days import days_of
from hgmap.report.words import count, day, named, reading_value
from hgmap.site.instruments.clock import is_date_only
from hgmap.site.quality.sections import sections, what_to_do
from hgmap.site.reading import Reading
from hgmap.site.units import COMPUTING_UNIT

FIGURE_MM: Final = 174.0
"""Width of a timeline: that of the text on paper."""

MOST_READINGS: Final = 3000
"""Rows of the appendix; the rest of more is in a table beside the report."""

READINGS_FILE: Final = "report-readings.csv"


def quality(survey: Survey) -> Iterator[Part]:
    """Say what the readings and the log show of the instrument, with its timelines."""
    site, report = survey.site, survey.quality
    yield Heading("Instrument and quality of the readings")
    yield Paragraph(report.fitness.sentence, "strong")
    for section in (*what_to_do(report), *sections(report)):
        yield Heading(section.title, 2)
        flagged = frozenset(i for i, line in enumerate(section.lines) if line.flagged)
        yield Bullets(tuple(line.text for line in section.lines), flagged)
    readings = [one for one in site.readings if one.round == survey.round.name]
    days, without = days_of(readings, site.log, spans_of(site, survey.level, readings))
    if not days:
        return
    yield Heading("Timeline of each analyser and day", 2)
    more = f" {count(without, 'reading')} without a time not drawn." if without else ""
    yield Paragraph(KEY + more, "soft")
    for one in days:
        high = height_mm(one, FIGURE_MM)
        yield Figure(f"checks and readings of {one.instrument} on {day(one.day)}",
                     draw_day(one, 0.0, high, FIGURE_MM), FIGURE_MM, high)  # fmt: skip


def limits(survey: Survey) -> Iterator[Part]:
    """Say what this survey cannot show."""
    yield Heading("Limits of this survey")
    yield Bullets(tuple(dict.fromkeys(_limits(survey))))


def _limits(survey: Survey) -> Iterator[str]:
    level = survey.level
    yield ("It speaks of the air of the rooms on these plans, on the days and at the heights that "
           "were read, and of nothing else.")  # fmt: skip
    yield "Between readings nothing was measured: the zones and contours there are interpretation."
    yield ("One round shows one state of the building; mercury can come back after venting stops "
           "(Maine Department of Environmental Protection, 2008).")  # fmt: skip
    yield (f"The level is averaged over: {level.averaging or 'not stated'}. A direct reading is an "
           "average of seconds or minutes.")  # fmt: skip
    if survey.band:
        yield f"The maps are those of one height ({survey.band}); other heights are in the tables."
    for one in survey.floors:
        silent = dict.fromkeys(zone.room_name for zone in one.zones.zones if zone.name == "no data")
        if silent:
            yield f"{one.floor.title}: no reading speaks for {named(list(silent), 20)}."
        unread = [row.room.name for row in one.rooms if not row.readings]
        if unread:
            yield (f"{one.floor.title}: no usable reading of the mapped height was taken in "
                   f"{named(unread, 20)}.")  # fmt: skip
    if survey.held:
        yield (f"{count(len(survey.held), 'reading')} held: what they would show is not known. "
               "Each stands in the appendix with its reason.")  # fmt: skip
    for problem in survey.failed:
        yield f"{problem.floor or problem.where}: no map ({problem.message})."
    yield from survey.notes
    for one in survey.floors:
        for text in one.warnings:
            if f"{one.floor.title}: {text}" not in survey.warnings:
                yield f"{one.floor.title}: {text}"


def signatures(survey: Survey) -> Iterator[Part]:
    """Give lines to sign on."""
    block = survey.site.title_block
    yield Heading("Signatures", room_mm=75.0)
    yield Paragraph(
        "Whoever signs has read the readings, the quality record, the maps and their limits."
    )
    yield Signatures(
        (
            ("Prepared by", block.prepared_by),
            ("Reviewed by", block.reviewed_by),
            ("Received for the client", block.client),
        )
    )


def appendix(survey: Survey) -> Iterator[Part]:
    """Print every reading of the round, the instrument log, decisions of people, and the inputs."""
    site = survey.site
    readings = readings_of(survey)
    yield Heading("Appendix A: every reading of this round")
    others = [one.title or one.name for one in site.rounds if one.name != survey.round.name]
    if others:
        yield Paragraph(
            f"Readings of {named(others)} are in the report of their own round.", "soft"
        )
    if len(readings) > MOST_READINGS:
        yield Paragraph(
            f"The first {MOST_READINGS} of {len(readings)} readings; all of them stand in "
            f"{READINGS_FILE} beside this report.", "strong",
        )  # fmt: skip
    columns = (
        TableColumn("id", 1.2, name=True), TableColumn("floor", 1.2, name=True),
        TableColumn("room", 1.0, name=True), TableColumn("x (m)", 0.9, True),
        TableColumn("y (m)", 0.9, True), TableColumn("height (m)", 0.9, True),
        TableColumn("time", 1.0), TableColumn("kind", 1.3), TableColumn("as written", 2.0),
        TableColumn(f"value ({survey.level.unit})", 1.2, True), TableColumn("verdict and why", 4.6),
    )  # fmt: skip
    days = {one.time.date() for one in readings if one.time is not None}
    on = f", all on {day(next(iter(days)))}" if len(days) == 1 else ""
    rows = tuple(_reading(one, survey, bool(on)) for one in readings[:MOST_READINGS])
    yield Table(f"Readings: {survey.round.title or survey.round.name}{on}", columns, rows)
    yield from _log(survey)
    letters = iter("CD")
    if site.overrules:
        yield Heading(f"Appendix {next(letters)}: what a person decided against the log")
        yield Table("Overrules", (
            TableColumn("reading", 1.4, name=True),
            TableColumn("round", 1.2, name=True), TableColumn("verdict", 0.8),
            TableColumn("initials", 0.8), TableColumn("date", 1.0), TableColumn("reason", 4.0),
        ), tuple(
            (one.reading, one.round or "any", one.verdict, one.initials,
             "–" if one.date is None else one.date.isoformat(), one.reason)
            for one in site.overrules
        ))  # fmt: skip
    yield Heading(f"Appendix {next(letters)}: what was found in the files")
    found = dict.fromkeys(
        f"{one.severity}: {one_line(one.message, where=one.where, todo=one.todo)}"
        for one in site.problems if one.severity != "held"
    )  # fmt: skip
    held = sum(one.severity == "held" for one in site.problems)
    none = "nothing wrong was found in the files" + (
        f", but for {count(held, 'reading')} held; those of this round stand in Appendix A with "
        "the reason" if held else ""
    )  # fmt: skip
    yield Bullets(tuple(found) or (none,))
    yield Heading("Inputs", 2)
    yield Facts(tuple((name, f"SHA-256 {digest}") for name, digest in sorted(site.digests.items())))


def readings_of(survey: Survey) -> list[Reading]:
    """Return the readings of the round, and those whose round nobody knows."""
    others = {one.name for one in survey.site.rounds} - {survey.round.name}
    return [one for one in survey.site.readings if one.round not in others]


def _reading(one: Reading, survey: Survey, one_day: bool) -> tuple[str, ...]:
    known = one.placed != "room" and one.x is not None and one.y is not None
    place = (f"{one.x:.2f}", f"{one.y:.2f}") if known else ("–", "–")
    why = "; ".join((*one.held, *one.cautions))
    note = f"; note: {one.note}" if one.note else ""
    other = {"", survey.site.medium}
    return (
        one.id,
        one.floor,
        one.room,
        *place,
        "–" if one.height_m is None else f"{one.height_m:g}",
        "–" if one.time is None else _moment(one.time, one_day),
        one.kind,
        describe(one),
        "–" if one.medium not in other else reading_value(one, survey.level),
        f"{one.verdict}{': ' if why else ''}{why}{note}",
    )


def _moment(when: datetime, one_day: bool = False) -> str:
    """Write a time; the day is left out where one for all stands above."""
    if is_date_only(when):
        return "–" if one_day else when.date().isoformat()
    return f"{when:%H:%M}" if one_day else f"{when:%Y-%m-%d %H:%M}"


def _log(survey: Survey) -> Iterator[Part]:
    log = survey.site.log
    yield Heading("Appendix B: the instrument log")
    if log is None:
        yield Paragraph("There is no instrument log: nothing vouches for the analyser.", "strong")
        return
    unit = COMPUTING_UNIT["air"]
    columns = (
        TableColumn("instrument", 1.5, name=True), TableColumn("check", 1.4),
        TableColumn("start", 1.7), TableColumn("end", 1.7),
        TableColumn(f"values ({unit}; battery as written)", 2.6),
        TableColumn(f"reference ({unit})", 1.2, True), TableColumn("result", 0.9),
        TableColumn("note", 2.0), TableColumn("row", 1.8),
    )  # fmt: skip
    words = {None: "–", True: "pass", False: "fail"}
    rows = tuple(
        (
            one.instrument, one.kind, _moment(one.start),
            "–" if one.end == one.start else _moment(one.end),
            "  ".join(f"{value:g}" for value in one.values) or "–",
            "–" if one.reference is None else f"{one.reference:g}", words[one.passed],
            one.note or "–", one.where,
        )
        for one in log.checks[:MOST_READINGS]
    )  # fmt: skip
    yield Table("Checks, in the order of their start", columns, rows)
    if len(log.checks) > MOST_READINGS:
        yield Paragraph(f"{len(log.checks) - MOST_READINGS} more checks are in the log.", "strong")
    if log.problems:
        yield Bullets(
            tuple(one_line(one.message, where=one.where, todo=one.todo) for one in log.problems)
        )
