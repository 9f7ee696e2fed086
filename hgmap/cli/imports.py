"""The commands ``hgmap import plan`` and ``hgmap import readings``."""

from __future__ import annotations

import datetime as dt
import enum
import sys
from pathlib import Path
from typing import Annotated

import typer

from hgmap.cli.arguments import OnceEach, RefuseOption
from hgmap.errors import HgmapError

import_app = typer.Typer(help="Bring plans and readings into a site folder.", no_args_is_help=True)


_FORMATS = "GeoJSON, GeoPackage, DXF, WKT, IFC, EnergyPlus IDF; a room schedule as CSV, XLSX."


class Units(enum.StrEnum):
    """What the numbers in a plan are."""

    LONLAT = "lonlat"
    METRES = "metres"
    CENTIMETRES = "cm"
    MILLIMETRES = "mm"
    FEET = "ft"
    INCHES = "in"


class Rooms(enum.StrEnum):
    """Where the rooms of a plan come from."""

    DRAWN = "drawn"
    WALLS = "walls"


class Dates(enum.StrEnum):
    """What a date of two numbers and a year begins with."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


class Decimal(enum.StrEnum):
    """What stands before the tenths."""

    COMMA = "comma"
    POINT = "point"


@import_app.command("plan", cls=OnceEach)
def import_plan_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=_FORMATS)],
    into: Annotated[Path, typer.Option(help="The site folder; made if it is not there.")],
    floor: Annotated[
        str | None, typer.Option(help="Name of the floor, as readings will call it.")
    ] = None,
    storey: Annotated[
        str | None, typer.Option(help="Which storey of the file, where it has several.")
    ] = None,
    every_storey: Annotated[
        bool, typer.Option("--every-storey", help="All of them, called as the file calls them.")
    ] = False,
    where: Annotated[
        str | None, typer.Option(help='Keep features with this property, as "level=0".')
    ] = None,
    sheet: Annotated[str | None, typer.Option(help="Sheet of a workbook.")] = None,
    layers: Annotated[
        str | None,
        typer.Option(help='Which layers are what: "wall=A-WALL*,WALLS; door=A-DOOR*".'),
    ] = None,
    units: Annotated[
        Units | None, typer.Option(help="What the coordinates are, where it is not plain.")
    ] = None,
    crs: Annotated[
        str | None, typer.Option(help="Projected system of the coordinates, as EPSG:25832.")
    ] = None,
    rooms: Annotated[
        Rooms | None, typer.Option(help="Take rooms as drawn, or find them from the walls.")
    ] = None,
    gap: Annotated[
        float | None,
        typer.Option(metavar="METRES", help="Close gaps between walls up to this; 0.05."),
    ] = None,
    wall: Annotated[
        float | None,
        typer.Option(metavar="METRES", help="Double lines so far apart are a wall; 0.6."),
    ] = None,
    door: Annotated[
        float | None,
        typer.Option(metavar="METRES", help="Gaps between walls so wide are doors; 2.5."),
    ] = None,
    refuse: RefuseOption = None,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Draw the plan with its repairs: PNG, SVG, PDF."),
    ] = None,
    building: Annotated[
        str | None, typer.Option(help="Which of the site's several buildings it lies in.")
    ] = None,
    use: Annotated[
        str | None, typer.Option(help="For a new site: what the building is used for.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the floor's plan.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say it all, write nothing.")] = False,
) -> None:
    """Bring a floor plan into a site folder; every repair is listed and can be refused."""
    from hgmap.editing.imported import files_before, readings_after_import
    from hgmap.site.importers.import_plan import WantedFloor, import_every_storey, import_plan
    from hgmap.site.importers.refused import numbers_of
    from hgmap.terminal.imports import print_changed, print_drawn, print_import

    answers = {
        "storey": storey, "where": where, "layers": layers, "crs": crs, "sheet": sheet,
        "units": units.value if units else None, "rooms": rooms.value if rooms else None,
        "gap": None if gap is None else str(gap),
        "wall": None if wall is None else str(wall),
        "door": None if door is None else str(door),
    }  # fmt: skip
    given = {key: text for key, text in answers.items() if text is not None}
    before = files_before(into) if replace else None
    wanted = WantedFloor(into, floor or "", use, None, replace, dry_run, building)
    if every_storey:
        if storey or refuse:
            raise HgmapError("goes with one floor", where="--storey" if storey else "--refuse",
                             todo="leave it out, or --every-storey")  # fmt: skip
        reports = import_every_storey(file, wanted, given)
    else:
        if floor is None:
            raise HgmapError("is missing", where="--floor",
                             todo="name the floor, or say --every-storey")  # fmt: skip
        reports = (import_plan(file, wanted, given, numbers_of(*refuse or ())),)
    unsound = sum(print_import(report, dry_run=dry_run) for report in reports)
    changed = readings_after_import(before, reports) if before is not None else ()
    print_changed(changed)
    if picture is not None:
        from hgmap.report.import_sheets import import_sheets
        from hgmap.report.soundness_files import write_sheets

        for path in write_sheets(picture, import_sheets(file, reports)):
            print_drawn(path)
    raise typer.Exit(1 if unsound or changed or any(one.to_read for one in reports) else 0)


@import_app.command("readings", cls=OnceEach)
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
    from hgmap.terminal.intake import print_imported

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
    raise typer.Exit(1 if done.left_out or done.unfilled or done.doubtful else 0)


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
