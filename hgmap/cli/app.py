"""The command line: words in, results on stdout, progress and complaints on stderr; no arithmetic.

Exit status: 0 clean, 1 done with held readings or warnings to read, 2 nothing done.
"""

from __future__ import annotations

import enum
import io
import sys
from pathlib import Path
from typing import Annotated, Final, NoReturn

import typer

from hgmap.__about__ import __version__
from hgmap.cli.arguments import (
    AlsoOption,
    ClearAtOption,
    ClusterOption,
    DpiOption,
    JobsOption,
    LevelsOption,
    OnceEach,
    OutOption,
    PaperOption,
    RemediateAtOption,
    ResumeOption,
    RoomsOption,
    RoundOption,
    ScaleOption,
    SheetsOption,
    SiteArgument,
    SitesArgument,
    WholeRoomsOption,
    read_place,
)
from hgmap.cli.check import check_command
from hgmap.cli.design import design_command
from hgmap.cli.desktop import desktop_command
from hgmap.cli.edit import edit_app
from hgmap.cli.georeference import georeference_command
from hgmap.cli.import_picture import import_picture_command, import_walls_command
from hgmap.cli.imports import import_app
from hgmap.cli.report import report_command
from hgmap.cli.source import source_command
from hgmap.errors import HgmapError
from hgmap.site.cautions import SCREENING

