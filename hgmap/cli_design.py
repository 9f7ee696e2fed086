"""The command ``hgmap design``: words in, a design or the judgement of a survey out."""

from __future__ import annotations

import enum
from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli_arguments import SiteArgument, read_place
from hgmap.errors import HgmapError


class Grid(enum.StrEnum):
    """How the places of a design lie."""

    SQUARE = "square"
    TRIANGULAR = "triangular"


def design_command(
    site: SiteArgument,
    floor: Annotated[
        list[str] | None, typer.Option(help="Only this floor; may be given again.")
    ] = None,
    find: Annotated[
        float | None, typer.Option(metavar="RADIUS_M", help="Radius of a hot spot to find.")
    ] = None,
    probability: Annotated[
        float | None, typer.Option(metavar="P", help="With what chance; 0.95 if not given.")
    ] = None,
    spacing: Annotated[
        float | None, typer.Option(metavar="M", help="Spacing of the grid in metres.")
    ] = None,
    grid: Annotated[Grid, typer.Option(help="How the places lie.")] = Grid.SQUARE,
    seed: Annotated[int, typer.Option(min=0, help="Of what is left to chance.")] = 0,
    start: Annotated[
        str | None, typer.Option(metavar="X,Y", help="Where the walk begins, in metres.")
    ] = None,
    source: Annotated[
        str | None, typer.Option(metavar="ROOM", help="Where the source may be: read last.")
    ] = None,
    survey: Annotated[
        str | None,
        typer.Option(metavar="ROUND", help="Judge the survey of this round in place of designing."),
    ] = None,
    height: Annotated[str | None, typer.Option(help="With --survey: height band.")] = None,
    level: Annotated[
        str | None, typer.Option(help="With --survey: action level, in place of the site's.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the results; SITE/results/design if not given.")
    ] = None,
) -> None:
    """Plan where to read before anything is read; or say how good a survey was."""
    from hgmap.design import DesignOptions, design_site
    from hgmap.survey_design import SurveyOptions, survey_site
    from hgmap.terminal_design import print_design, print_survey

    floors = tuple(floor or ())
    if survey is not None:
        asked = {"--find": find, "--probability": probability, "--spacing": spacing,
                 "--start": start, "--source": source}  # fmt: skip
        given = [name for name, value in asked.items() if value is not None]
        if given:
            raise HgmapError(f"{given[0]} is for a design, not for a survey that was made",
                             where="--survey", todo="leave one of them out")  # fmt: skip
        judged = survey_site(site, SurveyOptions(survey, floors, height, level, out))
        print_survey(judged)
        raise typer.Exit(judged.exit_code)
    if height is not None or level is not None:
        raise HgmapError(f"--{'height' if height is not None else 'level'} goes with --survey",
                         where="design", todo="say --survey ROUND, or leave it out")  # fmt: skip
    options = DesignOptions(
        floors=floors,
        find_radius_m=find,
        probability=probability,
        spacing_m=spacing,
        grid="triangular" if grid is Grid.TRIANGULAR else "square",
        seed=seed,
        start=read_place(start, "--start") if start is not None else None,
        source=source,
        out=out,
    )
    run = design_site(site, options)
    print_design(run)
    raise typer.Exit(run.exit_code)
