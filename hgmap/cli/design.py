"""The command ``hgmap design``: words in, a design or the judgement of a survey out."""

from __future__ import annotations

import enum
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from hgmap.cli.arguments import SiteArgument, read_place
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.decide.design.statements import Statement

T = TypeVar("T")


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
    shape: Annotated[
        float | None,
        typer.Option(
            metavar="S",
            help="Width over length of a hot spot that is an ellipse lying in any direction, 0.2 "
            "to 1; --find is half its length then. A circle if not given.",
        ),
    ] = None,
    grid: Annotated[
        Grid | None, typer.Option(help="How the places lie; square if not given.")
    ] = None,
    seed: Annotated[
        int | None, typer.Option(min=0, help="Of what is left to chance; 0 if not given.")
    ] = None,
    tolerance: Annotated[
        str | None,
        typer.Option(
            metavar="SHARE/CONFIDENCE",
            help="Say how many samples state that this share of the air is below the level, as "
            "0.95/0.95.",
        ),
    ] = None,
    test: Annotated[
        str | None,
        typer.Option(
            metavar="TEST", help="Say how many samples a test needs: sign, rank-sum or mean."
        ),
    ] = None,
    difference: Annotated[
        float | None, typer.Option(help="With --test: the difference that it has to see.")
    ] = None,
    sd: Annotated[
        float | None,
        typer.Option(help="With --test: standard deviation of readings, in the same unit."),
    ] = None,
    errors: Annotated[
        str | None,
        typer.Option(
            metavar="RELEASE/HOLD",
            help="With --test: chance to release what is above, and to hold what is below; "
            "0.05/0.05 if not given.",
        ),
    ] = None,
    each_room: Annotated[
        bool,
        typer.Option(
            "--each-room",
            help="With --tolerance or --test: give every room that many places; those that the "
            "design lacks are drawn at random.",
        ),
    ] = False,
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
    from hgmap.design import design_site
    from hgmap.design_options import DesignOptions
    from hgmap.survey_design import SurveyOptions, survey_site
    from hgmap.terminal.design import print_design, print_survey

    floors = tuple(floor or ())
    if survey is not None:
        asked = {"--find": find, "--probability": probability, "--spacing": spacing,
                 "--start": start, "--source": source, "--shape": shape, "--grid": grid,
                 "--seed": seed, "--tolerance": tolerance, "--test": test,
                 "--difference": difference, "--sd": sd, "--errors": errors,
                 "--each-room": each_room or None}  # fmt: skip
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
        shape=shape,
        grid="triangular" if grid is Grid.TRIANGULAR else "square",
        seed=seed or 0,
        start=read_place(start, "--start") if start is not None else None,
        source=source,
        statements=_statements(tolerance, test, difference, sd, errors),
        each_room=each_room,
        out=out,
    )
    run = design_site(site, options)
    print_design(run)
    raise typer.Exit(run.exit_code)


def _statements(
    tolerance: str | None,
    test: str | None,
    difference: float | None,
    sd: float | None,
    errors: str | None,
) -> tuple[Statement, ...]:
    """Return what is to be stated; one line for what does not go together."""
    from hgmap.decide.design.statements import (
        ERRORS,
        check_test,
        statement_of_test,
        tolerance_statement,
    )

    found = []
    if tolerance is not None:
        shares = _pair(tolerance, "--tolerance", "0.95/0.95")
        found.append(_named("--tolerance", lambda: tolerance_statement(*shares)))
    if test is None:
        for name, value in (("--difference", difference), ("--sd", sd), ("--errors", errors)):
            if value is not None:
                raise HgmapError("of which test?", where=name, todo="say --test too")
        return tuple(found)
    known = _named("--test", lambda: check_test(test))
    if difference is None or sd is None:
        raise HgmapError("to see which difference, at which standard deviation?", where="--test",
                         todo="say --difference and --sd, in one unit")  # fmt: skip
    alpha, beta = ERRORS if errors is None else _pair(errors, "--errors", "0.05/0.10")
    found.append(
        _named(
            "--test",
            lambda: statement_of_test(known, shift=difference, sd=sd, alpha=alpha, beta=beta),
        )
    )
    return tuple(found)


def _pair(text: str, where: str, example: str) -> tuple[float, float]:
    parts = text.split("/")
    try:
        first, second = (float(one) for one in parts)
    except ValueError:
        raise HgmapError(f"{text!r} is not two numbers", where=where,
                         todo=f"give them as {example}") from None  # fmt: skip
    return first, second


def _named(where: str, make: Callable[[], T]) -> T:
    """Make something, and name the option in its complaint."""
    try:
        return make()
    except HgmapError as error:
        raise HgmapError(error.message, where=where, todo=error.todo) from None
