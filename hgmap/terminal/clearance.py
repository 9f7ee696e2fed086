"""What ``hgmap clearance`` prints: a table a level, why, what is missing, and who decides."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.table import Table

from hgmap.clearance import ClearanceOptions, ClearanceRun, clear_site
from hgmap.decide.clearance.outcome import LevelClearance
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
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.results import RunProgress, console_for_results

if TYPE_CHECKING:
    from rich.console import Console

MOST_WHY: Final = 20
"""Rooms whose *meets* is explained on the terminal; clearance.csv has every one."""


def run_clearance(folder: Path, options: ClearanceOptions) -> int:
    """Rule, with a progress bar, print the outcome, and return the exit status."""
    with RunProgress() as progress:
        run = clear_site(folder, options, progress.update)
    print_clearance(run)
    return run.exit_code


def print_clearance(run: ClearanceRun) -> None:
    """Print the outcome of ``hgmap clearance``."""
    console = console_for_results()
    for level in run.levels:
        _level(console, run, level)
    if len(run.levels) > 1 or len(run.rules) > 1:
        _side_by_side(console, run)
    say(console, "WHAT IS MISSING", style="bold")
    for text in what_is_missing(run.levels):
        say(console, f"  {text}")
    console.print()
    for rule in run.rules:
        say(console, rule_line(rule, with_source=len(run.rules) == 1))
    for problem in run.failed:
        say(console, f"not made: {problem_line(problem)}")
    for text in run.warnings:
        say(console, f"warning: {text}")
    for text in dict.fromkeys((*run.notes, *(t for one in run.levels for t in one.notes))):
        say(console, f"note: {text}")
    console.print(f"written to {run.out}")
    console.print(LAST)


def _level(console: Console, run: ClearanceRun, level: LevelClearance) -> None:
    memory = " [value from memory]" if level.level.from_memory else ""
    title = run.round.title or run.round.name
    say(
        console,
        f"{run.site.name}: {title}, action level {level_named(level)}{memory}",
        style="bold",
    )
    say(console, f"figures in {level.level.unit}, of the height that decides; other heights: the "
                 "highest reading there")  # fmt: skip
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("room")
    table.add_column("height", no_wrap=True)
    for heading in ("n", "detects", "highest", "mean"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("95 % UCL of the mean")
    table.add_column("other heights", justify="right", no_wrap=True)
    table.add_column("outcome", no_wrap=True)
    for floor in level.floors:
        for room in floor.rooms:
            one = room.figures(deciding_height(room.outcomes))
            table.add_row(room.room.name, *figures_row(one), outcome_words(room.outcomes))
        pooled = floor.figures(deciding_height(floor.outcomes))
        table.add_row(f"{floor.floor.title}, as its worst room", *figures_row(pooled),
                      outcome_words(floor.outcomes), style="bold", end_section=True)  # fmt: skip
    console.print(table)
    met = list(why_of(level, "meets", len(run.rules)))
    for text in met[:MOST_WHY]:
        say(console, f"meets: {text}")
    if len(met) > MOST_WHY:
        say(console, f"meets: {len(met) - MOST_WHY} more; clearance.csv says why of each room")
    for text in why_of(level, "does not meet", len(run.rules)):
        say(console, f"does not meet: {text}")
    for text in held_back_lines(level):
        say(console, text)
    console.print()


def _side_by_side(console: Console, run: ClearanceRun) -> None:
    """Print how many rooms meet at each level: how the outcome hangs on the level chosen."""
    say(console, "ROOMS BY LEVEL AND RULE", style="bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("level")
    table.add_column("rule")
    for word in OUTCOMES:
        table.add_column(word, justify="right")
    for level in run.levels:
        for rule in run.rules:
            found = [
                one.ruling.outcome for room in level.rooms for one in room.outcomes
                if one.rule.name == rule.name
            ]  # fmt: skip
            table.add_row(
                level_named(level), rule.name, *(str(found.count(word)) for word in OUTCOMES)
            )
    console.print(table)
    console.print()
