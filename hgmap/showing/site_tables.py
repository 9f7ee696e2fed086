"""Tables of what a person brings: a site, its floors, a level, and what is wrong with them."""

from __future__ import annotations

from collections import Counter

from hgmap.report.words import day, level_line, level_value
from hgmap.showing.markup import Notes, Table, page
from hgmap.site.building import Floor
from hgmap.site.check import SiteCheck
from hgmap.site.importers.add_floor import ImportReport
from hgmap.site.intake.import_readings import ImportedReadings
from hgmap.site.model import ActionLevel, Problem, Site
from hgmap.site.quality.quality import QualityReport
from hgmap.site.quality.sections import sections, what_to_do

_WORST_FIRST = ("error", "warning", "held", "note")


def site(one: Site) -> str:
    """Show a site: floors, rounds, and what is wrong with it."""
    floors = [
        (floor.name, floor.title, len(floor.rooms), len(floor.openings), f"{floor.area_m2:.0f}")
        for floor in one.floors
    ]
    by_round = Counter(reading.round for reading in one.readings)
    held = Counter(reading.round for reading in one.readings if reading.held)
    rounds = [
        (two.name, two.title, day(two.date), two.purpose, by_round[two.name], held[two.name])
        for two in one.rounds
    ]
    return page(
        one.name,
        (f"{one.analyte}, {one.medium}; used as {one.use or 'not stated'}",
         "invented data" if one.invented else ""),
        Table(("floor", "title", "rooms", "openings", "m²"), floors, numbers=(2, 3, 4)),
        Table(("round", "title", "date", "purpose", "readings", "held"), rounds, numbers=(4, 5)),
        _problems(one.problems),
    )  # fmt: skip


def level(one: ActionLevel) -> str:
    """Show an action level: never a bare number."""
    memory = "value from memory: check the source" if one.from_memory else ""
    return page(f"Action level {level_value(one)}", (level_line(one), memory))


def floor(one: Floor) -> str:
    """Show a floor: its rooms and how they hang together."""
    doors = Counter(room for door in one.openings for room in door.rooms)
    rows = [(room.id, room.name, f"{room.area_m2:.1f}", doors[room.id]) for room in one.rooms]
    return page(
        one.title or one.name,
        (f"{len(one.rooms)} rooms, {one.area_m2:.0f} m²",),
        Table(("id", "room", "m²", "openings"), rows, numbers=(2, 3)),
        Table(
            ("opening", "state", "between"),
            [(door.id, door.state, " and ".join(door.rooms) or "?") for door in one.openings],
        ),
    )


def check(one: SiteCheck) -> str:
    """Show what is wrong with a site, and whether each round is fit to map."""
    verdicts = [(two.round, two.fitness.verdict, two.fitness.usable, two.fitness.sentence)
                for two in one.quality]  # fmt: skip
    chosen = "no action level" if one.level is None else f"action level {level_value(one.level)}"
    return page(
        f"{one.site.name}: can the readings be trusted?", (chosen,),
        Table(("round", "verdict", "usable", "why, and what to do first"), verdicts, numbers=(2,)),
        _problems(one.problems),
    )  # fmt: skip


def quality(one: QualityReport) -> str:
    """Show the quality record of a round; the verdict comes last, as on the terminal."""
    parts = [
        Notes(part.title, [("! " if line.flagged else "") + line.text for line in part.lines])
        for part in (*sections(one), *what_to_do(one))
    ]
    return page(f"Can the readings be trusted? {one.round or 'all rounds'}", (), *parts,
                Notes("Verdict", [one.fitness.sentence]))  # fmt: skip


def imported_plan(one: ImportReport) -> str:
    """Show what came in with a plan."""
    return page(
        one.plan.name,
        (f"{one.rooms} rooms, {one.walls} walls, {one.openings} openings, {one.area_m2:.1f} m², "
         f"{one.width_m:.1f} m wide, {one.height_m:.1f} m deep",),
        Notes("Repaired", (*one.repairs, *(two.text for two in one.numbered))),
        Notes("To look at", [two.text for two in one.doubts]),
        Notes("Left out", one.skipped),
    )  # fmt: skip


def imported_readings(one: ImportedReadings) -> str:
    """Show which column was taken for what, and what became of every other row."""
    wrote = "would be written" if one.dry_run else "written"
    return page(
        f"{one.rows} readings {wrote} to {one.file}",
        (f"round {', '.join(one.rounds) or 'none'}"
         + (" (made)" if one.made_round else ""),),
        Table(("ours", "theirs", "for example", "found by"),
              [(two.ours, two.theirs, two.example, two.why) for two in one.matches]),
        Notes("Rows left out", [two.text for two in one.left_out]),
        Notes("Never filled in", one.unfilled),
        Notes(f"Written, to be held ({one.doubtful})", one.doubts),
        Notes("Assumed", one.notes),
    )  # fmt: skip


def _problems(problems: tuple[Problem, ...]) -> Table:
    ordered = sorted(problems, key=lambda two: _WORST_FIRST.index(two.severity))
    rows = [(two.severity, two.where, two.message, two.todo) for two in ordered]
    return Table(("", "where", "what", "what to do"), rows, "To be read",
                 more="hgmap check lists all", most=10)  # fmt: skip
