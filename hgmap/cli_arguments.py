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
