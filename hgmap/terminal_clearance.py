"""What ``hgmap clearance`` prints: a table a level, why, what is missing, and who decides."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.table import Table

from hgmap.clearance import ClearanceOptions, ClearanceRun, clear_site
from hgmap.decide.clearance.judge import Outcome
from hgmap.decide.clearance.outcome import (
    BandFigures,
    LevelClearance,
    RoomClearance,
    RuleOutcome,
    worst,
)
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.clearance.withheld import vouches
from hgmap.report.clearance_notes import LAST, highest_words
from hgmap.report.words import number
from hgmap.site.quality.figures import counted, named
from hgmap.terminal import RunProgress, console_for_results
from hgmap.terminal_lines import problem_line, say

if TYPE_CHECKING:
    from rich.console import Console

MOST_ROOMS: Final = 6
MOST_WHY: Final = 20
"""Rooms whose *meets* is explained on the terminal; clearance.csv has every one."""
_MORE: Final = re.compile(r"(?P<before>(?:.*: )?)(?P<n>\d+) more usable readings?")
_ABOUT: Final = re.compile(
    r"(?P<before>.*more readings: about )(?P<n>\d+)(?P<after> in the room, .*)"
)
_WORDS: Final[tuple[Outcome, ...]] = ("meets", "cannot tell yet", "does not meet")


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
    for text in _missing(run):
        say(console, f"  {text}")
    console.print()
    for rule in run.rules:
        source = f"; source: {rule.source}" if len(run.rules) == 1 else ""
        memory = " (from memory)" if rule.from_memory else ""
        say(console, f"rule {rule.name}{memory}: {rule.title}; {counted(rule.least, 'reading')} or "
                     f"more in a room at each height{_asks(rule)}{source}; it cannot see "
                     f"{rule.cannot_see}")  # fmt: skip
    for problem in run.failed:
        say(console, f"not made: {problem_line(problem)}")
    for text in run.warnings:
        say(console, f"warning: {text}")
    for text in dict.fromkeys((*run.notes, *(t for one in run.levels for t in one.notes))):
        say(console, f"note: {text}")
    console.print(f"written to {run.out}")
    console.print(LAST)


def _asks(rule: ClearanceRule) -> str:
    """Return what a rule asks for besides readings, with who says so."""
    found = []
    if rule.laboratory is not None:
        found.append(f"a laboratory sample in every room ({rule.laboratory_source})")
    if rule.again_after_h is not None:
        found.append(
            f"a second clearance round {rule.again_after_h:g} h or more apart ({rule.again_source})"
        )
    if rule.guard is not None:
        few = rule.guard
        found.append(
            "the limit has to hold by Chebyshev as well, at "
            f"{100.0 * few.few_confidence:g} % below {few.few} readings ({few.source})"
        )
    return "".join(f"; {text}" for text in found)


def _level(console: Console, run: ClearanceRun, level: LevelClearance) -> None:
    memory = " [value from memory]" if level.level.from_memory else ""
    title = run.round.title or run.round.name
    say(console, f"{run.site.name}: {title}, action level {_named(level)}{memory}", style="bold")
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
            one = room.figures(_deciding(room.outcomes))
            table.add_row(room.room.name, *_figures(one), _outcome(room.outcomes))
        pooled = floor.figures(_deciding(floor.outcomes))
        table.add_row(f"{floor.floor.title}, as its worst room", *_figures(pooled),
                      _outcome(floor.outcomes), style="bold", end_section=True)  # fmt: skip
    console.print(table)
    met = list(_why(level, "meets", len(run.rules)))
    for text in met[:MOST_WHY]:
        say(console, f"meets: {text}")
    if len(met) > MOST_WHY:
        say(console, f"meets: {len(met) - MOST_WHY} more; clearance.csv says why of each room")
    for text in _why(level, "does not meet", len(run.rules)):
        say(console, f"does not meet: {text}")
    for held in level.held_back:
        say(console, f"no room can meet yet: {held.reason}")
    rooms: dict[str, list[str]] = {}
    for room in level.rooms:
        for held in room.held_back:
            rooms.setdefault(held.reason, []).append(room.room.name)
    for text, names in rooms.items():
        say(console, f"cannot meet yet: {named(names, MOST_ROOMS, '; ')}: {text}")
    console.print()


def _named(level: LevelClearance) -> str:
    at = level.level
    value = f"{number(at.value)} {at.unit}"
    return value if at.kind == "stated" else f"{value} ({at.name})"


def _deciding(outcomes: Iterable[RuleOutcome]) -> str:
    """Return the height to show: that of the first rule with the worst outcome."""
    every = list(outcomes)
    bad = worst(one.ruling.outcome for one in every)
    return next(one.band for one in every if one.ruling.outcome == bad)


def _outcome(outcomes: Sequence[RuleOutcome]) -> str:
    """Return the worst outcome of the rules, with how many of them say so where they differ."""
    bad = worst(one.ruling.outcome for one in outcomes)
    same = sum(one.ruling.outcome == bad for one in outcomes)
    return bad if same == len(outcomes) else f"{bad} ({same} of {len(outcomes)} rules)"


def _figures(one: BandFigures) -> tuple[str, ...]:
    found = one.statistics
    limit = found.ucl
    return (
        one.band,
        str(found.n),
        str(found.detects),
        highest_words(found),
        "–" if found.mean.value is None else number(found.mean.value),
        "–" if limit.value is None else f"{number(limit.value)} ({limit.method})",
        "–" if found.highest_elsewhere is None else number(found.highest_elsewhere),
    )


def _why(level: LevelClearance, outcome: Outcome, rules: int) -> Iterator[str]:
    """Yield the reasons of each room with an outcome, and by which rules where there are more."""
    for room in level.rooms:
        found = [one for one in room.outcomes if one.ruling.outcome == outcome]
        reasons = dict.fromkeys(text for one in found for text in one.ruling.reasons)
        if reasons:
            by = f" under {named([one.rule.name for one in found])}" if rules > 1 else ""
            yield f"{room.room.name}{by}: {'; '.join(reasons)} ({level.level.unit})"


def _side_by_side(console: Console, run: ClearanceRun) -> None:
    """Print how many rooms meet at each level: how the outcome hangs on the level chosen."""
    say(console, "ROOMS BY LEVEL AND RULE", style="bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("level")
    table.add_column("rule")
    for word in _WORDS:
        table.add_column(word, justify="right")
    for level in run.levels:
        for rule in run.rules:
            found = [
                one.ruling.outcome for room in level.rooms for one in room.outcomes
                if one.rule.name == rule.name
            ]  # fmt: skip
            table.add_row(_named(level), rule.name, *(str(found.count(word)) for word in _WORDS))
    console.print(table)
    console.print()


def _missing(run: ClearanceRun) -> list[str]:
    """Return what is missing, each thing once, with the rooms that lack it.

    What makes an instrument vouch stands first, as held readings may come back by it; then what
    every room that cannot be told lacks, without their names.
    """
    titles = Counter(
        room.room.name for floor in run.levels[0].floors for room in floor.rooms
    )  # fmt: skip
    rooms: dict[str, dict[str, None]] = {}
    most: dict[str, set[int]] = {}
    open_: set[str] = set()
    for level in run.levels:
        for floor in level.floors:
            for room in floor.rooms:
                key = room.room.name
                if titles[key] > 1:
                    key = f"{key} ({floor.floor.title}, {room.room.id})"
                for text, n in _lacks(room):
                    open_.add(key)
                    rooms.setdefault(text, {})[key] = None
                    if n:
                        most.setdefault(text, set()).add(n)
    lines = []
    for text, some in rooms.items():
        shown = text
        if text in most:
            low, high = min(most[text]), max(most[text])
            shown = text.replace("#", f"{low}" if low == high else f"{low} to {high}")
        every = len(some) == len(open_)
        where = (
            "every room that cannot be told yet" if every else named(list(some), MOST_ROOMS, "; ")
        )
        lines.append(((not vouches(text), not every), f"{shown}: {where}"))
    return [text for _, text in sorted(lines, key=lambda pair: pair[0])] or ["nothing"]


def _lacks(room: RoomClearance) -> Iterator[tuple[str, int]]:
    """Yield what a room lacks; numbers of readings under one text, with the number.

    Where a height has fewer readings than a rule asks for, it is not said that more would help.
    """
    texts = [text for one in room.outcomes for text in one.ruling.missing]
    few = {found["before"] for text in texts if (found := _MORE.fullmatch(text))}
    for text in texts:
        found = _MORE.fullmatch(text)
        if found is not None:
            yield f"{found['before']}# more usable readings in a room", int(found["n"])
        elif (about := _ABOUT.fullmatch(text)) is not None:
            yield f"{about['before']}#{about['after']}", int(about["n"])
        elif not any(text.startswith(f"{before}more readings") for before in few):
            yield text, 0
