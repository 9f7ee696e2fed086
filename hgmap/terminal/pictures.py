"""What ``hgmap import picture`` and ``hgmap import walls`` print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.table import Table

from hgmap.site.quality.figures import counted
from hgmap.terminal.lines import say
from hgmap.terminal.results import console_for_results

_DRAWN: Final = {"filled": "filled", "double": "two faces", "line": "one line"}

if TYPE_CHECKING:
    from hgmap.editing.import_picture import ImportedPicture
    from hgmap.from_picture import WallsRun


def print_picture(done: ImportedPicture, site: Path, floor: str) -> None:
    """Print how a picture lies, and how well its points fit."""
    console = console_for_results()
    if done.points:
        table = Table(box=None, pad_edge=False, header_style="bold")
        for title in ("point", "column", "row", "x m", "y m", "dx m", "dy m", "misses by m"):
            table.add_column(title, justify="right")
        for number, one in enumerate(done.points, start=1):
            table.add_row(
                str(number), f"{one.pixel[0]:g}", f"{one.pixel[1]:g}", f"{one.place[0]:g}",
                f"{one.place[1]:g}", f"{one.dx_m:.3f}", f"{one.dy_m:.3f}", f"{one.miss_m:.3f}",
            )  # fmt: skip
        console.print(table)
        say(console, f"root mean square of the misses: {done.rmse_m:.3f} m, of {len(done.points)} "
                     "points, said less fitted")  # fmt: skip
    for text in done.notes:
        say(console, f"note: {text}")
    for text in done.doubts:
        say(console, f"warning: {text}")
    picture, (wide, high) = done.picture, done.read.kept_px
    say(console,
        f"{site / picture.file}: {wide} by {high} pixels of {picture.m_per_px * 1000:.4g} mm, "
        f"{done.width_m:.2f} m by {done.height_m:.2f} m, turned {picture.angle_deg:.2f} degrees, "
        f"upper left corner at {picture.origin_x_m:.3f}, {picture.origin_y_m:.3f} m")  # fmt: skip
    if picture.guessed:
        say(console, f"to place it, count pixels in {picture.file} and import that with --replace "
                     "and two --point")  # fmt: skip
    elif done.made_floor:
        say(console, f"floor {floor!r} has no room yet: draw after the picture in `hgmap desktop`, "
                     "or let `hgmap import walls` propose")  # fmt: skip
    if done.made_site:
        say(console, "a new site: say in site.toml what the building is used for, if it is not "
                     "there yet, and the action level")  # fmt: skip


def print_walls(run: WallsRun, floor: str) -> None:
    """Print what is proposed, and what of it went into the plan."""
    console = console_for_results()
    found = run.proposals
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("number", "length m", "thick m", "ink under it", "from x, y m", "to x, y m"):
        table.add_column(title, justify="right")
    table.add_column("drawn")
    for wall in found.walls:
        table.add_row(
            str(wall.number), f"{wall.length_m:.2f}",
            "" if wall.thickness_m is None else f"{wall.thickness_m:.2f}", f"{wall.support:.0%}",
            _place(wall.start), _place(wall.end), _DRAWN[wall.kind],
        )  # fmt: skip
    for door in found.doors:
        first, second = door.walls
        table.add_row(
            f"d{door.number}", f"{door.width_m:.2f}", "", "", _place(door.start), _place(door.end),
            f"gap between walls {first} and {second}",
        )  # fmt: skip
    if found.walls:
        console.print(table)
    ways = ", ".join(f"{round(one, 1) % 180.0:.1f}" for one in found.directions_deg)
    say(console, f"{counted(len(found.walls), 'wall')} of {found.length_m:.1f} m, "
                 f"{counted(len(found.doors), 'gap')} as wide as a door; walls run at "
                 f"{ways or 'no'} degrees; ink is as dark as {found.threshold} of 255"
        )  # fmt: skip
    for text in found.notes:
        say(console, f"note: {text}")
    say(console, f"drawn with their numbers: {run.drawn}")
    if run.accepted is None:
        say(console, f"offered only: {run.plan} is as it was; `hgmap import walls ... --accept "
                     "all`, or --accept with numbers, takes them over")  # fmt: skip
        return
    if run.accepted.there:
        say(console, f"on the plan already, and not put there again: "
                     f"{', '.join(run.accepted.there)}")  # fmt: skip
    say(console, f"{run.accepted.walls} walls and {run.accepted.doors} openings (open) written to "
                 f"{run.plan}; look at each, and say how its doors stood")  # fmt: skip
    if not run.accepted.draft.rooms:
        say(console, f"floor {floor!r} has no room yet: a map needs rooms, drawn along these walls "
                     "in `hgmap desktop`")  # fmt: skip


def _place(at: tuple[float, float]) -> str:
    return f"{at[0]:.2f}, {at[1]:.2f}"
