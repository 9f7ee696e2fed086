"""The sections that say what was found: in plain words first, then floor by floor, room by room."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from hgmap.decide.model import ZONE_NAMES
from hgmap.decide.rooms import RoomRow
from hgmap.decide.stop import stop_sentence
from hgmap.report.clearance_notes import LAST
from hgmap.report.clearance_words import OUTCOMES, level_named, rooms_called, what_is_missing
from hgmap.report.document.changed import change_summary_lines
from hgmap.report.document.cleared import not_ruled_on
from hgmap.report.document.content import (
    Bullets,
    Facts,
    Heading,
    Paragraph,
    Part,
    Table,
    TableColumn,
)
from hgmap.report.document.highest import highest_line
from hgmap.report.document.survey import Survey, SurveyFloor
from hgmap.report.title_block import FROM_MEMORY
from hgmap.report.words import (
    answer,
    band_line,
    chance,
    count,
    level_line,
    level_value,
    metres,
    named,
    number,
    published_per_computed,
    reading_value,
    round_line,
    square_metres,
)
from hgmap.site.cautions import screening

MOST_NAMED: Final = 8
"""Rooms named in a sentence of the summary; the tables have every one."""


def whose(survey: Survey) -> Facts:
    """Say whose survey this is, as the title block has it."""
    site, block = survey.site, survey.site.title_block
    return Facts(
        (
            ("client", block.client or "not stated"),
            ("address", block.address or "not stated"),
            ("project", block.project or "not stated"),
            ("use of the building", site.use or "not stated"),
            ("measured", site.analyte),
            ("instrument", block.instrument or "not stated"),
            ("round", f"{round_line(survey.round)}; purpose: {survey.round.purpose}"),
            ("revision", block.revision or "not stated"),
            ("prepared by", block.prepared_by or "not stated"),
            ("reviewed by", block.reviewed_by or "not stated"),
        )
    )


def summary(survey: Survey) -> Iterator[Part]:
    """Say in plain words what was asked, what was found, and what is to be done."""
    site, level = survey.site, survey.level
    verdicts = dict(survey.quality.measures.verdicts)
    held = verdicts.get("held", 0)
    rooms = sum(len(one.floor.rooms) for one in survey.floors)
    yield Heading("Summary")
    yield Paragraph(
        f"{count(survey.quality.measures.readings, 'reading')} of {site.analyte} were taken in the "
        f"round “{survey.round.title or survey.round.name}”"
        + (f"; {held} of them are held and count nowhere" if held else "")
        + f". {count(len(survey.floors), 'floor')} with {count(rooms, 'room')} "
        f"{'is' if len(survey.floors) == 1 else 'are'} mapped "
        f"({band_line(survey.band, site.height_bands)}). The readings are held against the action "
        f"level of {level_value(level)}."
    )
    yield Facts((("action level", f"{level_value(level)}: {level_line(level)}"),))
    if level.from_memory:
        yield Paragraph(FROM_MEMORY, "strong")
    yield Heading("Where is it above the level?", 2)
    yield Bullets(tuple(f"{one.floor.title}: {_answer(one)}" for one in survey.floors))
    yield Paragraph(highest_line(survey))
    for problem in survey.failed:
        yield Paragraph(f"{problem.floor or problem.where}: no map was made: {problem.message}",
                        "strong")  # fmt: skip
    yield from _released(survey)
    yield from change_summary_lines(survey)
    yield Heading("Can the readings be trusted?", 2)
    yield Paragraph(survey.quality.fitness.sentence)
    yield Heading("What is to be done next?", 2)
    yield Bullets(tuple(_next(survey)))
    yield Heading("Read this with it", 2)
    for text in cautions_of(survey):
        yield Paragraph(text, "caution")


def cautions_of(survey: Survey) -> tuple[str, ...]:
    """Return what stands with every ruling of a report, each thing once; ours come first."""
    compared = () if survey.change is None else survey.change.warnings
    texts = [screening(survey.site.medium), LAST, *survey.warnings, *survey.cautions, *compared]
    return tuple(dict.fromkeys(f"{text[:1].upper()}{text[1:]}" for text in texts))


def _answer(one: SurveyFloor) -> str:
    none = f" No estimate was made: {one.no_surface}." if one.surface is None else ""
    return f"{answer(one.zones)}{none}"


def _released(survey: Survey) -> Iterator[Part]:
    """Say how many rooms meet under each rule, and which do not."""
    yield Heading("Does the building meet the level?", 2)
    found = survey.clearance
    if found.why_none:
        yield Paragraph(f"Cannot tell yet: {found.why_none}.")
        return
    if survey.round.purpose != "clearance":
        yield Paragraph(
            "This round was not made for clearance; what it says of rooms stands under "
            "“Clearance”, with what is missing."
        )
    lines = []
    for level in found.levels:
        for rule in found.rules:
            of_rule = [
                (name, one.ruling.outcome)
                for name, room in rooms_called(level)
                for one in room.outcomes if one.rule.name == rule.name
            ]  # fmt: skip
            counts = Counter(outcome for _, outcome in of_rule)
            bad = [name for name, outcome in of_rule if outcome == "does not meet"]
            which = f" ({named(bad, MOST_NAMED)})" if bad else ""
            lines.append(
                f"{level_named(level)}, rule {rule.name}: "
                + ", ".join(f"{word}: {count(counts[word], 'room')}" for word in OUTCOMES)
                + which
            )
    yield Bullets(tuple(lines))
    for text in not_ruled_on(survey):
        yield Paragraph(text, "strong")
    if len(found.rules) > 1:
        yield Paragraph(
            "No rule was chosen, so that every rule is shown. The agency or the contract names "
            "the one that counts."
        )


def _next(survey: Survey) -> Iterator[str]:
    for one in survey.floors:
        places = count(len(one.resample.places), "place")
        stop = "" if one.resample.stop is None else f"; {stop_sentence(one.resample.stop)}"
        yield f"{one.floor.title}: {places} to measure again{stop}."
    if not survey.clearance.why_none:
        missing = what_is_missing(survey.clearance.levels)
        if missing != ["nothing"]:
            yield f"For clearance, first: {missing[0]}. Everything that is missing stands under " \
                  "“Clearance”."  # fmt: skip


def floors(survey: Survey) -> Iterator[Part]:
    """Tabulate the floors, then the rooms of each."""
    yield Heading("What was found, room by room")
    columns = (
        TableColumn("floor", 3.0, name=True),
        TableColumn("used", 1.0, True),
        TableColumn("set aside", 1.1, True),
        *(TableColumn(name, 1.5, True) for name in ZONE_NAMES),
        TableColumn("places to measure", 1.3, True),
        TableColumn("estimate", 2.6),
    )
    rows = tuple(
        (
            one.floor.title,
            str(len(one.evidence.used)),
            str(len(one.evidence.set_aside)),
            *(square_metres(one.zones.area_m2(name)) for name in ZONE_NAMES),
            str(len(one.resample.places)),
            one.surface.method if one.surface else f"none: {one.no_surface}",
        )
        for one in survey.floors
    )
    yield Table("Floors: readings used, and ground by zone", columns, rows)
    yield Paragraph(
        f"Concentrations are in {survey.level.unit}. The average is the mean over the room at the "
        "height of the map, with its 95 % interval; the chance is that of some place in the room "
        "being above the level. A room without a figure is one that nothing speaks for.",
        "soft",
    )
    for one in survey.floors:
        yield _rooms(one)


def _rooms(one: SurveyFloor) -> Table:
    columns = (
        TableColumn("room", 3.4, name=True),
        TableColumn("area", 1.2, True),
        TableColumn("readings", 1.1, True),
        TableColumn("highest", 1.2, True),
        TableColumn("average", 1.1, True),
        TableColumn("95 % interval", 1.9, True),
        TableColumn("chance of above", 1.5, True),
        TableColumn("remediate", 1.3, True),
        TableColumn("resample", 1.3, True),
        TableColumn("clear", 1.2, True),
        TableColumn("no data", 1.2, True),
    )
    rows = tuple(_room(one, row) for row in one.rooms)
    return Table(f"Rooms: {one.floor.title}", columns, rows)


def _room(one: SurveyFloor, row: RoomRow) -> tuple[str, ...]:
    level = one.evidence.level
    factor = published_per_computed(level)

    def value(of: float | None) -> str:
        return "–" if of is None else number(of * factor)

    interval = "–" if row.low is None else f"{value(row.low)} to {value(row.high)}"
    return (
        row.room.name or row.room.id,
        square_metres(row.room.area_m2),
        str(row.readings),
        "–" if row.highest is None else reading_value(row.highest, level),
        value(row.average),
        interval,
        "–" if row.probability_anywhere is None else chance(row.probability_anywhere),
        *(square_metres(one.zones.area_m2(name, row.room.id)) for name in ZONE_NAMES),
    )


def resample(survey: Survey) -> Iterator[Part]:
    """List where to measure again on each floor, in turn, and when to stop."""
    yield Heading("Where to measure again, and when to stop")
    yield Paragraph(
        "The places are in the order in which to read them: each is expected to settle most after "
        "those before it. What is said of the doubt that stays is a forecast of the estimate, and "
        "no promise."
    )
    columns = (
        TableColumn("no.", 0.6, True),
        TableColumn("room", 2.6, name=True),
        TableColumn("x (m)", 0.9, True),
        TableColumn("y (m)", 0.9, True),
        TableColumn("heights", 1.3),
        TableColumn("readings", 1.0, True),
        TableColumn("doubt left", 1.2, True),
        TableColumn("why, and what the instrument has to do", 6.5),
    )
    for one in survey.floors:
        yield Heading(one.floor.title, 2)
        stop = one.resample.stop
        if stop is not None:
            text = stop_sentence(stop)
            yield Paragraph(f"Stop rule: {text}.", "strong")
        if not one.resample.places:
            yield Paragraph("No place is left to measure.")
            continue
        rows = []
        for place in one.resample.places:
            heights = [h for h in (place.height_m, *place.also_m) if h is not None]
            why = ["; ".join(place.reasons), place.repeats_reason, place.instrument, place.way_in]
            rows.append((
                str(place.rank),
                place.room_name or place.room,
                f"{place.x:.2f}",
                f"{place.y:.2f}",
                ", ".join(metres(h) for h in heights) or "not stated",
                str(place.repeats + len(place.also_m)),
                "–" if place.left_m2 is None else square_metres(place.left_m2),
                "; ".join(text for text in why if text),
            ))  # fmt: skip
        yield Table(f"Places to measure again: {one.floor.title}", columns, tuple(rows))
