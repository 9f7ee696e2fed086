"""Tables of whole runs: a map, a comparison, a clearance, a design."""

from __future__ import annotations

from collections.abc import Sequence

from hgmap.batch import MapRun
from hgmap.clearance import ClearanceRun
from hgmap.compare import Comparison
from hgmap.decide.change_model import FloorChange
from hgmap.decide.clearance.outcome import LevelClearance, worst
from hgmap.decide.design.visits import FloorWalk
from hgmap.decide.model import ZONE_NAMES
from hgmap.design import DesignRun, lines_of
from hgmap.report.change_plan import interval, said
from hgmap.report.change_tables import counted_rooms
from hgmap.report.clearance_notes import LAST
from hgmap.report.clearance_words import (
    deciding_height,
    figures_row,
    held_back_lines,
    level_named,
    outcome_words,
    rule_line,
)
from hgmap.report.words import level_value, number, round_line
from hgmap.scene.release_scene import LOOKS, SIGNS
from hgmap.showing.map_tables import level_words
from hgmap.showing.markup import Notes, Table, page, swatch
from hgmap.site.cautions import SCREENING
from hgmap.site.model import Problem

_ROOMS = 30


def map_run(one: MapRun) -> str:
    """Show what was ruled on every floor."""
    rows = [
        (floor.floor.title or floor.floor.name, len(floor.evidence.used),
         len(floor.evidence.set_aside),
         *(f"{floor.zones.area_m2(name):.1f}" for name in ZONE_NAMES),
         len(floor.resample.places),
         floor.surface.method if floor.surface else f"none: {floor.no_surface}")
        for floor in one.floors
    ]  # fmt: skip
    return page(
        f"{one.site.name}: {round_line(one.round)}",
        (level_words(one.level), one.quality.fitness.sentence, SCREENING),
        Table(("floor", "used", "set aside", *(f"{name}, m²" for name in ZONE_NAMES), "places",
               "estimate"), rows, numbers=range(1, 8)),
        _lost(one.failed),
        Notes("Warnings", one.warnings), Notes("Notes", one.notes),
    )  # fmt: skip


def change(one: FloorChange) -> str:
    """Show what became of the rooms of a floor."""
    level = one.after.evidence.level
    floor = one.after.evidence.floor
    return page(
        f"{floor.title or floor.name}: {counted_rooms(one.rooms)}", (level_words(level),),
        _change_rows([one]),
    )  # fmt: skip


def comparison(one: Comparison) -> str:
    """Show what became of the rooms of every floor."""
    rooms = [room for floor in one.floors for room in floor.rooms]
    return page(
        f"{one.site.name}: {round_line(one.before)} to {round_line(one.after)}",
        (level_words(one.level), f"{counted_rooms(rooms)}.", *one.temperature, SCREENING),
        _change_rows(list(one.floors)), _lost(one.failed),
        Notes("Warnings", one.warnings), Notes("Notes", one.notes),
    )  # fmt: skip


def _change_rows(floors: list[FloorChange]) -> Table:
    rows = [
        (floor.after.evidence.floor.title, room.room.name or room.room.id, said(room),
         "–" if room.ratio is None else f"× {number(room.ratio, 2)}", interval(room),
         "; ".join(room.reasons))
        for floor in floors for room in floor.rooms
    ]  # fmt: skip
    return Table(("floor", "room", "the air", "after / before", "95 % interval", "why"), rows,
                 numbers=(3, 4), more="compare-rooms.csv has all", most=_ROOMS)  # fmt: skip


def level_clearance(one: LevelClearance) -> str:
    """Show what clearance says of each room at one level, and what is missing."""
    return page(f"Clearance at {level_named(one)}", (level_words(one.level), LAST), _rooms_at(one),
                Notes("Holds for every room", held_back_lines(one)),
                Notes("Notes", one.notes))  # fmt: skip


def clearance(one: ClearanceRun) -> str:
    """Show what clearance says of each room at each level, and what is missing."""
    return page(
        f"{one.site.name}: {round_line(one.round)}, clearance",
        (*(rule_line(rule, with_source=True) for rule in one.rules), LAST),
        *(part for level in one.levels
          for part in (_rooms_at(level), Notes("Holds back", held_back_lines(level)))),
        _lost(one.failed), Notes("Warnings", one.warnings),
        Notes("Notes", [*one.notes, *(text for level in one.levels for text in level.notes)]),
    )  # fmt: skip


def _rooms_at(one: LevelClearance) -> Table:
    rows = []
    for floor in one.floors:
        for room in floor.rooms:
            outcome = outcome_words(room.outcomes)
            looks = worst(ruled.ruling.outcome for ruled in room.outcomes)
            figures = figures_row(room.figures(deciding_height(room.outcomes)))
            missing = dict.fromkeys(
                text for ruled in room.outcomes for text in (
                    ruled.ruling.missing or ruled.ruling.reasons)
            )  # fmt: skip
            rows.append((
                floor.floor.title, room.room.name or room.room.id,
                swatch(LOOKS[looks][1].colour, f"{SIGNS[looks]} {outcome}"),
                *figures[:6], "; ".join(missing),
            ))  # fmt: skip
    return Table(
        ("floor", "room", "outcome", "height", "readings", "detects", "highest", "mean",
         "95 % upper limit of the mean", "what is missing, or why"), rows,
        f"At {level_value(one.level)}", (4, 5, 6, 7), "clearance.csv has all", _ROOMS,
    )  # fmt: skip


def walk(one: FloorWalk) -> str:
    """Show places in the order of the walk."""
    return page(
        f"{one.floor.title or one.floor.name}: {one.places} places, {one.route_m:.0f} m on foot",
        (f"{one.source_room} comes last" if one.source_room else "",),
        _visits([one]), Notes("No way on foot to", one.unreachable),
    )  # fmt: skip


def design(one: DesignRun) -> str:
    """Show a sampling design in the order of the walk."""
    return page(
        f"{one.site.name}: {len(one.places)} readings to take", lines_of(one),
        _visits(one.floors), _lost(one.failed),
        Notes("Warnings", one.warnings), Notes("Notes", one.notes),
    )  # fmt: skip


def _visits(floors: Sequence[FloorWalk]) -> Table:
    rows = [
        (floor.floor.title, visit.number, visit.place.room_name,
         *("–" if value is None else f"{value:.2f}" for value in (visit.place.x, visit.place.y)),
         "–" if visit.place.height_m is None else f"{visit.place.height_m:g}", visit.place.kind,
         visit.place.reason)
        for floor in floors for visit in floor.visits
    ]  # fmt: skip
    return Table(("floor", "place", "room", "x, m", "y, m", "height, m", "kind", "why"), rows,
                 numbers=(1, 3, 4, 5), more="the field sheet has all")  # fmt: skip


def _lost(failed: tuple[Problem, ...]) -> Table:
    return Table(("where", "what", "what to do"),
                 [(one.where, one.message, one.todo) for one in failed], "Not made")  # fmt: skip
