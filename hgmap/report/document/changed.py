"""The section on another round: what fell, what rose, and what nobody can tell."""

from __future__ import annotations

from collections.abc import Iterator

from hgmap.decide.change_model import FloorChange, RoomChange
from hgmap.report.change_legend import ground_line, places_line
from hgmap.report.change_notes import visit_notes
from hgmap.report.change_plan import interval, said
from hgmap.report.change_tables import METHOD, counted_rooms
from hgmap.report.document.content import (
    Bullets,
    Heading,
    Maps,
    Paragraph,
    Part,
    Table,
    TableColumn,
)
from hgmap.report.document.survey import Survey, SurveyChange
from hgmap.report.words import number, published_per_computed, reading_value, round_line
from hgmap.site.model import Round

_COLUMNS = (
    TableColumn("room", 2.6, name=True),
    TableColumn("readings before", 1.1, True),
    TableColumn("readings now", 1.1, True),
    TableColumn("highest before", 1.2, True),
    TableColumn("highest now", 1.1, True),
    TableColumn("average before", 1.2, True),
    TableColumn("average now", 1.1, True),
    TableColumn("now / before", 1.1, True),
    TableColumn("95 % interval", 1.7, True),
    TableColumn("outcome", 1.4),
    TableColumn("why", 3.6),
)


def change_summary_lines(survey: Survey) -> Iterator[Part]:
    """Say in the summary how many rooms fell, rose and cannot be told; nothing if not asked."""
    change = survey.change
    if change is None:
        return
    yield Heading(f"What has changed since “{_name(change)}”?", 2)
    if change.why_none:
        yield Paragraph(f"Cannot tell: {change.why_none}.")
        return
    yield Bullets((
        *(f"{one.after.evidence.floor.title}: {counted_rooms(one.rooms)}."
          for one, _ in change.floors),
        *_lost(change),
    ))  # fmt: skip
    if change.warnings:
        yield Paragraph("What stands against the comparison is among the cautions below.")


def changed(survey: Survey) -> Iterator[Part]:
    """Tabulate the change of every room and show its map; nothing if it was not asked for."""
    change = survey.change
    if change is None:
        return
    yield Heading(_title(change))
    if change.why_none:
        yield Paragraph(f"Cannot tell: {change.why_none}.")
        return
    yield Paragraph(
        f"Compared with the round {round_line(change.since)}, on the same cells, at the same "
        "height and level. Where the 95 % interval of a ratio covers 1, nobody can tell whether "
        "the air fell or rose. A fall is not a clearance: whether a room meets the level stands "
        "under “Clearance”."
    )
    yield Paragraph(f"Method: {METHOD}.", "soft")
    for text in change.warnings:
        yield Paragraph(f"{text[:1].upper()}{text[1:]}", "caution")
    lost = tuple(_lost(change))
    if lost:
        yield Bullets(lost, frozenset(range(len(lost))))
    notes = tuple(one for one in change.notes if one not in survey.notes)
    if notes:
        yield Bullets(notes)
    for floor, _ in change.floors:
        yield from _floor(floor, change.since)
    for floor, sheet in change.floors:
        title = f"{floor.after.evidence.floor.title}: change since {_name(change)}"
        yield Maps(title, (("change", sheet),), None)


def _name(change: SurveyChange) -> str:
    return change.since.title or change.since.name


def _title(change: SurveyChange) -> str:
    return f"Change since {_name(change)}"


def _lost(change: SurveyChange) -> Iterator[str]:
    for problem in change.failed:
        yield f"{problem.floor or problem.where}: not compared: {problem.message}"


def _floor(one: FloorChange, since: Round) -> Iterator[Part]:
    evidence = one.after.evidence
    yield Heading(evidence.floor.title, 2)
    yield Bullets((f"{counted_rooms(one.rooms)}", ground_line(one), places_line(one.paired)))
    scale = published_per_computed(evidence.level)

    def value(of: float | None) -> str:
        return "–" if of is None else number(of * scale)

    def row(room: RoomChange) -> tuple[str, ...]:
        highest = [
            "–" if visit.highest is None else reading_value(visit.highest, evidence.level)
            for visit in (room.before, room.after)
        ]
        return (
            room.room.name or room.room.id, str(room.before.readings), str(room.after.readings),
            *highest, value(room.before.average), value(room.after.average),
            "–" if room.ratio is None else number(room.ratio, 2), interval(room) or "–",
            said(room), "; ".join(room.reasons) or "–",
        )  # fmt: skip

    yield Table(
        f"Change of the rooms: {evidence.floor.title} (averages in {evidence.level.unit})",
        _COLUMNS, tuple(map(row, one.rooms)),
    )  # fmt: skip
    # those of this round stand under the limits of the survey
    notes = visit_notes(since, one.before)
    if notes:
        yield Bullets(notes)
