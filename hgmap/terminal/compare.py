"""What ``hgmap compare`` prints."""

from __future__ import annotations

from pathlib import Path

from rich.table import Table

from hgmap.batch import MapOptions
from hgmap.compare import Comparison, compare_site
from hgmap.decide.change_model import FloorChange
from hgmap.report.change_legend import ground_line, places_line
from hgmap.report.change_plan import interval, said
from hgmap.report.change_tables import counted_rooms
from hgmap.report.words import number, published_per_computed
from hgmap.site.cautions import screening
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.results import RunProgress, console_for_results


def compare_and_print(site: Path, before: str, after: str, options: MapOptions) -> int:
    """Compare two rounds under a progress bar, print what was found, return the exit status."""
    with RunProgress() as progress:
        found = compare_site(site, before, after, options, progress.update)
    print_comparison(found)
    return found.exit_code


def print_comparison(found: Comparison) -> None:
    """Print a table of rooms for each floor, what moved, and what the reader has to know."""
    console = console_for_results()
    level = found.level
    console.print(
        f"{found.site.name}: {found.before.title} to {found.after.title}"
        + (f", {found.band}" if found.band else "")
        + f", action level {level.value:g} {level.unit} ({level.name})"
        + (" [value from memory]" if level.from_memory else ""),
        style="bold",
    )
    for floor in found.floors:
        console.print(f"{floor.after.evidence.floor.title}: {counted_rooms(floor.rooms)}")
        console.print(_table(floor, published_per_computed(level)))
        console.print(ground_line(floor))
        say(console, places_line(floor.paired))
    for problem in found.failed:
        console.print(f"not compared: {problem_line(problem)}")
    for title, lines in (("warning", found.warnings), ("note", found.notes)):
        for text in lines:
            say(console, f"{title}: {text}")
    console.print(f"written to {found.out}")
    console.print(screening(found.site.medium))


def _table(floor: FloorChange, scale: float) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("room")
    for title in ("before", "after", "after/before", "95 % interval"):
        table.add_column(title, justify="right")
    table.add_column("outcome")
    table.add_column("why")
    for room in floor.rooms:
        table.add_row(
            room.room.name or room.room.id,
            *("" if value is None else number(value * scale)
              for value in (room.before.average, room.after.average)),
            "" if room.ratio is None else number(room.ratio, 2),
            interval(room),
            said(room),
            "; ".join(room.reasons),
        )  # fmt: skip
    return table
