"""Rows of a sheet that came back half filled in: places that were planned and never read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hgmap.site.intake.mapping import Columns
from hgmap.site.quality.figures import counted

_AT_THE_PLACE: Final = (
    "value", "low", "qualifier", "time", "date", "note", "temperature", "pressure",
    "detection_limit",
)  # fmt: skip
"""What is written only by somebody who stood there, or by a laboratory (ours, no source)."""


class Unfilled:
    """Tells rows that were printed and never filled in from readings that lost their number.

    The first says nothing of its place; the second may be one that went off the scale, and has to
    be held. Our rule, no source: a row was never filled in where it has an id and nothing in any
    column that is written at the place. That is the result and its sign, the time and the day, a
    note, the air's temperature and pressure, a detection limit; also columns of theirs that are
    none of ours, which may be notes. Where it is, its height and kind, its unit and analyser are
    often printed or copied down before anybody goes, and say nothing.

    A table without an id, or without a time or a day, has no such rows, whoever made it: an empty
    result would be all that speaks for it, and an analyser's log leaves that empty for a reading
    beyond its range. Nor is a row of text one that ends before the header does, or has a line's
    end in a cell: its result may have been torn off. Such a row stays a reading, and is held.

    Parameters
    ----------
    columns : Columns
    ends_early : bool
        See :class:`hgmap.site.intake.opening.Sheet`.
    """

    def __init__(self, columns: Columns, *, ends_early: bool = False) -> None:
        self._id = columns.position("id")
        timed = columns.position("time") is not None or columns.position("date") is not None
        self._possible = self._id is not None and timed
        written = map(columns.position, _AT_THE_PLACE)
        self._written = {k for k in written if k is not None} | set(columns.unread)
        self._width = len(columns.titles)
        self._least = 0 if ends_early else self._width

    def id_of(self, cells: Sequence[str]) -> str:
        """Return the id of a row that was never filled in; empty for any other row."""
        if not self._possible or self._id is None or self._id >= len(cells):
            return ""
        if len(cells) < self._least or any("\n" in cell for cell in cells):
            return ""
        if any(cell and (k in self._written or k >= self._width) for k, cell in enumerate(cells)):
            return ""
        return cells[self._id]


def said_of_unfilled(ids: Sequence[str]) -> str:
    """Return one line that counts rows and names every one: none is lost without a word.

    Examples
    --------
    >>> said_of_unfilled(["F1-03", "F1-04"])
    '2 rows with nothing filled in are left out: F1-03, F1-04'
    """
    verb = "is" if len(ids) == 1 else "are"
    return f"{counted(len(ids), 'row')} with nothing filled in {verb} left out: {', '.join(ids)}"
