"""A room schedule: a table of rooms by their sides, or of walls as they were taped."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from hgmap.errors import PlanError, one_line
from hgmap.site.importers.drawing import Drawing, Part
from hgmap.site.importers.schedule_cells import LengthUnit, find_titles, read_rows
from hgmap.site.importers.schedule_layout import GAP_M, span_of
from hgmap.site.importers.schedule_model import Schedule, ScheduledDoor, ScheduledRoom
from hgmap.site.importers.schedule_rectangles import are_rectangles, read_rectangles
from hgmap.site.importers.tape_rows import are_taped, read_taped
from hgmap.site.lengths import FOOT_M
from hgmap.site.plan import LONGEST_BUILDING_M

MOST_BYTES: Final = 32 * 2**20

LAID_APART: Final = (
    "rooms whose place is not in the table are laid side by side and do not know each other: move "
    "them into place"
)
NO_OPENINGS: Final = (
    "no openings in the table: draw the doors, for without them no air passes from room to room"
)


def read_schedule(
    data: bytes,
    *,
    where: str,
    units: LengthUnit = "m",
    sheet: str | None = None,
    gap_m: float = GAP_M,
) -> Schedule:
    """Read the rooms of a table.

    Parameters
    ----------
    data : bytes
        CSV, TSV or XLSX. Rooms by their sides: name, length (along x) and width (along y), or
        width (along x) and depth (along y), or area; and where they are known id, floor, x and y
        of the lower left corner. Rooms by their walls: room, direction (or turn) and length, a
        row a wall, as :mod:`hgmap.site.importers.tape_rows` has them.
    where : str
        Name of the file.
    units : {"m", "ft"}
        Of columns whose titles do not say theirs.
    sheet : str, optional
        Of a workbook with several.
    gap_m : float
        Between the rooms that are laid out (m).

    Raises
    ------
    PlanError
        If it is no table, lacks a column, or no row of it can be used.
    """
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES / 2**20:.0f} MiB", where=where, todo="give the rooms alone"
        )
    rows, problems = read_rows(data, where=where, sheet=sheet)
    titles = find_titles(rows, FOOT_M if units == "ft" else 1.0, enough=_is_enough, where=where)
    body = [row for row in rows if row[0] > titles.row]
    rooms: list[ScheduledRoom]
    doors: list[ScheduledDoor] = []
    if are_taped(titles.columns):
        rooms, doors = read_taped(body, titles, problems, gap_m=gap_m, where=where)
    else:
        rooms = read_rectangles(body, titles, problems, gap_m=gap_m, where=where)
    if not rooms:
        held = [one for one in problems if one.severity == "held"]
        first = f" ({held[0].where.rpartition(', ')[2]} {held[0].message})" if held else ""
        raise PlanError(f"no row is a room{first}", where=where, todo="mend the table")
    schedule = Schedule(tuple(rooms), tuple(doors), tuple(problems))
    for storey in schedule.storeys:
        span = span_of([one.polygon for one in rooms if one.storey == storey])
        if span > LONGEST_BUILDING_M:
            raise PlanError(
                f"its rooms span {span:.0f} m", where=where, todo="check x, y and the unit"
            )
    return schedule


def _is_enough(columns: Collection[str]) -> bool:
    return are_taped(columns) or are_rectangles(columns)


def draw_schedule(
    data: bytes, *, file: str, units: LengthUnit = "m", sheet: str | None = None
) -> tuple[Drawing, ...]:
    """Draw the rooms of a table, a drawing a storey; see :func:`read_schedule`.

    Raises
    ------
    PlanError
        If it is no table, lacks a column, or no row of it can be used.
    """
    schedule = read_schedule(data, where=file, units=units, sheet=sheet)
    said = [one_line(one.message, where=one.where, todo=one.todo) for one in schedule.problems]
    return tuple(_drawing(schedule, storey, said, file=file) for storey in schedule.storeys)


def _drawing(schedule: Schedule, storey: str, said: list[str], *, file: str) -> Drawing:
    rooms = [one for one in schedule.rooms if one.storey == storey]
    doors = [one for one in schedule.doors if one.storey == storey]
    notes = list(said)
    if len(rooms) > 1 and not all(one.placed for one in rooms):
        notes.append(LAID_APART)
    if len(rooms) > 1 and not doors:
        notes.append(NO_OPENINGS)
    parts = [
        Part("room", one.polygon, f"row {one.row} ({one.name})", name=one.name, id=one.id)
        for one in rooms
    ]
    parts += [Part("door", one.line, f"row {one.row}, a door") for one in doors]
    return Drawing(tuple(parts), file, storey=storey, notes=tuple(notes))
