"""What the command line says of a plan that was brought in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hgmap.editing.imported import read_findings
from hgmap.site.importers.add_floor import ImportReport
from hgmap.site.quality.figures import counted
from hgmap.terminal.plan import finding_line
from hgmap.terminal.results import MOST_LINES, console_for_results


def print_import(report: ImportReport, *, dry_run: bool = False) -> int:
    """Print what an import found, repaired and left out; return how many findings are open."""
    console = console_for_results()
    console.print(
        f"{report.plan}: {counted(report.rooms, 'room')}, {counted(report.walls, 'wall')}, "
        f"{counted(report.openings, 'opening')}, "
        f"{report.area_m2:.1f} m², {report.width_m:.1f} m wide, {report.height_m:.1f} m deep"
        + ("; nothing was written (--dry-run)" if dry_run else "")
    )
    if report.shut_off:
        console.print(
            f"look: {report.without_opening} of {counted(report.rooms, 'room')} have no opening, "
            "and no reading speaks for the next room through a wall: draw the doors "
            "(`hgmap edit add-opening`)"
        )
    unsound = [one for one in read_findings(report) if one.open]
    for finding in unsound[:MOST_LINES]:
        console.print(f"look: {finding_line(finding).partition(': ')[2]}")
    if len(unsound) > MOST_LINES:
        console.print(f"look: and {len(unsound) - MOST_LINES} more; `hgmap check` lists them")
    told = {one.finding.message for one in unsound}
    _lines("repaired", [one for one in report.repairs if one not in told])
    for one in report.numbered:  # all: each may be refused
        console.print(f"repair {one.number}: {one.text}")
    if report.numbered:
        console.print('say --refuse with their numbers ("1,4-6") for repairs that are wrong')
    for doubt in report.doubts:  # all: a wall or a door may be missing there
        number = f" {doubt.number}" if doubt.number else ""
        console.print(f"look{number}: {doubt.text}")
    if any(one.rule == "wide gap" for one in report.doubts):
        console.print("where two rooms face one another so, say --door with metres a little wider "
                      "than the gap, or draw the wall")  # fmt: skip
    _lines("noted", report.skipped)
    if report.made_site and not dry_run:
        use = "" if report.use_stated else "what the building is used for and "
        console.print(f"a new site: say in site.toml {use}the action level; "
                      "`hgmap import readings` makes its rounds")  # fmt: skip
    return len(unsound)


def _lines(title: str, lines: Sequence[str]) -> None:
    console = console_for_results()
    for text in lines[:MOST_LINES]:
        console.print(f"{title}: {text}")
    if len(lines) > MOST_LINES:
        console.print(f"{title}: and {len(lines) - MOST_LINES} more")


def print_changed(readings: Sequence[str]) -> None:
    """Print which readings mean something else on the plan that took the place of another."""
    console = console_for_results()
    for text in readings:
        console.print(f"look: {text}")


def print_drawn(path: Path) -> None:
    """Print where a picture lies."""
    console_for_results().print(f"drawn: {path}")
