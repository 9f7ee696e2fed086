"""The commands ``hgmap edit ...``: the plan of a floor changed as the window changes it."""

from __future__ import annotations

import enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hgmap.cli.arguments import OnceEach, RefuseOption, SiteArgument, read_place
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.editing.open_plan import OpenPlan
    from hgmap.editing.plan_check import NumberedFinding

edit_app = typer.Typer(
    help="Change the plan of a floor: rooms, openings, names, a floor more.", no_args_is_help=True
)


class State(enum.StrEnum):
    """How an opening stands."""

    OPEN = "open"
    CLOSED = "closed"
    SEALED = "sealed"


FloorOption = Annotated[str, typer.Option(help="The floor, by name or title.")]
RoomOption = Annotated[str, typer.Option(help="The room, by name or id.")]
OpeningOption = Annotated[str, typer.Option(help="The opening, by its id.")]
FromOption = Annotated[
    str, typer.Option("--from", metavar="X,Y", help="Where the line begins, metres of the plan.")
]
ToOption = Annotated[str, typer.Option("--to", metavar="X,Y", help="Where it ends.")]
StateOption = Annotated[State, typer.Option(help="How it stands.")]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Say it all, write nothing.")]


@edit_app.command("split", cls=OnceEach)
def split_command(
    site: SiteArgument,
    floor: FloorOption,
    room: RoomOption,
    from_: FromOption,
    to: ToOption,
    via: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y", help="A bend of the line; may be given again."),
    ] = None,
    name: Annotated[str, typer.Option(help="Another name for the larger half.")] = "",
    other: Annotated[str, typer.Option(help="Name of the other half; a new id if not.")] = "",
    dry_run: DryRunOption = False,
) -> None:
    """Cut a room in two along a line; the larger half keeps id, name and readings."""
    line = [read_place(from_, "--from"), *(read_place(one, "--via") for one in via or ()),
            read_place(to, "--to")]  # fmt: skip
    _done(_open(site, floor).split(room, line, (name, other)), dry_run=dry_run)


@edit_app.command("merge", cls=OnceEach)
def merge_command(
    site: SiteArgument,
    floor: FloorOption,
    room: Annotated[list[str], typer.Option(help="A room, by name or id; give two or more.")],
    name: Annotated[str, typer.Option(help="Its name; that of the largest if not.")] = "",
    dry_run: DryRunOption = False,
) -> None:
    """Make one room of neighbours; the wall between is taken in, the largest keeps its id."""
    _done(_open(site, floor).merge(room, name), dry_run=dry_run)


@edit_app.command("rename", cls=OnceEach)
def rename_command(
    site: SiteArgument,
    floor: FloorOption,
    room: RoomOption,
    name: Annotated[str, typer.Option(help="The new name.")],
    readings: Annotated[
        bool,
        typer.Option("--readings", help="Also write it into the readings that say the old one."),
    ] = False,
    dry_run: DryRunOption = False,
) -> None:
    """Give a room another name; its id stays."""
    plan = _open(site, floor).rename(room, name, readings=readings)
    hint = "`hgmap edit rename ... --readings` also writes the new name into the readings"
    _done(plan, dry_run=dry_run, hint="" if readings or not plan.held_anew else hint)


@edit_app.command("add-opening", cls=OnceEach)
def add_opening_command(
    site: SiteArgument,
    floor: FloorOption,
    from_: FromOption,
    to: ToOption,
    state: StateOption = State.OPEN,
    id_: Annotated[
        str | None, typer.Option("--id", help="Its id; made of those of its rooms if not.")
    ] = None,
    dry_run: DryRunOption = False,
) -> None:
    """Put an opening onto the wall that the line runs along, as long as it is wide."""
    places = read_place(from_, "--from"), read_place(to, "--to")
    _done(_open(site, floor).add_opening(*places, state.value, id_), dry_run=dry_run)


