"""Arguments that several commands share."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from hgmap.errors import HgmapError

SiteArgument = Annotated[Path, typer.Argument(metavar="SITE", help="The site folder.")]
SitesArgument = Annotated[list[Path], typer.Argument(metavar="SITE...", help="The site folders.")]
JobsOption = Annotated[
    int, typer.Option(min=1, help="Floors to make at a time, each in a process of its own.")
]
ResumeOption = Annotated[
    bool,
    typer.Option("--resume", help="Leave out what is up to date; go on where a run ended."),
]
ClusterOption = Annotated[
    str, typer.Option(help="Make the floors on a Dask cluster: tcp://HOST:PORT, or `local`.")
]
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
AlsoOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="FORMAT",
        help="A further format: geojson, geotiff, dxf, xlsx or svg; may be given again.",
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
PaperOption = Annotated[
    str, typer.Option(metavar="SIZE", help="Paper of the sheets: a4, a3, letter or tabloid.")
]
ScaleOption = Annotated[
    float | None,
    typer.Option(help="Draw plans at exactly 1 : this; the largest round one that fits if not."),
]
DpiOption = Annotated[float, typer.Option(help="Dots per inch of the pictures (PNG).")]
SheetsOption = Annotated[
    bool,
    typer.Option(
        "--sheets",
        help="Also the sheets of the estimate, of uncertainty, of the readings and of crowded "
        "rooms, all of a floor in sheets.pdf.",
    ),
]
RoomsOption = Annotated[
    list[str] | None, typer.Option("--room", help="Also a detail of this room; may be given again.")
]
RefuseOption = Annotated[
    list[str] | None,
    typer.Option(metavar="NUMBERS", help='Repairs not to make, as "1,4-6"; may be given again.'),
]


class OnceEach(TyperCommand):
    """A command whose options of one value may be given once: the parser would take the last.

    ``--rule a --rule b`` would otherwise rule by b without a word of a.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:  # noqa: D102
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        times = Counter(order)
        for option, number in times.items():
            # those that end the run at once, as --help, may be asked for twice
            if number > 1 and not getattr(option, "multiple", False) and not option.is_eager:
                names = "/".join((*option.opts, *option.secondary_opts))
                raise HgmapError(f"given {number} times, and takes one value", where=names,
                                 todo="say it once; run again for the other")  # fmt: skip
        return super().parse_args(ctx, args)


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
