"""The section on clearance: the outcome of every room, why, and what is missing."""

from __future__ import annotations

from collections.abc import Iterator

from hgmap.decide.clearance.outcome import FloorClearance, LevelClearance
from hgmap.report.clearance_notes import LAST
from hgmap.report.clearance_words import (
    OUTCOMES,
    deciding_height,
    figures_row,
    held_back_lines,
    level_named,
    outcome_words,
    rule_line,
    what_is_missing,
    why_of,
)
from hgmap.report.document.content import (
    Bullets,
    Heading,
    Paragraph,
    Part,
    Table,
    TableColumn,
)
from hgmap.report.document.survey import Survey, SurveyClearance

_COLUMNS = (
    TableColumn("room", 3.2, name=True),
    TableColumn("outcome", 2.3),
    TableColumn("height", 2.0, name=True),
    TableColumn("n", 0.6, True),
    TableColumn("detects", 1.0, True),
    TableColumn("highest", 1.1, True),
    TableColumn("mean", 1.0, True),
    TableColumn("95 % upper limit of the mean", 2.6),
    TableColumn("highest at other heights", 1.5, True),
)


def clearance(survey: Survey) -> Iterator[Part]:
    """Say of every room whether it meets, does not meet, or cannot be told yet."""
    found = survey.clearance
    yield Heading("Clearance: does every room meet the level?")
    if found.why_none:
        yield Paragraph(f"Cannot tell yet: {found.why_none}.")
        yield Paragraph(LAST, "caution")
        return
    yield Paragraph(
        "Each room meets the level, does not meet it, or it cannot be told yet. Each height of a "
        "room is judged apart and the worst counts; a floor is as its worst room."
    )
    for text in not_ruled_on(survey):
        yield Paragraph(text, "strong")
    for level in found.levels:
        yield from _level(level, found)
    if len(found.levels) > 1 or len(found.rules) > 1:
        yield _side_by_side(found)
    yield Heading("What is missing", 2)
    yield Bullets(tuple(what_is_missing(found.levels)))
    yield Heading("The rules, and what they cannot see", 2)
    yield Bullets(tuple(rule_line(rule, with_source=True) for rule in found.rules))
    if found.rules_left_out:
        yield Bullets(found.rules_left_out)
    notes = dict.fromkeys((*found.notes, *(t for one in found.levels for t in one.notes)))
    yield Heading("Notes on this clearance", 2)
    yield Bullets(tuple(notes))
    yield Paragraph(LAST, "caution")


def not_ruled_on(survey: Survey) -> Iterator[str]:
    """Name the floors that were lost before any of their rooms was ruled on."""
    ruled = {one.floor.name for level in survey.clearance.levels for one in level.floors}
    for problem in survey.failed:
        if problem.floor not in ruled:
            yield (f"{problem.floor or problem.where}: cannot tell: no room of it was ruled on or "
                   f"is counted ({problem.message}).")  # fmt: skip


def _level(level: LevelClearance, found: SurveyClearance) -> Iterator[Part]:
    yield Heading(f"Action level {level_named(level)}", 2)
    if level.level.from_memory:
        yield Paragraph("This level is a value from memory: check its source.", "strong")
    yield Paragraph(
        f"Figures in {level.level.unit}, of the height that decides; n counts places.", "soft"
    )
    for floor in level.floors:
        rows = [
            (room.room.name, outcome_words(room.outcomes),
             *figures_row(room.figures(deciding_height(room.outcomes))))
            for room in floor.rooms
        ]  # fmt: skip
        pooled = floor.figures(deciding_height(floor.outcomes))
        rows.append((f"{floor.floor.title}, as its worst room", outcome_words(floor.outcomes),
                     *figures_row(pooled)))  # fmt: skip
        yield Table(f"Outcome of the rooms: {floor.floor.title}", _COLUMNS, tuple(rows),
                    frozenset({len(rows) - 1}))  # fmt: skip
    if len(found.rules) == 1:
        for floor in level.floors:
            yield _each_room(floor, level.level.unit)
    else:
        lines = [
            f"{word}: {text}"
            for word in ("does not meet", "meets")
            for text in why_of(level, word, len(found.rules))
        ]  # fmt: skip
        if lines:
            yield Bullets(tuple(lines))
    held = held_back_lines(level)
    if held:
        yield Bullets(tuple(held), frozenset(range(len(held))))


def _each_room(floor: FloorClearance, unit: str) -> Table:
    """Say why, and what is missing, of every room of a floor under the one rule."""
    columns = (
        TableColumn("room", 2.2, name=True),
        TableColumn("outcome", 2.1),
        TableColumn("why", 5.0),
        TableColumn("what is missing", 5.0),
    )
    rows = tuple(
        (
            room.room.name, one.ruling.outcome, "; ".join(one.ruling.reasons),
            "; ".join(one.ruling.missing) or "–",
        )
        for room in floor.rooms for one in room.outcomes
    )  # fmt: skip
    return Table(f"Why, room by room: {floor.floor.title} (in {unit})", columns, rows)


def _side_by_side(found: SurveyClearance) -> Table:
    """Count the rooms by level and rule: how the outcome hangs on what was chosen."""
    columns = (
        TableColumn("level", 3.5, name=True),
        TableColumn("rule", 3.5),
        *(TableColumn(word, 1.5, True) for word in OUTCOMES),
    )
    rows = []
    for level in found.levels:
        for rule in found.rules:
            outcomes = [
                one.ruling.outcome for room in level.rooms for one in room.outcomes
                if one.rule.name == rule.name
            ]  # fmt: skip
            rows.append((level_named(level), rule.name,
                         *(str(outcomes.count(word)) for word in OUTCOMES)))  # fmt: skip
    return Table("Rooms by level and rule", columns, tuple(rows))
