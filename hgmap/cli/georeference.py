"""The command ``hgmap georeference``: control points in, the building's place on the map out."""

from __future__ import annotations

import enum
from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import SiteArgument, read_place


class FitName(enum.StrEnum):
    """How a plan may be changed to fit the map."""

    CONFORMAL = "conformal"
    AFFINE = "affine"


def georeference_command(
    site: SiteArgument,
    points: Annotated[
        Path | None,
        typer.Option(help="Control points: a CSV with the columns point, x, y, east, north (m)."),
    ] = None,
    crs: Annotated[
        str | None,
        typer.Option(help="Projected system of the map, as EPSG:25832; the site's if not given."),
    ] = None,
    fit: Annotated[
        FitName,
        typer.Option(
            help="Move, turn and scale (conformal: 2 points or more), or shear too (affine: 3)."
        ),
    ] = FitName.CONFORMAL,
    without: Annotated[
        list[str] | None,
        typer.Option(metavar="POINT", help="Leave this point out; may be given again."),
    ] = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(
            metavar="POINT",
            help="Use this point although the others do not bear it out; may be given again.",
        ),
    ] = None,
    building: Annotated[str, typer.Option(help="Which of several buildings the points fix.")] = "",
    floor: Annotated[
        list[str] | None,
        typer.Option(help="This floor lies in that building; may be given again."),
    ] = None,
    deed: Annotated[
        Path | None,
        typer.Option(help="Bearings and distances, a course a line: N 45°30'15\" E 120.5 m."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(metavar="EAST,NORTH", help="Where the deed's first corner lies (m)."),
    ] = None,
    corners: Annotated[
        Path | None,
        typer.Option(
            help="Write the deed's corners: .csv, control points to fill in; .geojson, an outline "
            "to import."
        ),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option(help="Draw plan and control points (.png, .pdf, .svg).")
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Fit and print; leave site.toml as it is.")
    ] = False,
) -> None:
    """Lay a building on the map by control points, and say how well they fit."""
    from hgmap.georeference_model import GeoreferenceOptions
    from hgmap.terminal.georeference import georeference_and_print

    options = GeoreferenceOptions(
        points=points,
        crs=crs,
        fit=fit.value,
        building=building,
        floors=tuple(floor or ()),
        deed=deed,
        start=None if start is None else read_place(start, "--start"),
        corners=corners,
        picture=picture,
        without=tuple(without or ()),
        keep=tuple(keep or ()),
        dry_run=dry_run,
    )
    raise typer.Exit(georeference_and_print(site, options))
