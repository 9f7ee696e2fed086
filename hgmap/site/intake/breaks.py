"""Where one table ends inside a sheet: another header, or a line that changes the unit."""

from __future__ import annotations

from collections.abc import Sequence

from hgmap.site.intake.header import Header, units_said
from hgmap.site.intake.result_cells import QuestionError
from hgmap.site.intake.synonyms import read_title

_APART = "bring the tables in apart: a sheet or a file each"


class Breaks:
    """Watches the rows below a header go by.

    Parameters
    ----------
    header : Header
    value_column : int
        Position of the results.
    unit : str
        Their unit where it is the same for all rows; else empty.
    """

    def __init__(self, header: Header, value_column: int, unit: str) -> None:
        self._header = header
        self._value_column = value_column
        self._unit = unit
        self._said: tuple[int, str] | None = None

    def look(self, number: int, cells: Sequence[str], why: str) -> None:
        """Look at a row; ``why`` is why it is no reading, empty for a reading.

        Raises
        ------
        QuestionError
            If the row begins another table, or comes below a line with another unit.
        """
        if why:
            if why.startswith("a line of text"):
                self._text(number, next(filter(None, cells)))
            elif why == "the header again" and not self._same_titles(cells):
                raise QuestionError("the header again, with its columns in other places", _APART)
            return
        if self._said is not None:
            row, unit = self._said
            raise QuestionError(
                f"row {row} says {unit}, the table {self._unit or 'no one unit'}", _APART
            )
        cell = cells[self._value_column] if self._value_column < len(cells) else ""
        if not cell[:1].isdigit() and self._header.rows and _names_columns(cells):
            raise QuestionError("another header, with other columns", _APART)

    def _text(self, number: int, text: str) -> None:
        units = [one for one in units_said(text) if one != self._unit]
        if units:
            self._said = number, units[0]

    def _same_titles(self, cells: Sequence[str]) -> bool:
        titles = [one.text for one in self._header.titles]
        return all(cell == title for cell, title in zip(cells, titles, strict=False) if cell)


def _names_columns(cells: Sequence[str]) -> bool:
    """Tell whether most cells are titles; a cell with a number in it is none, but "Hg (ug/m3)"."""
    filled = [cell for cell in cells[:200] if cell]
    if len(filled) < 3:
        return False
    titles = [read_title(cell) for cell in filled]
    named = {one.ours[0] for one in titles if one.ours} | {"unit" for one in titles
                                                          if one.concentration}  # fmt: skip
    known = sum(one.ours is not None or bool(one.concentration) for one in titles)
    return len(named) >= 3 and known * 2 > len(filled)
