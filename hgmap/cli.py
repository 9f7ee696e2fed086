"""The command line: words in, results on stdout, progress and complaints on stderr; no arithmetic.

Exit status: 0 clean, 1 done with held readings or warnings to read, 2 nothing done.
"""

from __future__ import annotations

import datetime as dt
import enum
import io
import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from hgmap.__about__ import __version__
from hgmap.cli_arguments import SiteArgument, read_place
from hgmap.cli_design import design_command
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
import_app = typer.Typer(help="Bring plans and readings into a site folder.", no_args_is_help=True)
app.add_typer(import_app, name="import")


class Method(enum.StrEnum):
    """How to estimate between the readings."""

    KRIGING = "kriging"
    IDW = "idw"


class Units(enum.StrEnum):
    """What the numbers in a plan are."""

    LONLAT = "lonlat"
    METRES = "metres"


class Dates(enum.StrEnum):
    """What a date of two numbers and a year begins with."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


class Decimal(enum.StrEnum):
    """What stands before the tenths."""

    COMMA = "comma"
    POINT = "point"


RoundOption = Annotated[
    str | None, typer.Option("--round", help="Which round; the latest where not given.")
]
OutOption = Annotated[
    Path | None, typer.Option(help="Folder for the results; SITE/results/ROUND if not given.")
]
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


@app.command("map")
def map_command(
    site: SiteArgument,
    floor: Annotated[
        list[str] | None, typer.Option(help="Only this floor; may be given again.")
    ] = None,
    round_: RoundOption = None,
    method: Annotated[Method | None, typer.Option(help="How to estimate.")] = None,
    level: Annotated[
        str | None,
        typer.Option(help='Action level: a name from `hgmap levels`, or a value as "1 ug/m3".'),
    ] = None,
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
    out: OutOption = None,
    diagnostics: Annotated[
        bool,
        typer.Option("--diagnostics", help="Also plot variogram, leave-one-out and weights."),
    ] = False,
) -> None:
    """Map each floor: where it is above the level, zones, and where to measure again."""
    from hgmap.batch import MapOptions, map_site
    from hgmap.terminal import RunProgress, print_run

    options = MapOptions(
        floors=tuple(floor or ()),
        round=round_,
        method=method.value if method else None,
        level=level,
        height_band=height,
        cell_m=cell,
        walls=walls,
        range_m=range_,
        nugget=nugget,
        sill=sill,
        out=out,
        diagnostics=diagnostics,
    )
    with RunProgress() as progress:
        try:
            run = map_site(site, options, progress.update)
        except KeyboardInterrupt:  # caught here: the parser would end without a word
            raise HgmapError("stopped; what was written is whole") from None
    print_run(run)
    raise typer.Exit(run.exit_code)


@app.command("explain")
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
) -> None:
    """Say why the map reads so at one place: which readings drive it, and by what way."""
    from hgmap.batch import MapOptions
    from hgmap.explain import explain_site
    from hgmap.terminal_explain import print_explanation

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
    )
    found = explain_site(site, floor, x, y, options)
    print_explanation(found)
    raise typer.Exit(1 if found.warnings else 0)


app.command("design")(design_command)


@app.command("compare")
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
) -> None:
    """Say what fell, what rose and what nobody can tell between two rounds."""
    from hgmap.batch import MapOptions
    from hgmap.terminal_compare import compare_and_print

    options = MapOptions(
        tuple(floor or ()), None, method.value if method else None, level, height, cell, out=out
    )
    raise typer.Exit(compare_and_print(site, from_, to, options))


@app.command("check")
def check_command(
    site: SiteArgument,
    level: Annotated[str | None, typer.Option(help="Action level, in place of the site's.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="Also write each round's quality page into this folder.")
    ] = None,
) -> None:
    """Say what is wrong with a site folder and whether its readings are fit to map."""
    from hgmap.site.check import check_site
    from hgmap.terminal import print_check

    found = check_site(site, level)
    if out is not None:
        from hgmap.report.quality_files import write_quality
        from hgmap.site.files import slug

        for report in found.quality:
            write_quality(out / slug(report.round), found.site, found.level, report)
    print_check(found)
    raise typer.Exit(found.exit_code)


@app.command("clearance")
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
    from hgmap.terminal_clearance import run_clearance

    options = ClearanceOptions(round_, tuple(level or ()), rule, out, with_map)
    raise typer.Exit(run_clearance(site, options))


@app.command("levels")
def levels_command(
    use: Annotated[str | None, typer.Option(help="Only levels for this use of a building.")] = None,
    analyte: Annotated[str | None, typer.Option(help="Only levels for this analyte.")] = None,
) -> None:
    """List action levels: scenario, averaging time, source, year, and where agencies disagree."""
    from hgmap.terminal import print_levels

    print_levels(use=use, analyte=analyte)


@import_app.command("plan")
def import_plan_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="GeoJSON polygons.")],
    into: Annotated[Path, typer.Option(help="The site folder; made if it is not there.")],
    floor: Annotated[str, typer.Option(help="Name of the floor, as readings will call it.")],
    where: Annotated[
        str | None, typer.Option(help='Keep features with this property, as "level=0".')
    ] = None,
    units: Annotated[
        Units | None, typer.Option(help="What the coordinates are, where it is not plain.")
    ] = None,
    crs: Annotated[
        str | None, typer.Option(help="Projected system of the coordinates, as EPSG:25832.")
    ] = None,
    use: Annotated[
        str | None, typer.Option(help="For a new site: what the building is used for.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the floor's plan.")] = False,
) -> None:
    """Bring one floor plan into a site folder."""
    from hgmap.site.importers.geojson import import_geojson
    from hgmap.terminal import print_import

    report = import_geojson(
        file,
        into,
        floor,
        where=where,
        units=units.value if units else None,
        crs=crs,
        use=use,
        replace=replace,
    )
    print_import(report)
    raise typer.Exit(1 if report.repairs or report.skipped else 0)


@import_app.command("readings")
def import_readings_command(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="CSV, TSV, XLSX; - for text on standard input.")
    ],
    into: Annotated[Path, typer.Option(help="The site folder.")],
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="OURS=THEIRS", help="A column, by title or #number; give it again."),
    ] = None,
    mapping: Annotated[Path | None, typer.Option(help="Answers saved before.")] = None,
    save_mapping: Annotated[Path | None, typer.Option(help="Save the answers here.")] = None,
    unit: Annotated[str | None, typer.Option(help='Unit of the results, as "ug/m3".')] = None,
    dates: Annotated[Dates | None, typer.Option(help="What 02/03/2026 begins with.")] = None,
    decimal: Annotated[Decimal | None, typer.Option(help="The decimal mark.")] = None,
    sheet: Annotated[str | None, typer.Option(help="Sheet of a workbook.")] = None,
    round_: Annotated[
        str | None, typer.Option("--round", help="Round of the readings; made if it is new.")
    ] = None,
    date: Annotated[
        str | None, typer.Option(help="Day of times that have none, as 2026-03-02.")
    ] = None,
    floor: Annotated[
        str | None, typer.Option(help="Floor of readings that do not name theirs.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the readings file.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say it all, write nothing.")] = False,
) -> None:
    """Bring a table of readings into a site folder; what is ambiguous is asked."""
    from hgmap.site.files import read_bytes
    from hgmap.site.intake import answers as intake
    from hgmap.site.intake.import_readings import import_readings
    from hgmap.terminal_intake import print_imported

    answers = intake.merged(
        intake.load_answers(mapping) if mapping else None,
        intake.Answers(
            columns=intake.read_columns(column or ()),
            unit=unit,
            dates=dates.value if dates else None,
            decimal=decimal.value if decimal else None,
            sheet=sheet,
            date=_day(date) if date else None,
            floor=floor,
        ),
    )
    name = "pasted" if file == "-" else Path(file).name
    data = _pasted() if file == "-" else read_bytes(Path(file), where=file)
    done = import_readings(
        data, into, answers, name=name, round_=round_, replace=replace, dry_run=dry_run
    )
    if save_mapping is not None and not dry_run:
        titles = [one.theirs.casefold() for one in done.matches]
        columns = {
            one.ours: one.theirs
            if titles.count(one.theirs.casefold()) == 1
            else f"#{one.column + 1}"
            for one in done.matches
            if one.column is not None
        }
        intake.save_answers(
            save_mapping, answers.model_copy(update={"columns": {**columns, **answers.columns}})
        )
    print_imported(done)
    raise typer.Exit(1 if done.left_out or done.doubtful else 0)


def _pasted(most_bytes: int = 512 * 2**20) -> bytes:
    data = sys.stdin.buffer.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise HgmapError(f"more than {most_bytes / 2**20:.0f} MiB on standard input", where="-",
                         todo="give a file")  # fmt: skip
    return data


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise HgmapError(f"{text!r} is not a day", where="--date", todo="write it as 2026-03-02"
                         ) from None  # fmt: skip


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
        print("hgmap: stopped; what was written is whole", file=sys.stderr)
        sys.exit(2)
    sys.exit(0)
