"""Rows of a sheet that came back half filled in: places that were planned and never read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hgmap.site.intake.flags import is_sign
from hgmap.site.intake.kinds import parse_kind
from hgmap.site.intake.mapping import Columns
from hgmap.site.intake.result import parse_result
from hgmap.site.intake.synonyms import concentration_unit
from hgmap.site.quality.figures import counted
from hgmap.site.textfile import DecimalMarks

_PRINTED: Final = (
    "id", "floor", "room", "round", "x", "y", "grid", "offsets", "height", "kind", "duplicate_of",
    "unit", "instrument",
)  # fmt: skip
"""What may be printed or copied down before anybody goes; all else is written by somebody who stood
there, or by a laboratory (ours, no source)."""
_NAMES: Final = ("id", "floor", "room", "round")


class Unfilled:
    """Tells rows that were printed and never filled in from readings that lost their number.

    The first says nothing of its place; the second may be one that went off the scale, and has to
    be held. Our rule, no source: a row was never filled in where it has an id and nothing in any
    column that is written at the place. That is the result and its sign, the time and the day, a
    note, the air's temperature and pressure, a detection limit; also columns of theirs that are
    none of ours, which may be notes. Where it is, its height and kind, its unit and analyser are
    often printed or copied down before anybody goes, and say nothing, unless a result slipped into
    one of them: a sign or a word of a result, a unit that is none, a kind that is none.

    A table without an id, or without a time or a day, has no such rows, whoever made it: an empty
    result would be all that speaks for it, and an analyser's log leaves that empty for a reading
    beyond its range. Nor is a row of text one that ends before the header does, or has a line's
    end in a cell: its result may have been torn off. Such a row stays a reading, and is held.

    Parameters
    ----------
    columns : Columns
    ends_early, covered
        See :class:`hgmap.site.intake.opening.Sheet`.
    """

    def __init__(
        self,
        columns: Columns,
        *,
        ends_early: bool = False,
        covered: frozenset[tuple[int, int]] = frozenset(),
    ) -> None:
        self._id = columns.position("id")
        timed = columns.position("time") is not None or columns.position("date") is not None
        self._possible = self._id is not None and timed
        self._printed = {k: ours for ours in _PRINTED if (k := columns.position(ours)) is not None}
        self._width = len(columns.titles)
        self._least = 0 if ends_early else self._width
        # a result that was merged over several rows may have been meant for each of them
        self._covered = {row for row, column in covered if column not in self._printed}

    def id_of(self, number: int, cells: Sequence[str]) -> str:
        """Return the id of a row that was never filled in; empty for any other row.

        ``number`` is the row's in the file.
        """
        if not self._possible or self._id is None or self._id >= len(cells):
            return ""
        if (
            len(cells) < self._least
            or number in self._covered
            or any("\n" in cell for cell in cells)
        ):
            return ""
        # by what a column is, not by what its first rows hold: it may be empty for hundreds of them
        if any(cell and self._says_something(k, cell) for k, cell in enumerate(cells)):
            return ""
        return cells[self._id]

    def _says_something(self, column: int, cell: str) -> bool:
        ours = self._printed.get(column)
        return ours is None or _slipped(ours, cell)


def _slipped(ours: str, cell: str) -> bool:
    """Tell whether a cell of a printed column holds what belongs to a result."""
    if ours == "unit":
        return not concentration_unit(cell)
    if ours == "kind":
        return parse_kind(cell) is None
    if ours in _NAMES:  # a room may be called OL
        return cell.startswith(("<", ">"))
    return is_sign(cell) or parse_result(cell, DecimalMarks()).qualifier in ("<", ">")


def said_of_unfilled(ids: Sequence[str]) -> str:
    """Return one line that counts rows and names every one: none is lost without a word.

    Examples
    --------
    >>> said_of_unfilled(["F1-03", "F1-04"])
    '2 rows with nothing filled in are left out: F1-03, F1-04'
    """
    verb = "is" if len(ids) == 1 else "are"
    return f"{counted(len(ids), 'row')} with nothing filled in {verb} left out: {', '.join(ids)}"
