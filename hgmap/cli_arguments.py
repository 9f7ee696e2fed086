"""Arguments that several commands share."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer

from hgmap.errors import HgmapError

SiteArgument = Annotated[Path, typer.Argument(metavar="SITE", help="The site folder.")]
RoundOption = Annotated[
    str | None, typer.Option("--round", help="Which round; the latest where not given.")
]
OutOption = Annotated[
    Path | None, typer.Option(help="Folder for the results; SITE/results/ROUND if not given.")
]
LevelsOption = Annotated[
    list[str] | None,
    typer.Option(
        help='Action level: a name from `hgmap levels`, or a value as "1 ug/m3", or either with '
        'what it is for, as "isolate=10 ug/m3". Given again: zones for that level too.'
    ),
]
RemediateAtOption = Annotated[
    float | None,
    typer.Option(help="Probability of being above the level from which to remediate; 0.5."),
]
ClearAtOption = Annotated[
    float | None, typer.Option(help="Probability up to which ground may be clear; 0.05.")
]
WholeRoomsOption = Annotated[
    bool, typer.Option("--whole-rooms", help="Give each room the worst zone in it.")
]


def read_place(text: str, where: str) -> tuple[float, float]:
    """Read "X,Y" (m); ``where`` names the option."""
    parts = text.replace(";", ",").split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError:
        raise HgmapError(f"{text!r} is not a place", where=where, todo="give X,Y in metres, as "
                         "12.5,4") from None  # fmt: skip
    if not (math.isfinite(x) and math.isfinite(y)):
        raise HgmapError(f"{text!r} is not a place", where=where, todo="give finite numbers")
    return x, y
