"""Tables of rooms as people write them: titles with units, lengths in metres or feet and inches."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from hgmap.errors import PlanError, ReadingsError
from hgmap.site.intake.workbook import ZIP_SIGNATURE, open_workbook
from hgmap.site.lengths import FOOT_M, INCH_M
from hgmap.site.model import Problem
from hgmap.site.textfile import DecimalMarks, parse_a_number, read_table

LengthUnit = Literal["m", "ft"]
Rows = Sequence[tuple[int, Sequence[str]]]

LOOKED_AT: Final = 60
"""A row of titles stands among so many first rows."""

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "name": ("name", "room", "room name", "space", "space name"),
    "id": ("id", "room id", "no", "no.", "number", "room no", "room number"),
    "length": ("length", "room length", "wall length", "distance"),
    "width": ("width", "breadth", "room width"),
    "depth": ("depth", "room depth"),
    "area": ("area", "floor area", "room area"),
    "x": ("x", "x west", "west"),
    "y": ("y", "y south", "south"),
    "storey": ("floor", "storey", "story", "level"),
    "wall": ("wall", "side", "leg", "wall side"),
    "direction": ("direction", "bearing", "azimuth", "heading"),
    "turn": ("turn", "turn or bearing"),
    "door_from": ("from corner", "door from corner", "door from", "door at"),
    "door_width": ("door width", "opening width"),
    "to_room": ("to room", "to", "door to", "leads to"),
    "thickness": ("wall thickness", "thickness"),
}
WORDS: Final = ("name", "id", "storey", "wall", "direction", "turn", "to_room")
"""Columns that hold no length."""

ONCE: Final = ("length", "width", "depth", "x", "y")
"""Columns of which two in one unit would be two answers; one in feet beside it is the same."""

UNITS: Final[Mapping[str, float]] = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "m2": 1.0, "m²": 1.0,
    "sqm": 1.0, "sq m": 1.0, "ft": FOOT_M, "foot": FOOT_M, "feet": FOOT_M, "ft2": FOOT_M,
    "ft²": FOOT_M, "sqft": FOOT_M, "sq ft": FOOT_M, "cm": 0.01, "mm": 0.001, "in": INCH_M,
    "inch": INCH_M, "inches": INCH_M,
}  # fmt: skip
_FEET = re.compile(
    r"""(\d{1,4})\s*(?:'|ft)\s*(?:-?\s*(\d{1,2}(?:\.\d+)?)(?:[\s-]+(\d{1,2})/(\d{1,2}))?"""
    r"""\s*(?:"|in)?)?"""
)
_INCHES = re.compile(r"""(\d{1,5}(?:\.\d+)?)\s*"(?!.)""")
_WITH_UNIT = re.compile(r"([^a-z]*\d[.,]?)\s*(m|cm|mm|ft|in)", re.IGNORECASE)
_SPELLINGS = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"'})


@dataclass(frozen=True, slots=True)
class Titles:
    """The row of the titles, the position of each column that is known, and its metres a unit."""

    row: int
    columns: Mapping[str, int]
    factors: Mapping[str, float]

    def texts(self, cells: Sequence[str]) -> dict[str, str]:
        """Return the cells of a row by column; empty where the row ends before."""
        return {key: cell_at(cells, position) for key, position in self.columns.items()}


def read_rows(data: bytes, *, where: str, sheet: str | None) -> tuple[Rows, list[Problem]]:
    """Split a CSV, TSV or XLSX file into rows; a workbook with several tables has to be asked.

    Raises
    ------
    PlanError
        If it is no table, or which sheet is meant has to be said.
    """
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


def find_titles(
    rows: Rows, factor: float, *, enough: Callable[[Collection[str]], bool], where: str
) -> Titles:
    """Find the first row whose titles are ``enough``; ``factor`` is of titles without a unit.

    Raises
    ------
    PlanError
        If there is none.
    """
    best: dict[str, int] = {}
    for number, cells in rows[:LOOKED_AT]:
        columns: dict[str, int] = {}
        factors: dict[str, float] = {}
        twice: list[str] = []
        for position, cell in enumerate(cells):
            key, unit = _title(cell)
            if key == "name" and "name" in columns and "id" not in columns:
                key = "id"  # "Room" and "Name": the first is its number
                if "name" in cell.casefold():
                    columns["id"], factors["id"] = columns.pop("name"), 1.0
                    key = "name"
            if key and key not in columns:
                columns[key], factors[key] = position, UNITS[unit] if unit else factor
            elif key in ONCE and factors[key] == (UNITS[unit] if unit else factor):
                twice.append(cell.strip())
        if enough(columns):
            if twice:
                raise PlanError(
                    f"two columns are called {twice[0][:40]!r}, or mean the same", where=where,
                    todo="take the one that does not hold out of the table",
                )  # fmt: skip
            return Titles(number, columns, factors)
        best = max(best, columns, key=len)
    missing = [key for key in ("name", "length", "width") if key not in best]
    raise PlanError(
        f"no row of titles has {' and '.join(missing) or 'what a room needs'}",
        where=where,
        todo="give the columns the titles name, length and width (or area)",
    )


def _title(cell: str) -> tuple[str, str]:
    text = " ".join(cell.casefold().replace("_", " ").split())
    bare = re.sub(r"\s*[(\[,]\s*([^)\]]*)[)\]]?$", r" \1", text).strip()
    for key, titles in COLUMNS.items():
        for title in titles:
            rest = bare.removeprefix(title).strip() if bare.startswith(title) else None
            if rest == "" or (rest is not None and rest in UNITS and bare[len(title)] == " "):
                return key, rest
    return "", ""


def cell_at(cells: Sequence[str], position: int) -> str:
    """Return a cell, empty where the row ends before it."""
    return cells[position].strip() if position < len(cells) else ""


def metres(key: str, text: str, factor: float, marks: DecimalMarks) -> float | None:
    """Return a length in metres, or an area in square metres; None for an empty cell.

    Raises
    ------
    PlanError
        If it is none.

    Examples
    --------
    >>> round(metres("width", "12' 6 1/2", 1.0, DecimalMarks()), 4)
    3.8227
    >>> metres("width", "250 cm", 1.0, DecimalMarks())
    2.5
    """
    spelled = text.translate(_SPELLINGS)
    if key != "area":
        if feet := _FEET.fullmatch(spelled):
            inches = float(feet[2] or 0)
            if feet[3]:
                if not int(feet[4]):
                    raise PlanError(f"{key} {text[:40]!r} is not a number")
                inches += int(feet[3]) / int(feet[4])
            return float(feet[1]) * FOOT_M + inches * INCH_M
        if only := _INCHES.fullmatch(spelled):
            return float(only[1]) * INCH_M
        if said := _WITH_UNIT.fullmatch(spelled):
            spelled, factor = said[1], UNITS[said[2].casefold()]
    value, complaint = parse_a_number(spelled if key != "area" else text, marks)
    if complaint:
        raise PlanError(f"{key} {text[:40]!r}{complaint}")
    if value is None:
        return None
    return value * factor**2 if key == "area" else value * factor
