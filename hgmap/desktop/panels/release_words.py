"""What is said of a room that is to be released, and of two rounds beside each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop.panels.rows import Row
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.change_model import FloorChange, RoomChange
    from hgmap.decide.clearance.outcome import LevelClearance, RoomClearance


def about_room(level: LevelClearance, room: RoomClearance) -> str:
    """Return what the rules say of a room, the figures that decide, and what is missing."""
    from hgmap.report.clearance_notes import highest_words
    from hgmap.report.words import number

    unit = level.level.unit
    lines = [f"{room.room.name}, {number(level.level.value)} {unit}"]
    for one in room.outcomes:
        found = room.figures(one.band).statistics
        figures = [tr("{n} places at {band}", n=found.n, band=one.band)]
        if found.n:
            highest = f"{highest_words(found)} {unit}"
            figures.append(tr("highest {value}", value=highest))
        if found.ucl.value is not None:
            figures.append(tr("upper limit of the mean {value}",
                              value=f"{number(found.ucl.value)} {unit}"))  # fmt: skip
        lines.append(f"· {one.rule.name}: {tr(one.ruling.outcome)} ({', '.join(figures)})")
        lines += [f"   {reason}" for reason in one.ruling.reasons]
        lines += [f"   {tr('missing')}: {text}" for text in one.ruling.missing]
    lines += [f"· {one.reason}: {one.missing}" for one in room.held_back]
    return "\n".join(lines)


def of_run(run: ClearanceRun) -> tuple[list[str], list[str]]:
    """Return what stands against a ruling of all rooms, and what is to be known of it.

    The same as the command line prints below its tables.
    """
    from hgmap.report.words import number

    several = len(run.levels) > 1
    against = [
        (f"{number(level.level.value)} {level.level.unit}: " if several else "")
        + f"{one.reason}: {one.missing}"
        for level in run.levels
        for one in level.held_back
    ]
    lost = [
        tr("Not ruled on: {floor}: {why}", floor=one.floor or one.where, why=one.message)
        for one in run.failed
    ]
    notes = [*run.notes]
    notes += [one for level in run.levels for one in level.notes]
    notes += [tr("The rule {name} cannot see {what}", name=one.name, what=one.cannot_see)
              for one in run.rules]  # fmt: skip
    return list(dict.fromkeys([*lost, *against, *run.warnings])), list(dict.fromkeys(notes))


def change_word(one: RoomChange) -> str:
    """Say what became of a room's air, in the words of the sheet."""
    from hgmap.report.change_plan import said

    return said(one)


def change_row(one: RoomChange, floor: str) -> Row:
    """Return what became of a room as a row of a table."""
    from hgmap.report.words import number

    ratio = ""
    if one.ratio is not None and one.low is not None and one.high is not None:
        high = "∞" if one.high == float("inf") else number(one.high)
        ratio = f"{number(one.ratio)} ({number(one.low)} to {high})"
    tip = "\n".join((f"{one.room.name}: {tr(change_word(one))}", *one.reasons))
    return Row((one.room.name, tr(change_word(one)), ratio), tip, one.room.polygon, floor,
               one.room.id)  # fmt: skip


def of_change(change: FloorChange) -> list[str]:
    """Return what the sheet of a change says first: how many rooms, how much ground, the places."""
    from hgmap.report.change_legend import ground_line, places_line
    from hgmap.report.change_tables import counted_rooms

    return [counted_rooms(change.rooms), ground_line(change), places_line(change.paired)]
