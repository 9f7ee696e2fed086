"""Which columns of a table are ours: for readings, instrument logs, overrules, sampling plans."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from typing import Literal

from hgmap.errors import ReadingsError
from hgmap.site.model import Problem
from hgmap.site.textfile import TextTable


def known_columns(
    table: TextTable,
    known: Sequence[str],
    required: Sequence[str],
    problems: list[Problem],
    *,
    where: str,
    name_of: Callable[[str], str],
    unread: Literal["note", "warning"] = "note",
    todo: str = "",
) -> dict[str, int]:
    """Return the position of each of our columns that a table has.

    Parameters
    ----------
    table : TextTable
    known, required : sequence of str
        Names of our columns, and those without which the table is of no use.
    problems : list of Problem
        A column that is not read is added to it, with the nearest known one.
    where : str
        Name of the file.
    name_of : callable
        Our spelling of a title.
    unread : {"note", "warning"}
        Severity of a column that is not read.
    todo : str
        Said before the known columns where one is missing.

    Raises
    ------
    ReadingsError
        If a column stands twice, or a required one is missing.
    """
    index: dict[str, int] = {}
    first = f"{where}, row {table.header_line}"
    for position, title in enumerate(table.header):
        name = name_of(title)
        if name in index:
            raise ReadingsError(f"column {title!r} stands twice", where=first, todo="keep one")
        if name in known:
            index[name] = position
        elif title:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else ""
            problems.append(Problem(unread, where, f"column {title!r} is not read", hint))
    missing = [name for name in required if name not in index]
    if missing:
        raise ReadingsError(
            f"no column {' and no column '.join(repr(name) for name in missing)}",
            where=first,
            todo=f"{todo}known columns: {', '.join(known)}",
        )
    return index
