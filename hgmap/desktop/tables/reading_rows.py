"""Rows of the readings table: each cell as it is written, and what is said against it.

No widget is needed here: rows are made beside the window.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, NamedTuple

from hgmap.editing.reading_edits import Location, locate
from hgmap.editing.sheet import ReadingsSheet, read_sheet
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import HgmapError
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Site
from hgmap.site.quality.figures import clock
from hgmap.site.reading import Reading

SHOWN: Final = (
    "id", "floor", "room", "x", "y", "height", "time", "value", "unit", "instrument", "kind",
    "verdict", "note",
)  # fmt: skip
"""The columns of the table, in its order."""

EDITABLE: Final = frozenset(SHOWN) - {"verdict"}
"""The verdict is what the tool says; a person decides otherwise with initials and a reason."""

SIGNS: Final = ("<", ">", "~", "≤", "≥")
_BEFORE: Final = re.compile(r"([<>~≤≥])\s*(\d.*)", re.DOTALL)
_FILE_COLUMNS: Final = tuple(dict.fromkeys((*(one for one in SHOWN if one != "verdict"),
                                            "qualifier", "low")))  # fmt: skip
_RANK: Final = {"held": 0, "usable with a caution": 1, "usable": 2}
_DIGITS: Final = re.compile(r"\d{1,11}")


class Complaint(NamedTuple):
    """What is said against a cell: whether it holds the reading, and why."""

    held: bool
    text: str


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading as it is written.

    Attributes
    ----------
    written : mapping of column to str
        Cells of its file; ``qualifier`` and ``low`` too.
    derived : mapping of column to str
        What the tool took for a cell that is empty.
    complaints : mapping of column to tuple of Complaint
    qualifier_column : bool
        Whether its file keeps qualifiers in a column of their own.
    """

    reading: Reading
    name: str
    line: int
    written: Mapping[str, str]
    derived: Mapping[str, str]
    complaints: Mapping[str, tuple[Complaint, ...]]
    qualifier_column: bool = False

    @property
    def location(self) -> Location:
        """The file and the line that it was read from."""
        return Location(self.name, self.line)

    def text(self, column: str) -> str:
        """Return a cell as it is written; the verdict in words."""
        if column == "verdict":
            return self.reading.verdict
        if column == "value":
            return value_text(self.written)
        return self.written.get(column, "")


def value_text(written: Mapping[str, str]) -> str:
    """Return value and qualifier as one reads them.

    Examples
    --------
    >>> value_text({"value": "0.05", "qualifier": "<"})
    '<0.05'
    >>> value_text({"value": "0.4", "qualifier": "to", "low": "0.2"})
    '0.2 to 0.4'
    """
    value, qualifier = written.get("value", ""), written.get("qualifier", "")
    if not qualifier:
        return value
    if qualifier in SIGNS:
        return value if value.startswith(qualifier) else f"{qualifier}{value}"
    if qualifier.casefold() == "to" and written.get("low"):
        return f"{written['low']} to {value}"
    return f"{value} {qualifier}".strip()


def changes_of(row: ReadingRow, column: str, text: str) -> dict[str, str]:
    """Return what is written where, for a text that a person typed into a cell.

    A value takes its qualifier with it, into the column that the file has for it.
    """
    if column not in EDITABLE:
        return {}
    line = " ".join(text.split())
    if line == row.text(column):
        return {}
    if column != "value":
        return {column: line}
    changes = {"value": line}
    old = row.written.get("qualifier", "")
    if row.written.get("low"):
        changes["low"] = ""
    if not row.qualifier_column:
        return changes
    sign = _BEFORE.fullmatch(line)
    if sign:
        return changes | {"value": sign[2], "qualifier": sign[1]}
    if old and old not in SIGNS and line.endswith(f" {old}"):
        return changes | {"value": line.removesuffix(old).strip()}
    return changes | {"qualifier": ""}


def rows_of(
    files: SiteFiles, site: Site, stop: Callable[[], bool] = lambda: False
) -> tuple[ReadingRow, ...]:
    """Make the rows of every reading of a site."""
    sheets: dict[str, tuple[ReadingsSheet, dict[str, int]] | None] = {}
    rows: list[ReadingRow] = []
    for number, one in enumerate(site.readings):
        if number % 500 == 0 and stop():
            return ()
        try:
            name, line = locate(files, one.where)
        except HgmapError:
            continue
        if name not in sheets:
            sheets[name] = _sheet(files, name)
        found = sheets[name]
        if found is not None and line in found[0].row_at:
            rows.append(_row(one, name, line, *found))
    return tuple(rows)


def _sheet(files: SiteFiles, name: str) -> tuple[ReadingsSheet, dict[str, int]] | None:
    try:
        sheet = read_sheet(files.data(name), name=name)
    except HgmapError:
        return None  # the site's own problems say so
    places = {one: sheet.position(one) for one in _FILE_COLUMNS}
    return sheet, {one: at for one, at in places.items() if at is not None}


