"""What `hgmap check` prints of the quality record; the verdict comes last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.site.quality.sections import Line, sections, what_to_do
from hgmap.terminal.lines import say

if TYPE_CHECKING:
    from rich.console import Console

    from hgmap.site.quality.quality import QualityReport

MOST_LINES = 12
"""Lines of a section on the terminal; the quality page has all of them."""


def print_quality(console: Console, report: QualityReport, caution: str = "") -> None:
    """Print the quality record of one round: counts, statistics, why, what to do, the verdict.

    ``caution`` is added to the verdict: readings that are fit make no map of a plan that is not.
    """
    rounds = ", ".join(report.measures.rounds) or "no round"
    console.print(f"\nCAN THE READINGS BE TRUSTED? {rounds}", style="bold")
    for section in (*sections(report), *what_to_do(report)):
        console.print(section.title, style="bold")
        for line in _shortened(section.lines):
            say(console, f"  {'!' if line.flagged else ' '} {line.text}", indent=6)
    verdict = f"{report.fitness.sentence} {caution}".rstrip()
    say(console, verdict, style="bold")


def _shortened(lines: tuple[Line, ...]) -> list[Line]:
    """Return the lines that are printed: what is flagged goes before what is not, in order."""
    if len(lines) <= MOST_LINES:
        return list(lines)
    flagged = [k for k, one in enumerate(lines) if one.flagged]
    rest = [k for k, one in enumerate(lines) if not one.flagged]
    kept = sorted([*flagged, *rest][:MOST_LINES])
    more = len(lines) - len(kept)
    return [*(lines[k] for k in kept), Line(f"and {more} more, on the quality page")]