app = typer.Typer(
    name="hgmap",
    help="From readings taken inside a building to zones, a resample list and report maps.",
    epilog=SCREENING,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
import_app.command("picture", cls=OnceEach)(import_picture_command)
import_app.command("walls", cls=OnceEach)(import_walls_command)
app.add_typer(import_app, name="import")
app.add_typer(edit_app, name="edit")


class Method(enum.StrEnum):
    """How to estimate between the readings."""

    KRIGING = "kriging"
    IDW = "idw"


RangeOption = Annotated[
    float | None, typer.Option("--range", help="Fix the range (m) instead of weighing it.")
]
NuggetOption = Annotated[
    float | None, typer.Option(help="Fix the nugget: a variance, of logarithms on that scale.")
]
SillOption = Annotated[
    float | None, typer.Option(help="Fix the field's variance, the nugget not counted.")
]


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"hgmap {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Take the options that stand before a command."""


@app.command("map", cls=OnceEach)
def map_command(
    site: SitesArgument,
    floor: Annotated[
        list[str] | None, typer.Option(help="Only this floor; may be given again.")
    ] = None,
    round_: RoundOption = None,
    method: Annotated[Method | None, typer.Option(help="How to estimate.")] = None,
    level: LevelsOption = None,
    height: Annotated[str | None, typer.Option(help="Height band to map.")] = None,
    cell: Annotated[
        float | None, typer.Option(help="Cell size in metres; 0.1 where the floor allows.")
    ] = None,
    walls: Annotated[
        bool | None,
        typer.Option(
            "--walls/--straight",
            help="Through the doors, or along straight lines; doors where the plan shows them.",
        ),
    ] = None,
    range_: RangeOption = None,
    nugget: NuggetOption = None,
    sill: SillOption = None,
    remediate_at: RemediateAtOption = None,
    clear_at: ClearAtOption = None,
    whole_rooms: WholeRoomsOption = False,
    out: OutOption = None,
    diagnostics: Annotated[
        bool,
        typer.Option("--diagnostics", help="Also plot variogram, leave-one-out and weights."),
    ] = False,
    also: AlsoOption = None,
    jobs: JobsOption = 1,
    resume: ResumeOption = False,
    cluster: ClusterOption = "",
    paper: PaperOption = "a4",
    scale: ScaleOption = None,
    dpi: DpiOption = 200.0,
    sheets: SheetsOption = False,
    room: RoomsOption = None,
) -> None:
    """Map each floor: where it is above the level, zones, and where to measure again."""
    from hgmap.batch import MapOptions
    from hgmap.report.sheet_setup import sheet_setup
    from hgmap.terminal.many import map_and_print

    options = MapOptions(
        floors=tuple(floor or ()),
        round=round_,
        method=method.value if method else None,
        level=level[0] if level else None,
        further_levels=tuple(level[1:]) if level else (),
        height_band=height,
        cell_m=cell,
        walls=walls,
        range_m=range_,
        nugget=nugget,
        sill=sill,
        remediate_at=remediate_at,
        clear_at=clear_at,
        whole_rooms=whole_rooms,
        out=out,
        diagnostics=diagnostics,
        also=tuple(also or ()),
        setup=sheet_setup(paper, scale, dpi),
        sheets=sheets,
        rooms=tuple(room or ()),
    )
    raise typer.Exit(map_and_print(site, options, jobs=jobs, resume=resume, cluster=cluster))


@app.command("explain", cls=OnceEach)
def explain_command(
    site: SiteArgument,
    floor: Annotated[str, typer.Option(help="Floor, by name or title.")],
    at: Annotated[str, typer.Option(metavar="X,Y", help="Place in metres, as in the readings.")],
    round_: RoundOption = None,
    method: Annotated[Method | None, typer.Option(help="How to estimate.")] = None,
    level: Annotated[str | None, typer.Option(help="Action level, in place of the site's.")] = None,
    height: Annotated[str | None, typer.Option(help="Height band.")] = None,
    cell: Annotated[float | None, typer.Option(help="Cell size in metres.")] = None,
    walls: Annotated[
        bool | None, typer.Option("--walls/--straight", help="As for `hgmap map`.")
    ] = None,
    range_: RangeOption = None,
    nugget: NuggetOption = None,
    sill: SillOption = None,
    remediate_at: RemediateAtOption = None,
    clear_at: ClearAtOption = None,
    whole_rooms: WholeRoomsOption = False,
) -> None:
    """Say why the map reads so at one place: which readings drive it, and by what way."""
    from hgmap.batch import MapOptions
    from hgmap.explain import explain_site
    from hgmap.terminal.explain import print_explanation

    x, y = read_place(at, "--at")
    options = MapOptions(
        round=round_,
        method=method.value if method else None,
        level=level,
        height_band=height,
        cell_m=cell,
        walls=walls,
        range_m=range_,
        nugget=nugget,
        sill=sill,
        remediate_at=remediate_at,
        clear_at=clear_at,
        whole_rooms=whole_rooms,
    )
    found = explain_site(site, floor, x, y, options)
    print_explanation(found)
    raise typer.Exit(1 if found.warnings else 0)


app.command("report", cls=OnceEach)(report_command)
app.command("design", cls=OnceEach)(design_command)
app.command("source", cls=OnceEach)(source_command)
app.command("georeference", cls=OnceEach)(georeference_command)
app.command("desktop", cls=OnceEach)(desktop_command)
app.command("check", cls=OnceEach)(check_command)


@app.command("compare", cls=OnceEach)
def compare_command(
    site: SiteArgument,
    from_: Annotated[str, typer.Option("--from", help="The round before.")],
    to: Annotated[str, typer.Option("--to", help="The round after.")],
    floor: Annotated[list[str] | None, typer.Option(help="Only this floor, or these.")] = None,
    level: Annotated[str | None, typer.Option(help="Action level, in place of the site's.")] = None,
    height: Annotated[str | None, typer.Option(help="Height band.")] = None,
    method: Annotated[Method | None, typer.Option(help="How to estimate.")] = None,
    cell: Annotated[float | None, typer.Option(help="Cell size in metres.")] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for the results.")] = None,
    paper: PaperOption = "a4",
    scale: ScaleOption = None,
    dpi: DpiOption = 200.0,
) -> None:
    """Say what fell, what rose and what nobody can tell between two rounds."""
    from hgmap.batch import MapOptions
    from hgmap.report.sheet_setup import sheet_setup
    from hgmap.terminal.compare import compare_and_print

    options = MapOptions(
        tuple(floor or ()), None, method.value if method else None, level, height, cell, out=out,
        setup=sheet_setup(paper, scale, dpi),
    )  # fmt: skip
    raise typer.Exit(compare_and_print(site, from_, to, options))


@app.command("clearance", cls=OnceEach)
def clearance_command(
    site: SiteArgument,
    round_: RoundOption = None,
    level: Annotated[
        list[str] | None,
        typer.Option(help="Action level, in place of the site's; may be given again."),
    ] = None,
    rule: Annotated[
        str | None, typer.Option(help="The rule that decides; every rule where not given.")
    ] = None,
    out: OutOption = None,
    with_map: Annotated[
        bool, typer.Option("--with-map", help="Also map the floors, for the rule that asks them.")
    ] = False,
) -> None:
    """Say of every room whether a round meets a level, does not, or cannot tell yet, and why."""
    from hgmap.clearance import ClearanceOptions
    from hgmap.terminal.clearance import run_clearance

    options = ClearanceOptions(round_, tuple(level or ()), rule, out, with_map)
    raise typer.Exit(run_clearance(site, options))


@app.command("levels", cls=OnceEach)
def levels_command(
    use: Annotated[str | None, typer.Option(help="Only levels for this use of a building.")] = None,
    analyte: Annotated[str | None, typer.Option(help="Only levels for this analyte.")] = None,
) -> None:
    """List action levels: scenario, averaging time, source, year, and where agencies disagree."""
    from hgmap.terminal.results import print_levels

    print_levels(use=use, analyte=analyte)


_INTERRUPTED: Final = 130
"""128 and the number of the signal: what the parser makes of Ctrl-C."""


def main() -> NoReturn:
    """Run the command line; complaints are one line on stderr."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal without µ gets a ? in its place
            stream.reconfigure(errors="replace")
    try:
        app(standalone_mode=True)
    except HgmapError as error:
        print(f"hgmap: {error}", file=sys.stderr)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        _stopped()
    except SystemExit as end:
        if end.code == _INTERRUPTED:  # the parser ends so, without a word
            _stopped()
        raise
    sys.exit(0)


def _stopped() -> NoReturn:
    print("hgmap: stopped; what was written is whole", file=sys.stderr)
    sys.exit(2)
