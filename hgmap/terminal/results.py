"""What the command line prints: one short table, complaints in lines, a progress bar."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

from hgmap.errors import HgmapError
from hgmap.site.cautions import SCREENING
from hgmap.site.level_table import disagreements, levels_table
from hgmap.site.quality.figures import counted
from hgmap.terminal.lines import gathered, problem_line, say
from hgmap.terminal.plan import print_plans, said_of_plan
from hgmap.terminal.quality import print_quality

if TYPE_CHECKING:
    from hgmap.batch import MapRun
    from hgmap.editing.plan_check import PlansCheck
    from hgmap.site.check import SiteCheck

MOST_LINES = 20
"""Lines about held rows on the terminal; summary.json and `hgmap check` list all of them."""


def console_for_results() -> Console:
    """Return the console that results are printed on."""
    # a file or a pipe has no width of its own, and a line that is one message stays one line
    return Console(
        highlight=False, markup=False, emoji=False, soft_wrap=True,
        width=None if sys.stdout.isatty() else 160,
    )  # fmt: skip


class RunProgress:
    """A progress bar on stderr; silent where stderr is not a terminal."""

    def __init__(self) -> None:
        self._bar = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            TaskProgressColumn(),
            TimeElapsedColumn(),
            console=Console(stderr=True),
            disable=not sys.stderr.isatty(),
            transient=True,
        )
        self._task = self._bar.add_task("reading the site", total=1.0)

    def __enter__(self) -> RunProgress:
        self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._bar.stop()

    def update(self, what: str, share: float) -> None:
        """Show what is being done and the share of the run that is done (0 to 1)."""
        self._bar.update(self._task, description=what, completed=share)


def print_run(run: MapRun) -> None:
    """Print the outcome of ``hgmap map``."""
    from hgmap.decide.model import ZONE_NAMES  # here: `hgmap levels` stays quick
    from hgmap.decide.stop import stop_sentence
    from hgmap.report.words import square_metres

    console = console_for_results()
    level = run.level
    console.print(
        f"{run.site.name}: {run.round.title}"
        + (f", {run.band}" if run.band else "")
        + f", action level {level.value:g} {level.unit} ({level.name})"
        + (" [value from memory]" if level.from_memory else "")
    )
    if run.floors:
        table = Table(box=None, pad_edge=False, header_style="bold")
        table.add_column("floor")
        for title in ("used", "set aside", *ZONE_NAMES, "places"):
            table.add_column(title, justify="right")
        table.add_column("surface")
        for one in run.floors:
            zones = one.zones
            table.add_row(
                one.floor.title,
                str(len(one.evidence.used)),
                str(len(one.evidence.set_aside)),
                *(square_metres(zones.area_m2(name)) for name in ZONE_NAMES),
                str(len(one.resample.places)),
                one.surface.method if one.surface else f"none: {one.no_surface}",
            )
        console.print(table)
        for one in run.floors:
            if one.resample.stop is not None:
                say(console, f"{one.floor.title}: {stop_sentence(one.resample.stop)}")
    say(console, run.quality.fitness.sentence)
    for problem in run.failed:
        console.print(f"not made: {problem_line(problem)}")
    lost = {(one.where, one.message) for one in run.failed}
    errors = [problem_line(one) for one in run.site.problems
              if one.severity == "error" and (one.where, one.message) not in lost]  # fmt: skip
    for text in dict.fromkeys(errors):  # a file of two rounds is said once
        say(console, f"error: {text}")
    held = list(gathered(run.held))
    for text in held[:MOST_LINES]:
        say(console, text)
    if len(held) > MOST_LINES:
        say(console, f"held: and {len(held) - MOST_LINES} more lines; "
                     f"`hgmap check {run.site.folder}` lists all")  # fmt: skip
    for text in run.warnings:
        say(console, f"warning: {text}")
    for text in (*run.notes, *_second_opinion(run)):
        say(console, f"note: {text}")
    if run.floors:
        console.print(f"written to {run.out}")
    console.print(SCREENING)


def _second_opinion(run: MapRun) -> list[str]:
    """Say how far PyKrige's straight-line kriging lies from ours, on the worst floor."""
    opinions = [one.opinion for one in run.floors if one.opinion is not None]
    if not opinions:
        return []
    points = sum(one.points for one in opinions)
    mean = max(one.largest_mean_difference for one in opinions)
    variance = max(one.largest_variance_difference for one in opinions)
    return [
        f"second opinion: straight-line kriging at {points} points by PyKrige differs from ours by "
        f"at most {mean:.0e} (mean) and {variance:.0e} (variance)"
    ]


def print_check(check: SiteCheck, plans: PlansCheck | None = None) -> None:
    """Print the outcome of ``hgmap check``."""
    console = console_for_results()
    site = check.site
    usable = sum(one.usable for one in site.readings)
    rooms = sum(len(floor.rooms) for floor in site.floors)
    counts = ((len(site.floors), "floor"), (rooms, "room"), (len(site.rounds), "round"),
              (len(site.readings), "reading"))  # fmt: skip
    say(console, f"{site.name}: {', '.join(counted(n, name) for n, name in counts)}, "
                 f"{usable} usable")  # fmt: skip
    problems = [one for one in check.problems if plans is None or not said_of_plan(one, plans)]
    for text in dict.fromkeys(gathered(problems)):
        say(console, text)
    if not problems:
        console.print("nothing wrong was found in the files")
    caution = ""
    if plans is not None:
        print_plans(console, plans)
        caution = "" if plans.sound else f"But the plan is in question: {plans.sentence}"
    for report in check.quality:
        print_quality(console, report, caution)


def print_levels(*, use: str | None, analyte: str | None) -> None:
    """Print the action levels, by kind, and where agencies disagree."""
    rows = levels_table(analyte=analyte, use=use)  # type: ignore[arg-type]
    if not rows:
        raise HgmapError(
            "no level is listed for that", where="levels", todo="leave --use or --analyte out"
        )
    console = console_for_results()
    kind = ""
    for row in rows:
        if row.kind != kind:
            kind = row.kind
            console.print(f"\n{kind.upper()}", style="bold")
        remark = f"  [{row.remark}: check the source]" if row.remark else ""
        console.print(f"{row.name}: {row.value}, {row.analyte}{remark}")
        console.print(f"    for {row.scenario} ({row.uses})", style="dim")
        console.print(f"    averaging {row.averaging}; height {row.height}", style="dim")
        console.print(f"    source {row.source}{', ' + row.year if row.year else ''}", style="dim")
    console.print("\nWHERE AGENCIES DISAGREE", style="bold")
    for one in disagreements():
        console.print(
            f"{one.title}: {one.lowest:g} to {one.highest:g} {one.unit}, {one.ratio:.0f}-fold "
            f"({', '.join(one.lowest_by)} against {', '.join(one.highest_by)})"
        )
    console.print('\nThere is no default. A level marked "from memory" was not read in its source.')
