"""The command ``hgmap report``: words in, a report out."""

from __future__ import annotations

import enum
from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import (
    ClusterOption,
    JobsOption,
    LevelsOption,
    OutOption,
    PaperOption,
    ResumeOption,
    RoomsOption,
    RoundOption,
    ScaleOption,
    SitesArgument,
)


class ReportFormat(enum.StrEnum):
    """What a report can be written as."""

    PDF = "pdf"
    DOCX = "docx"
    HTML = "html"


def report_command(
    site: SitesArgument,
    floor: Annotated[
        list[str] | None, typer.Option(help="Only this floor; may be given again.")
    ] = None,
    round_: RoundOption = None,
    level: LevelsOption = None,
    height: Annotated[str | None, typer.Option(help="Height band to map.")] = None,
    cell: Annotated[float | None, typer.Option(help="Cell size in metres.")] = None,
    rule: Annotated[
        str | None, typer.Option(help="The clearance rule that decides; every rule if not given.")
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(help="An earlier round: also say what changed since then, floor by floor."),
    ] = None,
    style: Annotated[
        Path | None,
        typer.Option(help="House style: a TOML file with logo, colours and cautions beside ours."),
    ] = None,
    to: Annotated[
        list[ReportFormat] | None,
        typer.Option(help="Only this format; may be given again. All three if not given."),
    ] = None,
    out: OutOption = None,
    paper: PaperOption = "a4",
    scale: ScaleOption = None,
    sheets: Annotated[
        bool,
        typer.Option(
            "--sheets",
            help="Also the sheets of the estimate, of uncertainty, of "
            "the readings and of crowded rooms.",
        ),
    ] = False,
    room: RoomsOption = None,
    jobs: JobsOption = 1,
    resume: ResumeOption = False,
    cluster: ClusterOption = "",
) -> None:
    """Write the whole report of a round as PDF, DOCX and one page of HTML."""
    from hgmap.batch import MapOptions
    from hgmap.report.sheet_setup import sheet_setup
    from hgmap.survey_report import FORMATS, ReportOptions
    from hgmap.terminal.report import report_and_print

    options = MapOptions(
        floors=tuple(floor or ()),
        round=round_,
        level=level[0] if level else None,
        further_levels=tuple(level[1:]) if level else (),
        height_band=height,
        cell_m=cell,
        setup=sheet_setup(paper, scale),
        sheets=sheets,
        rooms=tuple(room or ()),
    )
    wanted = {one.value for one in to or ()}
    formats = tuple(one for one in FORMATS if not wanted or one in wanted)
    asked = ReportOptions(options, rule, style, formats, out, since)
    raise typer.Exit(report_and_print(site, asked, jobs=jobs, resume=resume, cluster=cluster))
