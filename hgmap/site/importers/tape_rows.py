"""Rows of a tape: a row a wall, in the order that somebody walks along them.

Columns: room, direction (or turn) and length; and where they are there id, floor, wall, x and y of
the first corner, from corner (how far a door stands from where its wall begins), door width, to
room, wall thickness. A row without a length is a further door in the wall that it names, or else
in the wall above it. A first wall that says no direction runs to the right on the plan.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import shapely
from shapely import Polygon

from hgmap.errors import PlanError
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.schedule_cells import WORDS, Rows, Titles, metres
from hgmap.site.importers.schedule_model import ScheduledDoor, ScheduledRoom, named, refuse_too_many
from hgmap.site.importers.tape import Corners, Direction, close, read_direction
from hgmap.site.importers.tape_join import TapedDoor, TapedRoom, place_rooms
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Problem
from hgmap.site.plan import LONGEST_BUILDING_M
from hgmap.site.textfile import DecimalMarks, decimal_marks

SHORTEST_WALL_M: Final = 0.02
LONGEST_WALL_M: Final = 500.0
SMALLEST_ROOM_M2: Final = 0.1
NARROWEST_DOOR_M: Final = 0.2
DOOR_MAY_STAND_OUT_M: Final = 0.05
"""A door may reach past its wall's end by this much (m): the error of a tape."""

TOLD_M: Final = 0.005
USUAL_THICKNESS_M: Final = 0.1
"""Of a wall between two rooms, where nobody says (m); common practice, no source."""


@dataclass
class _Walk:
    """The walls of one room as they are gathered."""

    row: int
    name: str
    id: str
    storey: str
    walls: list[str] = field(default_factory=list)
    directions: list[Direction | None] = field(default_factory=list)
    lengths: list[float] = field(default_factory=list)
    doors: list[TapedDoor] = field(default_factory=list)
    at: tuple[float, float] | None = None


def are_taped(columns: Collection[str]) -> bool:
    """Tell whether titles are those of a tape."""
    has = set(columns)
    return {"name", "length"} <= has and bool({"direction", "turn"} & has)


def read_taped(
    rows: Rows, titles: Titles, problems: list[Problem], *, gap_m: float, where: str
) -> tuple[list[ScheduledRoom], list[ScheduledDoor]]:
    """Make rooms of the walls of a tape; a room that cannot be closed is told and left out."""
    numbers = [titles.columns[key] for key in titles.columns if key not in WORDS]
    marks = decimal_marks(cells[n].strip() for _, cells in rows for n in numbers if n < len(cells))
    walks: dict[tuple[str, str], _Walk] = {}
    broken: dict[tuple[str, str], tuple[int, PlanError]] = {}
    last: tuple[str, str] | None = None
    for number, cells in rows:
        texts = titles.texts(cells)
        if not any(texts.values()):
            continue
        key = _key(texts) or last
        if key is None:
            problems.append(
                Problem("held", f"{where}, row {number}", "left out: it names no room",
                        "name the room of each wall")
            )  # fmt: skip
            continue
        last = key
        walk = walks.setdefault(key, _new_walk(number, texts, key))
        try:
            _add(walk, number, texts, titles, marks)
        except PlanError as error:
            broken.setdefault(key, (number, error))
    closed: list[tuple[_Walk, Corners]] = []
    for key, walk in walks.items():
        row = broken[key][0] if key in broken else walk.row
        try:
            if key in broken:
                raise broken[key][1]
            corners, note = _corners(walk)
        except PlanError as complaint:
            problems.append(
                Problem("held", f"{where}, row {row}",
                        f"room {walk.name!r} left out: {complaint.message}",
                        complaint.todo or "mend its rows and read the table again")
            )  # fmt: skip
            continue
        if note:
            problems.append(Problem("note", f"{where}, row {walk.row}", note))
        closed.append((walk, corners))
    refuse_too_many(len(closed), where=where)
    rooms: list[ScheduledRoom] = []
    doors: list[ScheduledDoor] = []
    for storey in dict.fromkeys(walk.storey for walk, _ in closed):
        own = [one for one in closed if one[0].storey == storey]
        more_rooms, more_doors = _storey(own, problems, gap_m=gap_m, where=where)
        rooms += more_rooms
        doors += more_doors
    return rooms, doors


def _key(texts: Mapping[str, str]) -> tuple[str, str] | None:
    name = one_line_text(unguarded(texts["name"])) or one_line_text(unguarded(texts.get("id", "")))
    storey = one_line_text(unguarded(texts.get("storey", "")))
    return (storey.casefold(), name.casefold()) if name else None


def _new_walk(number: int, texts: Mapping[str, str], key: tuple[str, str]) -> _Walk:
    words = {name: one_line_text(unguarded(texts.get(name, ""))) for name in WORDS}
    return _Walk(number, words["name"] or words["id"], words["id"], words["storey"])


