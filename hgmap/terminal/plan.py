"""What is printed of plans: whether they are sound, what was repaired, what an edit did."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from hgmap.site.quality.figures import counted
from hgmap.terminal.lines import say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rich.console import Console

    from hgmap.editing.open_plan import OpenPlan
    from hgmap.editing.plan_check import NumberedFinding, PlansCheck
    from hgmap.editing.repair_site import RepairedSite
    from hgmap.site.model import Problem

MOST_NOTES: Final = 20
"""Notes of a floor that are printed; errors and warnings are printed all."""


def said_of_plan(problem: Problem, plans: PlansCheck) -> bool:
    """Tell whether a note of the reader is said of the plan anyway, with its place and repair."""
    return problem.severity == "note" and any(
        problem.floor == floor.name and one.finding.message == problem.message
        for floor in plans.floors
        for one in floor.findings
    )


def print_plans(console: Console, plans: PlansCheck) -> None:
    """Print what was found on every plan, by floor, and the answer in one sentence."""
    console.print("\nIS THE PLAN SOUND?", style="bold")
    for floor in plans.floors:
        if floor.draft is None:
            say(console, f"{floor.title}: no plan can be made of its file: {floor.why}")
            continue
        if not floor.findings:
            continue
        console.print(f"{floor.title} ({floor.plan})", style="bold")
        _print_findings(console, floor.findings)
    mendable = len(plans.mendable)
    if mendable:
        say(console, f"{counted(mendable, 'finding')} can be repaired: `--repair FOLDER` does so "
                     "in a copy, `--refuse 1,4-6` leaves some as they are, `--picture FILE.png` "
                     "draws them")  # fmt: skip
    say(console, plans.sentence, style="bold")


def _print_findings(console: Console, findings: Sequence[NumberedFinding]) -> None:
    notes = 0
    for one in findings:
        notes += not one.open
        if one.open or notes <= MOST_NOTES:
            say(console, f"  {'!' if one.open else ' '} {finding_line(one)}", indent=6)
    if notes > MOST_NOTES:
        say(console, f"    and {counted(notes - MOST_NOTES, 'more note')}, on the picture")


def finding_line(one: NumberedFinding) -> str:
    """Return a finding as one line: number, weight, what, where, what to do, the repair."""
    from hgmap.editing.finding_places import place_words

    finding = one.finding
    word = "kept as drawn" if finding.kept else finding.severity
    where = place_words(finding)
    line = f"{one.number}. {word}: {finding.message}" + (f" (at {where})" if where else "")
    if finding.kept:
        return line
    line += f"{' ' if line.endswith('?') else '; '}{finding.todo}"
    return f"{line}; repair: {finding.repair.text}" if finding.repair else line


def print_repaired(console: Console, made: RepairedSite, into: Path) -> None:
    """Print what was repaired in the copy, what that changed, and what is left for a person."""
    console.print("\nREPAIRED, IN A COPY", style="bold")
    for one in sorted(made.done, key=lambda one: one.number or math.inf):
        number = f"{one.number}. " if one.number is not None else "then: "
        say(console, f"    {number}{one.floor}: {one.text}", indent=6)
    if not made.done:
        console.print("    nothing")
    for floor, before, after in made.areas:
        say(console, f"  {floor}: rooms of {before:.2f} m² could be read before, {after:.2f} m² "
                     "now")  # fmt: skip
    for text in made.readings:
        say(console, f"  ! {text}")
    for name in made.skipped:
        say(console, f"  ! {name} was not copied: it is no file of this folder")
    left = [one for one in made.left.findings if not one.finding.kept]
    if left:
        console.print("Left for a person, by the numbers of the copy", style="bold")
        for last in left:
            mark = "!" if last.open else " "
            say(console, f"  {mark} {last.floor}, {finding_line(last)}", indent=6)
    say(console, f"the copy is {into}; the site itself was not changed")
    if made.done and (into / "results").is_dir():
        say(console, "! its results are of the plan before the repair: map it again")
    say(console, f"In the copy: {made.left.sentence}", style="bold")


def print_edit(console: Console, plan: OpenPlan, *, written: bool, hint: str = "") -> None:
    """Print what edits did, what readings mean now, and what the plan has against it then."""
    for text in plan.said:
        say(console, text)
    for text in (*plan.also_changed, *plan.readings):
        say(console, f"! {text}")
    against = [one for one in plan.findings if one.severity == "error"]
    for one in against:
        say(console, f"! the plan is not read: {one.message}")
    if hint:
        say(console, hint)
    if not written:
        console.print("nothing was written")
