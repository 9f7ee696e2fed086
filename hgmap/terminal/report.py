"""What ``hgmap report`` prints: where the report is, and what has to be read in it first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hgmap.many.sites import SiteOutcome
from hgmap.report.change_tables import counted_rooms
from hgmap.report.words import answer
from hgmap.report_task import report_sites
from hgmap.site.cautions import screening
from hgmap.survey_report import ReportOptions, ReportRun
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.many import SitesProgress, sites_and_print
from hgmap.terminal.results import console_for_results


def report_and_print(
    folders: Sequence[Path], options: ReportOptions, *, jobs: int, resume: bool, cluster: str
) -> int:
    """Write the reports under bars, say what was written, return the exit status."""

    def run(watch: SitesProgress) -> tuple[SiteOutcome[ReportRun], ...]:
        return report_sites(
            folders, options, jobs=jobs, resume=resume, cluster=cluster, watch=watch
        )

    return sites_and_print(folders, run, print_report)


def print_report(run: ReportRun) -> None:
    """Print the outcome of ``hgmap report``."""
    console = console_for_results()
    survey = run.survey
    title = survey.round.title or survey.round.name
    say(console, f"{survey.site.name}: {title}", style="bold")
    for one in survey.floors:
        say(console, f"{one.floor.title}: {answer(one.zones)}")
    change = survey.change
    if change is not None:
        since = change.since.title or change.since.name
        for floor, _ in change.floors:
            title = floor.after.evidence.floor.title
            say(console, f"since {since}: {title}: {counted_rooms(floor.rooms)}")
        for problem in change.failed:
            say(console, f"since {since}: not compared: {problem_line(problem)}")
        for text in change.warnings:
            say(console, f"since {since}: warning: {text}")
        if change.why_none:
            say(console, f"since {since}: cannot tell: {change.why_none}")
    for problem in survey.failed:
        say(console, f"not made: {problem_line(problem)}")
    say(console, survey.quality.fitness.sentence)
    for text in survey.warnings:
        say(console, f"warning: {text}")
    for text in survey.notes:
        say(console, f"note: {text}")
    for path in run.files:
        say(console, f"written: {path}")
    console.print(screening(survey.site.medium))
