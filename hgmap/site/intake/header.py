"""Finding the header of a table: under title lines, over one row or two."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.site.intake.not_results import speaks_of_a_level
from hgmap.site.intake.opening import Row
from hgmap.site.intake.synonyms import Title, concentration_unit, other_unit, read_title

MOST_COLUMNS: Final = 2000
"""Titles beyond this are not looked at."""

_NUMBER: Final = re.compile(r"[<>~+-]?\s*[\d.,]*\d[\d.,]*")
_UNIT: Final = re.compile(
    r"[^\s()\[\]:;,=]+/\s?(?:m\^?[³3]|kg|m\^?[²2]|100\s?cm[²2]|ft[²2]|g)(?!\w)|ppb"
)
_AMOUNT: Final = re.compile(r"\d\s*$")


@dataclass(frozen=True, slots=True)
class Header:
    """Where the header is and what it says.

    Attributes
    ----------
    rows : tuple of int
        Numbers of its row or two rows; empty where the table has none.
    titles : tuple of Title
        One a column.
    unit : str
        The one unit of concentration in the lines above; else empty.
    unit_row : int
        Where that stands.
    """

    rows: tuple[int, ...]
    titles: tuple[Title, ...]
    unit: str = ""
    unit_row: int = 0

    @property
    def last(self) -> int:
        """Number of its last row; 0 where the table has none."""
        return self.rows[-1] if self.rows else 0


def find_header(top: Sequence[Row], said: Collection[str] = ()) -> Header | None:
    """Find the header in the first rows of a table.

    Parameters
    ----------
    top : sequence of (int, cells)
        Rows that are not empty.
    said : collection of str
        Titles that a person has named, in small letters.

    Returns
    -------
    Header or None
        None where no row names two columns, one of them a result.
    """
    found = _position(top, said)
    if found is None:
        return None
    number, cells = top[found]
    rows: tuple[int, ...] = (number,)
    texts = list(cells)
    if found + 1 < len(top) and _names_parts(cells, top[found + 1][1]):
        rows, texts = (number, top[found + 1][0]), _under(cells, top[found + 1][1])
    elif found + 1 < len(top) and _is_second(cells, top[found + 1][1]):
        rows, texts = (number, top[found + 1][0]), _joined(cells, top[found + 1][1])
    elif found and _is_group(top[found - 1][1], cells):
        rows, texts = (top[found - 1][0], number), _under(top[found - 1][1], cells)
    unit, unit_row = _unit_above(top[:found])
    return Header(rows, tuple(map(read_title, texts)), unit, unit_row)


def no_header(width: int) -> Header:
    """Return titles for a table without a header: ``column 1`` and so on."""
    return Header((), tuple(Title(f"column {n}", "") for n in range(1, width + 1)))


def is_number(text: str) -> bool:
    """Tell whether a cell is a number, perhaps behind a sign."""
    return _NUMBER.fullmatch(text) is not None


def _position(top: Sequence[Row], said: Collection[str]) -> int | None:
    """Return the first row that names a result and another column, else the one that names most.

    The first: where a second table stands below, its header must not hide the rows of this one.
    """
    merits = [_merit(cells, said) for _, cells in top]
    for position, (_, cells) in enumerate(top):
        if merits[position] >= 2 and any(map(_names_result, cells[:MOST_COLUMNS])):
            return position
    best = max(merits, default=0)
    return merits.index(best) if best >= 2 else None


def _names_result(text: str) -> bool:
    title = read_title(text)
    return bool(title.concentration) or (title.ours is not None and title.ours[0] == "value")


def _merit(cells: Sequence[str], said: Collection[str]) -> int:
    """Count the columns that a row names; numbers count against it."""
    # "Units:" stands before what it speaks of, not over it
    titles = [read_title(cell) for cell in cells[:MOST_COLUMNS] if cell and cell[-1] != ":"]
    named = {title.ours[0] for title in titles if title.ours}
    units = sum(bool(title.concentration) and not is_number(title.text.split()[0])
                for title in titles)  # fmt: skip
    named_so = sum(title.text.casefold() in said for title in titles) if said else 0
    return (
        len(named)
        + 2 * named_so
        + min(units, 1)
        - 2 * sum(is_number(title.text) for title in titles)
    )


def _is_second(first: Sequence[str], second: Sequence[str]) -> bool:
    """Tell whether a row under the header belongs to it: units, or names of parts."""
    filled = [cell for cell in second[:MOST_COLUMNS] if cell]
    if not filled or any(is_number(cell) for cell in filled):
        return False
    if list(first) == list(second):
        return False
    units = sum(bool(concentration_unit(_bare(cell)) or other_unit(_bare(cell))) for cell in filled)
    # a unit column has units in every row of data; a row of units has hardly anything else
    return units * 2 > len(filled)


def _names_parts(first: Sequence[str], second: Sequence[str]) -> bool:
    """Tell whether a row under the header names the columns again, and more finely."""
    filled = [cell for cell in second[:MOST_COLUMNS] if cell]
    known = sum(read_title(cell).ours is not None for cell in filled)
    return known >= 2 and known * 2 > len(filled) and list(first) != list(second)


def _bare(text: str) -> str:
    return text.strip("()[]{} ")


def _joined(first: Sequence[str], second: Sequence[str]) -> list[str]:
    width = max(len(first), len(second))
    both = ((*first, *[""] * (width - len(first))), (*second, *[""] * (width - len(second))))
    return [
        f"{one} ({_bare(two)})" if two and one else one or two
        for one, two in zip(*both, strict=True)
    ]


def _is_group(above: Sequence[str], cells: Sequence[str]) -> bool:
    """Tell whether the row above holds titles over groups of columns."""
    filled = [cell for cell in above if cell]
    return (
        len(filled) >= 2
        and len(above) <= len(cells) + 1
        and len(filled) <= len([cell for cell in cells if cell])
        and not any(is_number(cell) or len(cell) > 40 or ":" in cell for cell in filled)
    )


def _under(above: Sequence[str], cells: Sequence[str]) -> list[str]:
    """Give a title that stands alone its group's; a known title needs none."""
    texts = []
    group = ""
    for position, cell in enumerate(cells):
        own = above[position] if position < len(above) else ""
        group = own or group
        title = read_title(cell)
        unit = read_title(group).concentration
        if not cell:
            texts.append(own)
        elif title.ours and unit and not title.concentration and title.ours[0] == "value":
            texts.append(f"{cell} ({unit})")
        else:
            texts.append(cell if title.ours else f"{group} {cell}".strip())
    return texts


def _unit_above(rows: Sequence[Row]) -> tuple[str, int]:
    found: dict[str, int] = {}
    for number, cells in rows:
        for cell in cells:
            for unit in units_said(cell):
                found.setdefault(unit, number)
    return next(iter(found.items())) if len(found) == 1 else ("", 0)


def units_said(text: str) -> list[str]:
    """Return the units that a line says results are in; not that of a level, nor of an amount.

    Examples
    --------
    >>> units_said("all in ng/m3"), units_said("action level 1 ug/m3"), units_said("was 3 ug/m3")
    (['ng/m³'], [], [])
    """
    text = text[:500]
    if speaks_of_a_level(text):
        return []
    found = [match for match in _UNIT.finditer(text) if not _AMOUNT.search(text[: match.start()])]
    return [unit for unit in (concentration_unit(match[0]) for match in found) if unit]