def _add(
    walk: _Walk, number: int, texts: Mapping[str, str], titles: Titles, marks: DecimalMarks
) -> None:
    found = {
        key: metres(key, text, titles.factors[key], marks)
        for key, text in texts.items()
        if key not in WORDS
    }
    length = found.get("length")
    wall = one_line_text(unguarded(texts.get("wall", "")))
    if length is not None:
        if not SHORTEST_WALL_M <= length <= LONGEST_WALL_M:
            raise PlanError(
                f"a wall of {length:.4g} m",
                todo=f"{SHORTEST_WALL_M:g} to {LONGEST_WALL_M:g} m; is it in another unit?",
            )
        turns = "turn" in titles.columns and not texts.get("direction")
        said = texts.get("direction") or texts.get("turn", "")
        walk.directions.append(read_direction(unguarded(said), turns=turns))
        walk.lengths.append(length)
        walk.walls.append(wall)
    x, y = found.get("x"), found.get("y")
    if x is not None and y is not None and walk.at is None:
        if len(walk.lengths) > 1:
            raise PlanError("x and y are those of a room's first corner")
        if max(abs(x), abs(y)) > LONGEST_BUILDING_M:
            raise PlanError(f"it lies at x {x:.6g}, y {y:.6g} m")
        walk.at = (x, y)
    width = found.get("door_width")
    if width is None:
        if length is None:
            raise PlanError("a row without a length and without a door")
        return
    if length is None and wall:
        known = [n for n, one in enumerate(walk.walls) if one.casefold() == wall.casefold()]
        if not known:
            raise PlanError(f"a door in wall {wall!r}, which is not above it")
        of = known[-1]
    elif walk.walls:
        of = len(walk.walls) - 1
    else:
        raise PlanError("a door before the first wall")
    start = found.get("door_from")
    _check_door(start, width, walk.lengths[of])
    to = one_line_text(unguarded(texts.get("to_room", "")))
    thickness = found.get("thickness")
    walk.doors.append(
        TapedDoor(number, of, start or 0.0, width, to,
                  USUAL_THICKNESS_M if thickness is None else thickness)
    )  # fmt: skip


def _check_door(start: float | None, width: float, wall_m: float) -> None:
    if start is None:
        raise PlanError("a door without its distance from the corner")
    if not width >= NARROWEST_DOOR_M:
        raise PlanError(f"a door {width:.4g} m wide", todo="is it in another unit?")
    if start < 0 or start + width > wall_m + DOOR_MAY_STAND_OUT_M:
        raise PlanError(
            f"a door from {start:.2f} to {start + width:.2f} m in a wall of {wall_m:.2f} m",
            todo="measure it from where the wall begins",
        )


def _corners(walk: _Walk) -> tuple[Corners, str]:
    """Close a room's walls: its corners from the first one, and a note on what was missing."""
    if len(walk.lengths) < 3:
        raise PlanError(f"it has {len(walk.lengths)} walls", todo="give all of them")
    bearings: list[float] = []
    for n, one in enumerate(walk.directions):
        if one is None and n:
            raise PlanError(f"wall {walk.walls[n] or n + 1} has no direction")
        if one is None or (one.turn and not n):
            bearings.append(90.0)
        else:
            bearings.append((bearings[-1] + one.degrees) % 360 if one.turn else one.degrees)
    made = close(bearings, walk.lengths)
    missed = (
        f"its walls miss their beginning by {made.misclosure_m:.3f} m of {made.perimeter_m:.2f} m"
    )
    if made.misclosure_m > made.may_miss_m:
        raise PlanError(
            f"{missed}, more than {made.may_miss_m:.3f} m",
            todo="measure its walls again, or look for a wrong turn",
        )
    outline = Polygon(made.corners)
    if not outline.is_valid or outline.area < SMALLEST_ROOM_M2:
        raise PlanError("its walls cross one another", todo="look for a wrong turn")
    note = f"room {walk.name!r}: {missed}: spread over them (compass rule)"
    return made.corners, note if made.misclosure_m >= TOLD_M else ""


def _storey(
    closed: Sequence[tuple[_Walk, Corners]], problems: list[Problem], *, gap_m: float, where: str
) -> tuple[list[ScheduledRoom], list[ScheduledDoor]]:
    walks = [walk for walk, _ in closed]
    names, ids = named([(one.row, one.name, one.id) for one in walks], problems, where=where)
    taped = [
        TapedRoom(
            walk.row, name, identifier, corners, tuple(walk.doors), walk.at,
            any(one is not None and not one.turn for one in walk.directions),
        )
        for (walk, corners), name, identifier in zip(closed, names, ids, strict=True)
    ]  # fmt: skip
    storey = walks[0].storey
    plan = place_rooms(taped, gap_m=gap_m)
    problems += [Problem("note", f"{where}, row {row}", note) for row, note in plan.notes]
    rooms = [
        ScheduledRoom(one.row, one.name, one.id, storey, Polygon(corners), placed=n in plan.placed)
        for n, (one, corners) in enumerate(zip(taped, plan.corners, strict=True))
    ]
    doors = [ScheduledDoor(row, storey, shapely.LineString(line)) for row, line in plan.doors]
    return rooms, doors