def _row(
    one: Reading, name: str, line: int, sheet: ReadingsSheet, places: Mapping[str, int]
) -> ReadingRow:
    cells = sheet.row_at[line]
    written = {
        column: unguarded(cells[at]) for column, at in places.items() if at < len(cells)
    }  # fmt: skip
    derived = {}
    if not written.get("id"):
        derived["id"] = one.id
    if not written.get("room") and one.room:
        derived["room"] = one.room
    if not written.get("x") and one.x is not None and one.y is not None:
        derived["x"], derived["y"] = f"{one.x:.2f}", f"{one.y:.2f}"
    if not written.get("height") and one.height_m is not None:
        derived["height"] = f"{one.height_m:g}"
    return ReadingRow(one, name, line, written, derived, complaints_of(one), "qualifier" in places)


_ABOUT: Final = tuple(
    (column, re.compile(pattern))
    for column, pattern in (
        ("x", r"x '|x \"|x without y|\("),
        ("y", r"y '|y \""),
        ("height", r"height|no height"),
        ("floor", r"floor|no floor|the plan of floor"),
        ("room", r"room|no room|neither a room|no coordinates|offsets|grid place"),
        ("kind", r"kind"),
        ("unit", r"unit|no unit|two units|is not a unit"),
        ("time", r"time|no time|no day|.*is not a time of day"),
        ("value", r"value|no value|a concentration|a range|zero read|qualifier|detection limit|"
                  r"low '|.* read as <|.*above the saturated|.*more than the whole sample|"
                  r".*below the row's detection limit"),
    )
)  # fmt: skip
"""The words that a complaint begins with, and the column that it is about."""


def complaints_of(one: Reading) -> dict[str, tuple[Complaint, ...]]:
    """Return what is said against a reading, by the column that it is about.

    What is about none of them stands with the verdict.
    """
    if not (one.held or one.cautions):
        return {}
    found: dict[str, list[Complaint]] = {}
    for held, texts in ((True, one.held), (False, one.cautions)):
        for text in texts:
            found.setdefault(column_of(text), []).append(Complaint(held, text))
    return {column: tuple(some) for column, some in found.items()}


def column_of(text: str) -> str:
    """Return the column that a complaint is about.

    Examples
    --------
    >>> column_of("x 'abc' is not a number"), column_of("no zero-air check on the day")
    ('x', 'verdict')
    """
    for column, pattern in _ABOUT:
        if pattern.match(text):
            return column
    return "verdict"


def sort_key(column: str) -> Callable[[ReadingRow], Any]:
    """Return what rows are sorted by: numbers as numbers, non-detects beside their limit.

    Rows without anything in the column come last.
    """
    if column in ("x", "y"):
        return lambda row: _number(getattr(row.reading, column), row.text(column))
    if column == "height":
        return lambda row: _number(row.reading.height_m, row.text(column))
    if column == "value":
        return _by_value
    if column == "time":
        return _by_time
    if column == "verdict":
        return lambda row: (_RANK[row.reading.verdict],)
    words: dict[str, tuple[Any, ...]] = {}

    def by_words(row: ReadingRow) -> tuple[Any, ...]:
        text = row.text(column) or row.derived.get(column, "")
        if text not in words:
            words[text] = _words(text)
        return words[text]

    return by_words


def _number(number: float | None, text: str) -> tuple[Any, ...]:
    return (0, number, "") if number is not None else (1 if text else 2, 0.0, text)


def _by_value(row: ReadingRow) -> tuple[Any, ...]:
    one = row.reading
    if one.concentration is None:
        text = row.text("value")
        return (2 if text else 3, 0.0, 0, text)
    side = {"<": -1, ">": 1}.get(one.qualifier, 0)
    # samples of another medium are not on one scale with the air
    return (1 if one.medium else 0, one.concentration, side, one.medium)


def _by_time(row: ReadingRow) -> tuple[Any, ...]:
    when = row.reading.time
    text = row.text("time")
    return (0, clock(when), "") if when is not None else (1 if text else 2, datetime.max, text)


def _words(text: str) -> tuple[Any, ...]:
    """Sort B2 before B10, capitals or not; nothing last."""
    return (not text, _DIGITS.sub(lambda one: one[0].zfill(12), text.casefold()))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which rows are shown; an empty floor: all floors."""

    round: str = ""
    floor: str = ""
    held_only: bool = False
    words: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """The rounds and the floors that a site has."""

    rounds: frozenset[str] = frozenset()
    floors: frozenset[str] = frozenset()


def chosen_rows(rows: Sequence[ReadingRow], wanted: Wanted, known: Known) -> list[int]:
    """Return the positions of the rows that are wanted.

    A reading whose round or floor is none of the site's (``known``) is shown with every one: else
    nobody would find it.
    """
    words = wanted.words.casefold().split()
    found = []
    for k, row in enumerate(rows):
        one = row.reading
        if wanted.round and one.round != wanted.round and one.round in known.rounds:
            continue
        if wanted.floor and one.floor != wanted.floor and one.floor in known.floors:
            continue
        if wanted.held_only and not one.held:
            continue
        if words and not _says(row, words):
            continue
        found.append(k)
    return found


def _says(row: ReadingRow, words: Sequence[str]) -> bool:
    all_of_it = " ".join((
        *row.written.values(), *row.derived.values(), row.text("value"), row.reading.verdict,
        *row.reading.held, *row.reading.cautions,
    )).casefold()  # fmt: skip
    return all(one in all_of_it for one in words)