@edit_app.command("move-opening", cls=OnceEach)
def move_opening_command(
    site: SiteArgument,
    floor: FloorOption,
    opening: OpeningOption,
    from_: FromOption,
    to: ToOption,
    dry_run: DryRunOption = False,
) -> None:
    """Draw an opening anew; its id and state stay."""
    places = read_place(from_, "--from"), read_place(to, "--to")
    _done(_open(site, floor).move_opening(opening, *places), dry_run=dry_run)


@edit_app.command("close-opening", cls=OnceEach)
def close_opening_command(
    site: SiteArgument,
    floor: FloorOption,
    opening: OpeningOption,
    state: StateOption = State.CLOSED,
    dry_run: DryRunOption = False,
) -> None:
    """Say on the plan that an opening is closed, sealed, or open again."""
    _done(_open(site, floor).close_opening(opening, state.value), dry_run=dry_run)


@edit_app.command("remove-opening", cls=OnceEach)
def remove_opening_command(
    site: SiteArgument, floor: FloorOption, opening: OpeningOption, dry_run: DryRunOption = False
) -> None:
    """Take an opening out of the plan, and out of what rounds say of it."""
    _done(_open(site, floor).remove_opening(opening), dry_run=dry_run)


@edit_app.command("find-rooms", cls=OnceEach)
def find_rooms_command(
    site: SiteArgument,
    floor: FloorOption,
    gap: Annotated[
        float | None,
        typer.Option(
            metavar="METRES", min=0.0, max=0.5, help="Close gaps between walls up to this; 0.05."
        ),
    ] = None,
    refuse: RefuseOption = None,
    dry_run: DryRunOption = False,
) -> None:
    """Add the rooms between the walls of a plan, with the door gaps in these; list each repair."""
    from hgmap.site.importers.refused import numbers_of

    numbers = numbers_of(*refuse or ())
    _done(_open(site, floor).find_rooms(gap_m=gap, refuse=numbers), dry_run=dry_run)


@edit_app.command("copy-floor", cls=OnceEach)
def copy_floor_command(
    site: SiteArgument,
    floor: FloorOption,
    to: Annotated[str, typer.Option(help="Name of the new floor, as readings will call it.")],
    title: Annotated[str, typer.Option(help="Of the new floor, as printed.")] = "",
    dry_run: DryRunOption = False,
) -> None:
    """Copy a floor upwards: plan, names, openings and north; no picture, grids or readings."""
    _done(_open(site, floor).copy_floor(to, title), dry_run=dry_run)


@edit_app.command("keep", cls=OnceEach)
def keep_command(
    site: SiteArgument,
    finding: Annotated[
        list[int],
        typer.Option(metavar="N", help="Number of a finding of `hgmap check`; give it again."),
    ],
    dry_run: DryRunOption = False,
) -> None:
    """Say of findings of the check that it stands so in the building: they are asked no more."""
    from hgmap.editing.plan_check import check_plans, finding_of

    check = check_plans(site)
    by_floor: dict[str, list[NumberedFinding]] = {}
    for number in dict.fromkeys(finding):
        one = finding_of(check, number)
        by_floor.setdefault(one.floor, []).append(one)
    if len(by_floor) > 1:
        raise HgmapError("the findings are of several floors", where="--finding",
                         todo="keep those of one floor at a time")  # fmt: skip
    ((floor, found),) = by_floor.items()
    plan = _open(site, floor)
    for one in found:
        plan = plan.keep(one.finding)
    _done(plan, dry_run=dry_run)


def _open(site: Path, floor: str) -> OpenPlan:
    from hgmap.editing.open_plan import open_plan

    return open_plan(site, floor)


def _done(plan: OpenPlan, *, dry_run: bool, hint: str = "") -> None:
    """Write it, print it, and end.

    The exit status is 1 where another floor is changed too, readings mean something else, or a plan
    is not read.
    """
    from hgmap.terminal.plan import print_edit
    from hgmap.terminal.results import console_for_results

    more = plan.also_changed or plan.readings
    read = not more and all(one.severity != "error" for one in plan.findings)
    if not dry_run:
        plan.save()
    print_edit(console_for_results(), plan, written=not dry_run, hint=hint)
    raise typer.Exit(0 if read else 1)
