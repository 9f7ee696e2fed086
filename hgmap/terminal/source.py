"""What ``hgmap source`` prints: the first places of every floor, and what speaks against them."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from hgmap.batch import MapOptions
from hgmap.decide.origin_model import HINT, LikelySource, Origins
from hgmap.report.words import number, published_per_computed
from hgmap.site.cautions import screening
from hgmap.source import SourceRun, source_site
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.results import RunProgress, console_for_results

MOST_PLACES = 3
"""Places of a floor that are printed; where-from.csv has all."""


def source_and_print(site: Path, options: MapOptions) -> int:
    """Look for sources under a progress bar, print what was found, return the exit status."""
    with RunProgress() as progress:
        run = source_site(site, options, progress.update)
    print_sources(run)
    return run.exit_code


def print_sources(run: SourceRun) -> None:
    """Print the first places of every floor with their reasons, and what a reader has to know."""
    console = console_for_results()
    level = run.level
    console.print(
        f"{run.site.name}: {run.round.title}"
        + (f", {run.band}" if run.band else "")
        + f", where the vapour may come from (level {level.value:g} {level.unit})",
        style="bold",
    )
    for one in run.floors:
        console.print(one.origins.floor.title or one.origins.floor.name, style="bold")
        _print_floor(console, one.origins)
    for problem in run.failed:
        console.print(f"not made: {problem_line(problem)}")
    for title, lines in (("warning", run.warnings), ("note", run.notes)):
        for text in lines:
            say(console, f"{title}: {text}")
    say(console, HINT)
    if run.floors:
        console.print(f"written to {run.out}")
    console.print(screening(run.site.medium))


def _print_floor(console: Console, origins: Origins) -> None:
    if origins.quiet:
        say(console, f"  {origins.quiet}")
    for one in origins.sources[:MOST_PLACES]:
        say(console, f"  {source_line(one, origins)}", indent=5)
    more = len(origins.sources) - MOST_PLACES
    if more > 0:
        console.print(f"  and {more} more in where-from.csv")
    for text in origins.cautions:
        say(console, f"  caution: {text}")


def source_line(one: LikelySource, origins: Origins) -> str:
    """Return one place as one line: where, how sure, and the first reasons."""
    unit = origins.level.unit
    parts = [] if one.x is None or one.y is None else [f"({one.x:.1f}, {one.y:.1f})"]
    if one.height:
        parts.append(one.height)
    if one.share is not None:
        parts.append(f"{100.0 * one.share:.0f} % of draws")
    if one.radius_m is not None:
        parts.append(f"80 % within {one.radius_m:.1f} m")
    if one.estimate is not None:
        parts.append(f"{number(one.estimate * published_per_computed(origins.level))} {unit}")
    told = [text for text in one.reasons if "drawn to agree" not in text]
    line = f"{one.rank}. {one.room_name or one.room}: {', '.join(parts)}"
    reasons = "; ".join([*told[:3], *one.cautions[:2]])
    return f"{line}; {reasons}" if reasons else line
