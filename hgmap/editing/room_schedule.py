"""A room schedule (names and sizes in a table) becomes a plan of rectangles to drag into place."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from shapely import box

from hgmap.editing.plan_checks import overlaps, span_m
from hgmap.editing.plan_draft import PlanDraft, millimetres, raw_feature
from hgmap.errors import PlanError, ReadingsError
from hgmap.site.importers.names import one_line_text, unique_ids, unique_names
from hgmap.site.intake.cells import unguarded
from hgmap.site.intake.workbook import ZIP_SIGNATURE, open_workbook
from hgmap.site.model import Problem
from hgmap.site.plan import LONGEST_BUILDING_M, OVERLAP_ALLOWED_M2
from hgmap.site.textfile import DecimalMarks, decimal_marks, parse_a_number, read_table

LengthUnit = Literal["m", "ft"]

FOOT_M: Final = 0.3048
GAP_M: Final = 1.0
"""Between rooms that are laid out (m)."""

SHORTEST_SIDE_M: Final = 0.3
LONGEST_SIDE_M: Final = 500.0
"""A side that is shorter or longer (m) is a slip, or in another unit. Ours, no source."""

MOST_ROOMS: Final = 5000
LOOKED_AT: Final = 60
AREA_AGREES: Final = 0.05

_COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "name": ("name", "room", "room name", "space", "space name"),
    "id": ("id", "room id", "no", "no.", "number", "room no", "room number"),
    "length": ("length", "room length"),
    "width": ("width", "breadth", "room width"),
    "area": ("area", "floor area", "room area"),
    "x": ("x", "x west", "west"),
    "y": ("y", "y south", "south"),
}
_UNITS: Final[Mapping[str, float]] = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "m2": 1.0, "m²": 1.0,
    "sqm": 1.0, "sq m": 1.0, "ft": FOOT_M, "foot": FOOT_M, "feet": FOOT_M, "ft2": FOOT_M,
    "ft²": FOOT_M, "sqft": FOOT_M, "sq ft": FOOT_M, "cm": 0.01, "mm": 0.001,
}  # fmt: skip
_FEET = re.compile(r"""(\d{1,4})\s*(?:'|ft)\s*(?:-?\s*(\d{1,2}(?:\.\d+)?)\s*(?:"|in)?)?""")
_SPELLINGS = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"'})

Rows = Sequence[tuple[int, Sequence[str]]]


@dataclass(frozen=True)
class RoomSchedule:
    """The plan made of a schedule, and what a person should know about its rows."""

    draft: PlanDraft
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class _Room:
    row: int
    name: str
    id: str
    length_m: float
    width_m: float
    at: tuple[float, float] | None


def read_room_schedule(
    data: bytes,
    *,
    where: str,
    units: LengthUnit = "m",
    sheet: str | None = None,
    gap_m: float = GAP_M,
) -> RoomSchedule:
    """Make a plan of a room schedule.

    Parameters
    ----------
    data : bytes
        CSV or XLSX with the columns name, length and width (or area), and where they are known
        id, x and y of the lower left corner. Lengths run along x, widths along y.
    where : str
        Name of the file.
    units : {"m", "ft"}
        Of columns whose titles do not say theirs.
    sheet : str, optional
        Of a workbook with several.
    gap_m : float
        Between the rooms that are laid out (m).

    Returns
    -------
    RoomSchedule
        Rooms without a place stand in rows, in the order of the table; there are no openings.

    Raises
    ------
    PlanError
        If it is no table, lacks a column, or no row of it can be used.
    """
    rows, problems = _rows(data, where=where, sheet=sheet)
    header, columns, factors = _header(rows, FOOT_M if units == "ft" else 1.0, where=where)
    body = [row for row in rows if row[0] > header]
    numbers = [columns[key] for key in columns if key not in ("name", "id")]
    marks = decimal_marks(_cell(cells, n) for _, cells in body for n in numbers)
    rooms: list[_Room] = []
    for number, cells in body:
        texts = {key: _cell(cells, n) for key, n in columns.items()}
        if not any(texts.values()):
            continue
        place = f"{where}, row {number}"
        try:
            room, notes = _room(number, texts, factors, marks)
        except PlanError as error:
            todo = error.todo or "mend the row and read the table again"
            problems.append(Problem("held", place, f"left out: {error.message}", todo))
            continue
        problems += [Problem("note", place, note) for note in notes]
        rooms.append(room)
    if not rooms:
        held = [one for one in problems if one.severity == "held"]
        first = f" ({held[0].where.rpartition(', ')[2]} {held[0].message})" if held else ""
        raise PlanError(f"no row is a room{first}", where=where, todo="mend the table")
    if len(rooms) > MOST_ROOMS:
        raise PlanError(
            f"has {len(rooms)} rooms",
            where=where,
            todo=f"at most {MOST_ROOMS}: one floor at a time",
        )
    return RoomSchedule(_draft(rooms, gap_m, problems, where=where), tuple(problems))


def _rows(data: bytes, *, where: str, sheet: str | None) -> tuple[Rows, list[Problem]]:
    try:
        if data.startswith(ZIP_SIGNATURE):
            opened = open_workbook(data, where=where, sheet=sheet)
            notes = [Problem("note", opened.where, one) for one in opened.notes]
            return [row for row in opened.rows() if any(row[1])], notes
        table = read_table(data, where=where)
    except ReadingsError as error:
        message, todo = error.message, error.todo
        if "--sheet" in todo:  # it speaks of readings, for those are what others look for
            todo = "say which sheet holds the rooms"
            message = message.replace("hold readings", "may hold rooms")
            message = message.replace(" of readings", "")
        raise PlanError(message, where=error.where, todo=todo) from None
    notes = [Problem("note", where, table.remark)] if table.remark else []
    return [(table.header_line, table.header), *table.rows], notes


def _header(
    rows: Rows, factor: float, *, where: str
) -> tuple[int, dict[str, int], dict[str, float]]:
    """Return the row of the titles, the column of each that is known, and its metres a unit."""
    best: dict[str, int] = {}
    for number, cells in rows[:LOOKED_AT]:
        columns: dict[str, int] = {}
        factors: dict[str, float] = {}
        for position, cell in enumerate(cells):
            key, unit = _title(cell)
            if key == "name" and "name" in columns and "id" not in columns:
                key = "id"  # "Room" and "Name": the first is its number
                if "name" in cell.casefold():
                    columns["id"], factors["id"] = columns.pop("name"), 1.0
                    key = "name"
            if key and key not in columns:
                columns[key], factors[key] = position, _UNITS[unit] if unit else factor
        if "name" in columns and ({"length", "width"} <= set(columns) or "area" in columns):
            return number, columns, factors
        best = max(best, columns, key=len)
    missing = [key for key in ("name", "length", "width") if key not in best]
    raise PlanError(
        f"no row of titles has {' and '.join(missing)}",
        where=where,
        todo="give the columns the titles name, length and width (or area)",
    )


def _title(cell: str) -> tuple[str, str]:
    text = " ".join(cell.casefold().replace("_", " ").split())
    bare = re.sub(r"\s*[(\[,]\s*([^)\]]*)[)\]]?$", r" \1", text).strip()
    for key, titles in _COLUMNS.items():
        for title in titles:
            rest = bare.removeprefix(title).strip() if bare.startswith(title) else None
            if rest == "" or (rest is not None and rest in _UNITS and bare[len(title)] == " "):
                return key, rest
    return "", ""


def _cell(cells: Sequence[str], position: int) -> str:
    return cells[position].strip() if position < len(cells) else ""


def _room(
    row: int, texts: Mapping[str, str], factors: Mapping[str, float], marks: DecimalMarks
) -> tuple[_Room, list[str]]:
    name = one_line_text(unguarded(texts["name"]))
    identifier = one_line_text(unguarded(texts.get("id", "")))
    if not (name or identifier):
        raise PlanError("it has no name")
    found = {
        key: _metres(key, text, factors[key], marks)
        for key, text in texts.items()
        if key not in ("name", "id")
    }
    notes = []
    length, width, area = (found.get(key) for key in ("length", "width", "area"))
    if length is None and width is None and area is not None:
        if not area > 0:
            raise PlanError(f"an area of {texts['area']}")
        length = width = math.sqrt(area)
        notes.append(f"{name or identifier!r} has an area only: drawn as a square")
    if length is None or width is None:
        raise PlanError(f"it has no {'length' if length is None else 'width'}")
    for side, key in ((length, "length"), (width, "width")):
        if not SHORTEST_SIDE_M <= side <= LONGEST_SIDE_M:
            raise PlanError(
                f"a {key} of {side:.4g} m",
                todo=f"{SHORTEST_SIDE_M:g} to {LONGEST_SIDE_M:g} m; is it in another unit?",
            )
    if area is not None and abs(length * width - area) > AREA_AGREES * max(length * width, area):
        notes.append(f"length by width is {length * width:.2f} m², the table says {area:.2f} m²")
    x, y = found.get("x"), found.get("y")
    at = (x, y) if x is not None and y is not None else None
    if at is not None and max(map(abs, at)) > LONGEST_BUILDING_M:
        raise PlanError(f"it lies at x {at[0]:.6g}, y {at[1]:.6g} m")
    if (x is None) != (y is None):
        notes.append("one of x and y alone gives no place: laid out in the rows")
    return _Room(row, name, identifier, length, width, at), notes


def _metres(key: str, text: str, factor: float, marks: DecimalMarks) -> float | None:
    """Return a length in metres, or an area in square metres; None for an empty cell."""
    feet = _FEET.fullmatch(text.translate(_SPELLINGS)) if key != "area" else None
    if feet is not None:
        return (float(feet[1]) + float(feet[2] or 0) / 12) * FOOT_M
    value, complaint = parse_a_number(text, marks)
    if complaint:
        raise PlanError(f"{key} {text[:40]!r}{complaint}")
    if value is None:
        return None
    return value * factor**2 if key == "area" else value * factor


def _draft(
    rooms: Sequence[_Room], gap_m: float, problems: list[Problem], *, where: str
) -> PlanDraft:
    names = unique_names([one.name or one.id for one in rooms])
    taken = {name.casefold() for name in names}
    # an id that is another room's name would let one word mean two rooms
    own = [
        "" if one.id.casefold() in taken and one.id.casefold() != name.casefold() else one.id
        for one, name in zip(rooms, names, strict=True)
    ]
    ids = unique_ids(own, letter="R", names=names)
    for one, name, identifier in zip(rooms, names, ids, strict=True):
        place = f"{where}, row {one.row}"
        if name != (one.name or one.id):
            problems.append(Problem("note", place, f"a name stands twice: this is {name!r} now"))
        if one.id and identifier != one.id:
            problems.append(
                Problem("note", place, f"id {one.id!r} stands twice: this is {identifier!r} now")
            )
    draft, late = _with_places(rooms, names, ids)
    overlapping = "overlaps a room above it: laid out in the rows"
    problems += [Problem("note", f"{where}, row {rooms[n].row}", overlapping) for n in sorted(late)]
    loose = [n for n, one in enumerate(rooms) if one.at is None or n in late]
    placed = [room.polygon.bounds for room in draft.sound_rooms.values()]
    west = max((bounds[2] for bounds in placed), default=-gap_m) + gap_m
    south = min((bounds[1] for bounds in placed), default=0.0)
    corners = _in_rows([(rooms[n].length_m, rooms[n].width_m) for n in loose], gap_m)
    raws = {one.id: one.raw for one in draft.features}
    for n, (x, y) in zip(loose, corners, strict=True):
        raws[ids[n]] = _raw(rooms[n], names[n], ids[n], (west + x, south + y))
    draft = PlanDraft().edited(added=[raws[identifier] for identifier in ids])
    if span_m(draft) > LONGEST_BUILDING_M:
        raise PlanError(
            f"its rooms span {span_m(draft):.0f} m", where=where, todo="check x, y and the unit"
        )
    return draft


def _with_places(
    rooms: Sequence[_Room], names: Sequence[str], ids: Sequence[str]
) -> tuple[PlanDraft, set[int]]:
    """Return a draft of the rooms whose place is known, and the numbers of those that overlap."""
    known = [n for n, one in enumerate(rooms) if one.at is not None]
    raws = [_raw(rooms[n], names[n], ids[n], rooms[n].at or (0.0, 0.0)) for n in known]
    draft = PlanDraft().edited(added=raws)
    number = {one.key: n for one, n in zip(draft.features, known, strict=True)}
    late: set[int] = set()
    pairs = [
        sorted((number[a], number[b]))
        for (a, b), shared in overlaps(draft).items()
        if shared > OVERLAP_ALLOWED_M2
    ]
    for first, second in sorted(pairs):
        if first not in late:
            late.add(second)
    return draft.edited({key: None for key, n in number.items() if n in late}), late


def _in_rows(sizes: Sequence[tuple[float, float]], gap_m: float) -> list[tuple[float, float]]:
    """Return the lower left corners of rectangles laid out in rows, the first row at the top."""
    ground = sum((length + gap_m) * (width + gap_m) for length, width in sizes)
    broad = max([1.3 * math.sqrt(ground), *(length for length, _ in sizes)])
    rows: list[list[int]] = []
    x = 0.0
    for n, (length, _) in enumerate(sizes):
        if not rows or x + length > broad:
            rows.append([])
            x = 0.0
        rows[-1].append(n)
        x += length + gap_m
    corners = [(0.0, 0.0)] * len(sizes)
    y = 0.0
    for row in reversed(rows):
        x = 0.0
        for n in row:
            corners[n] = (x, y)
            x += sizes[n][0] + gap_m
        y += max(sizes[n][1] for n in row) + gap_m
    return corners


def _raw(room: _Room, name: str, identifier: str, at: tuple[float, float]) -> dict[str, object]:
    x, y = at
    outline = millimetres(box(x, y, x + room.length_m, y + room.width_m, ccw=False))
    return raw_feature("room", outline, id=identifier, name=name)
