"""A sampling plan: a table of how many readings somebody means to take, and where."""

from __future__ import annotations

import difflib
from typing import Final, get_args

from hgmap.errors import HgmapError
from hgmap.site.columns import known_columns
from hgmap.site.model import PlannedReadings, Problem
from hgmap.site.reading import ReadingKind
from hgmap.site.textfile import read_table

COLUMNS: Final = ("round", "floor", "room", "band", "kind", "count")
KINDS: Final[tuple[ReadingKind, ...]] = get_args(ReadingKind)
MOST: Final = 100_000


def read_sampling_plan(data: bytes, *, where: str) -> tuple[list[PlannedReadings], list[Problem]]:
    """Read a sampling plan.

    Parameters
    ----------
    data : bytes
        A CSV with the columns ``round, floor, room, band, kind, count``; only ``count`` has to be
        there. An empty cell means any; an empty ``kind`` means ``reading``.
    where : str
        Name of the file, for messages.

    Returns
    -------
    list of PlannedReadings
        The rows that can be used.
    list of Problem
        Severity ``"error"`` where the whole file cannot be read, ``"warning"`` for a row that is
        left out, ``"note"`` for a column that is not read.
    """
    problems: list[Problem] = []
    try:
        table = read_table(data, where=where)
        index = known_columns(
            table, COLUMNS, ("count",), problems, where=where, name_of=str.casefold
        )
    except HgmapError as error:
        return [], [*problems, Problem("error", error.where or where, error.message, error.todo)]
    planned = []
    for number, cells in table.rows:
        place = f"{where}, row {number}"
        row = {name: cells[i] if i < len(cells) else "" for name, i in index.items()}
        kind, wrong = _kind(row.get("kind", ""))
        count = _count(row["count"])
        if count is None:
            wrong = f"count {row['count']!r} is not a whole number from 1 to {MOST}"
        if wrong or count is None:
            todo = "mend the row; nothing is held against it until then"
            problems.append(Problem("warning", place, wrong, todo))
            continue
        planned.append(
            PlannedReadings(
                row.get("round", ""), row.get("floor", ""), row.get("room", ""),
                row.get("band", ""), kind, count, place,
            )
        )  # fmt: skip
    if not planned and not problems:
        problems.append(Problem("warning", where, "the sampling plan has no row", "write one"))
    return planned, problems


def _kind(text: str) -> tuple[ReadingKind, str]:
    """Return the kind that a cell names, and what is wrong with it."""
    name = " ".join(text.casefold().split())
    if not name:
        return "reading", ""
    if name in KINDS:
        return name, ""
    near = difflib.get_close_matches(name, KINDS, n=1)
    hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(KINDS)}"
    return "reading", f"kind {text!r} is not known; {hint}"


def _count(text: str) -> int | None:
    if not (text.isascii() and text.isdigit() and len(text) <= len(str(MOST))):
        return None
    return int(text) if 1 <= int(text) <= MOST else None
