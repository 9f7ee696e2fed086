"""What ``hgmap report`` prints: where the report is, and what has to be read in it first."""

from __future__ import annotations

from pathlib import Path

from hgmap.report.words import answer
from hgmap.site.cautions import screening
from hgmap.survey_report import ReportOptions, ReportRun, report_site
from hgmap.terminal import RunProgress, console_for_results
from hgmap.terminal_lines import problem_line, say


def report_and_print(site: Path, options: ReportOptions) -> int:
    """Write the report under a progress bar, say what was written, return the exit status."""
    with RunProgress() as progress:
        run = report_site(site, options, progress.update)
    print_report(run)
    return run.exit_code


def print_report(run: ReportRun) -> None:
    """Print the outcome of ``hgmap report``."""
    console = console_for_results()
    survey = run.survey
    title = survey.round.title or survey.round.name
    say(console, f"{survey.site.name}: {title}", style="bold")
    for one in survey.floors:
        say(console, f"{one.floor.title}: {answer(one.zones)}")
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
