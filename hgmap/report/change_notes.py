"""What a reader of a comparison has to know, gathered and put in order."""

from __future__ import annotations

from hgmap.decide.change_model import FloorChange, Visit
from hgmap.report.words import day
from hgmap.site.model import Round


def change_notes(
    change: FloorChange,
    rounds: tuple[Round, Round],
    warnings: tuple[str, ...],
    cautions: tuple[str, ...],
) -> tuple[str, ...]:
    """Gather the notes, each once: warnings, rooms' reasons, cautions, then the two visits'."""
    notes = list(warnings)
    notes += [
        f"{one.room.name or one.room.id}: {reason}"
        for one in change.rooms
        for reason in one.reasons
        if one.rebounded or "alone could explain" in reason
    ]
    notes += cautions
    for round_, visit in zip(rounds, (change.before, change.after), strict=True):
        notes += visit_notes(round_, visit)
    if any(one.date is None for one in rounds):
        notes.append("; ".join(f"{one.title or one.name}: {day(one.date)}" for one in rounds))
    return tuple(dict.fromkeys(note for note in notes if note.strip()))


def visit_notes(round_: Round, visit: Visit) -> tuple[str, ...]:
    """Return what is said of one visit, with its name: its readings first, then what is usual."""
    own = visit.surface.notes if visit.surface is not None else ()
    return tuple(f"{round_.title or round_.name}: {text}" for text in (*visit.evidence.notes, *own))
