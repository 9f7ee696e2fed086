"""What ``hgmap design`` prints."""

from __future__ import annotations

import math
from collections import Counter

from rich.console import Console
from rich.table import Table

from hgmap.decide.design.on_plan import WITH_PROBABILITY
from hgmap.decide.design.sample_size import tolerance_samples
from hgmap.design import DesignRun
from hgmap.report.survey_sheet import found_words
from hgmap.report.words import count, level_value, metres, per_cent
from hgmap.site.cautions import SCREENING
from hgmap.site.model import Problem
from hgmap.survey_design import SurveyRun
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.results import console_for_results

MOST_ROOMS = 5
"""Worst rooms of a floor that are named; survey.csv has all of a survey."""


def print_design(run: DesignRun) -> None:
    """Print how many places a design has, what they find, and when to stop."""
    console = console_for_results()
    walked = [visit.place for floor in run.floors for visit in floor.visits]
    console.print(f"{run.site.name}: sampling design, {count(len(run.places), 'reading')} and "
                  "samples to take", style="bold")  # fmt: skip
    console.print(_design_table(run))
    kinds = Counter(one.kind for one in run.places)
    console.print(
        "controls: "
        + ", ".join(
            f"{kinds[kind]} {kind}" for kind in ("duplicate", "background", "field blank")
            if kinds[kind]
        )
    )  # fmt: skip
    for floor in run.floors:
        if floor.source_room:
            say(console, f"{floor.source_room} comes last: the source is expected there")
    _print_chances(console, run)
    if run.statements:
        for one in run.statements:
            say(console, f"{one.name}: {one.says}")
        for text in dict.fromkeys(text for one in run.statements for text in one.assumes):
            say(console, f"taken for granted: {text}")
    else:
        say(console, f"for a statement about the whole air: {samples_words()}")
    say(console, f"stop: {stop_words(run, len(walked))}")
    _end(console, run.warnings, run.notes, run.failed)
    console.print(f"written to {run.out}: sampling-plan.csv, field-sheet.csv, and a field sheet "
                  "for each floor")  # fmt: skip
    console.print(SCREENING)


def _design_table(run: DesignRun) -> Table:
    heights = sorted(
        {(v.place.height_m or 0.0, v.place.kind == "source search")
         for one in run.floors for v in one.visits},
        reverse=True,
    )  # fmt: skip
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("floor")
    titles = ["places", *(f"at {metres(h)}" + (" (search)" if s else "") for h, s in heights),
              "duplicates", "walk"]  # fmt: skip
    if run.find is not None:
        titles.append(f"finds {run.find.size}")
    titles.append(f"finds with {per_cent(WITH_PROBABILITY)}")
    for title in titles:
        table.add_column(title, justify="right")
    for one in run.floors:
        plain = Counter(
            (v.place.height_m or 0.0, v.place.kind == "source search")
            for v in one.visits
            if v.place.kind != "duplicate"
        )
        cells = [one.floor.title or one.floor.name, str(one.places)]
        cells += [str(plain[height]) for height in heights]
        cells.append(str(sum(v.place.kind == "duplicate" for v in one.visits)))
        cells.append(f"{one.route_m:.0f} m")
        if one.probability is not None:
            cells.append(_floored(one.probability))
        cells.append(found_words(max(row.radius_m for row in one.gaps.rows)))
        table.add_row(*cells)
    return table


def _print_chances(console: Console, run: DesignRun) -> None:
    """Name the rooms of each floor in which a hot spot is missed soonest."""
    for one in run.floors:
        title = one.floor.title or one.floor.name
        if run.find is not None:
            worst = sorted(one.chances, key=lambda row: row.probability)[:MOST_ROOMS]
            rooms = ", ".join(f"{r.room_name or r.room} {_floored(r.probability)}" for r in worst)
            text = f"a hot spot of {run.find.size}, least likely found in"
        else:
            gaps = sorted(one.gaps.rows, key=lambda row: -row.radius_m)[:MOST_ROOMS]
            rooms = ", ".join(f"{r.room_name or r.room} {found_words(r.radius_m)}" for r in gaps)
            text = f"radius found with {per_cent(WITH_PROBABILITY)}, the widest in"
        say(console, f"{title}: {text} {rooms}")


def _floored(share: float) -> str:
    """Write a share in per cent, down and never up: it must not promise more than it is."""
    return f"{math.floor(share * 1000 + 1e-6) / 10:g} %"


def samples_words() -> str:
    """Say how many random samples state that 95 % of the air is below a level."""
    none, one, two = (tolerance_samples(0.95, 0.95, failures=k) for k in (0, 1, 2))
    return (
        f"95 % of it is below the level, with 95 % confidence, where of {none} random samples none "
        f"is above, of {one} at most one, or of {two} at most two"
    )


def stop_words(run: DesignRun, readings: int) -> str:
    """Say when a survey by this design is done."""
    text = f"when the {count(readings, 'line')} of the floors and the controls are filled in"
    if run.find is not None:
        low = min(row.probability for one in run.floors for row in one.chances)
        text += (
            f"; then a hot spot of {run.find.size} is met with at least "
            f"{_floored(low)} in whatever room it lies"
        )
    return text + ". One reading above the level, or held, and it is not done: map what you have, "\
        "and go on with what `hgmap map` lists"  # fmt: skip


def print_survey(run: SurveyRun) -> None:
    """Print how large a hot spot a survey would have found, floor by floor."""
    console = console_for_results()
    console.print(
        f"{run.site.name}: {run.round.title or run.round.name}, {run.band or run.site.medium}, "
        f"readings that can see {level_value(run.level)}",
        style="bold",
    )
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("floor")
    for title in ("readings", "rooms", "unread", f"found with {per_cent(WITH_PROBABILITY)}"):
        table.add_column(title, justify="right")
    table.add_column("the widest in")
    for one in run.floors:
        floor, rows = one.evidence.floor, one.gaps.rows
        read = sorted((row for row in rows if row.readings), key=lambda row: -row.radius_m)
        table.add_row(
            floor.title or floor.name,
            str(len(one.evidence.used)),
            str(len(rows)),
            str(len(rows) - len(read)),
            found_words(read[0].radius_m) if read else "none",
            ", ".join(f"{r.room_name or r.room} {found_words(r.radius_m)}" for r in read[:3]),
        )
    console.print(table)
    console.print("a smaller hot spot may have been missed; the radius is that of the rooms read")
    _end(console, run.warnings, run.notes, run.failed)
    console.print(f"written to {run.out}: survey.csv, and a map of each floor")
    console.print(SCREENING)


def _end(
    console: Console,
    warnings: tuple[str, ...],
    notes: tuple[str, ...],
    failed: tuple[Problem, ...],
) -> None:
    for one in failed:
        say(console, f"error: {problem_line(one)}")
    for title, lines in (("warning", warnings), ("note", notes)):
        for text in lines:
            say(console, f"{title}: {text}")
