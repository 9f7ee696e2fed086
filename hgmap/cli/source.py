"""The command ``hgmap source``: words in, places to look at out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import RoundOption, SiteArgument


def source_command(
    site: SiteArgument,
    floor: Annotated[
        list[str] | None, typer.Option(help="Only this floor; may be given again.")
    ] = None,
    round_: RoundOption = None,
    level: Annotated[str | None, typer.Option(help="Action level, in place of the site's.")] = None,
    height: Annotated[str | None, typer.Option(help="Height band.")] = None,
    cell: Annotated[float | None, typer.Option(help="Cell size in metres.")] = None,
    walls: Annotated[
        bool | None, typer.Option("--walls/--straight", help="As for `hgmap map`.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the results; SITE/results/ROUND/source if not given."),
    ] = None,
) -> None:
    """Rank where the vapour may come from: a hint where to look, never a finding."""
    from hgmap.batch import MapOptions
    from hgmap.terminal.source import source_and_print

    options = MapOptions(
        floors=tuple(floor or ()),
        round=round_,
        level=level,
        height_band=height,
        cell_m=cell,
        walls=walls,
        out=out,
    )
    raise typer.Exit(source_and_print(site, options))
