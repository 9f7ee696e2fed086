"""Whether a table has been brought in already, under another name."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from itertools import zip_longest
from pathlib import Path

from hgmap.errors import ReadingsError
from hgmap.site.intake.synonyms import COLUMNS

LEAST_ROWS = 2
"""One row alone may be alike by chance."""


def check_not_twice(new: Path, others: Iterable[Path], *, where: str) -> None:
    """Compare a file of ours with others of the site, ids apart, which may have been made up.

    Parameters
    ----------
    new : Path
        The file, in our columns.
    others : iterable of Path
        Other readings files of the site.
    where : str
        Name of the table, for messages.

    Raises
    ------
    ReadingsError
        If all rows of one are the first rows of the other: each would count twice.
    """
    for other in others:
        rows = _same_rows(new, other)
        if rows >= LEAST_ROWS:
            raise ReadingsError(
                f"its rows are in readings/{other.name} already ({rows} of them)",
                where=where,
                todo="give the table that file's name and say --replace, or give its rows ids",
            )


def _same_rows(new: Path, other: Path) -> int:
    """Return how many rows two files share from the top, where one of them ends there; else 0."""
    try:
        with (
            new.open(encoding="utf-8-sig", newline="") as one,
            other.open(encoding="utf-8-sig", newline="") as two,
        ):
            rows = 0
            for number, (mine, theirs) in enumerate(zip_longest(csv.reader(one), csv.reader(two))):
                if mine is None or theirs is None:
                    return rows
                if number == 0:
                    if mine != list(COLUMNS) or theirs != mine:
                        return 0
                elif mine[1:] != theirs[1:]:
                    return 0
                rows = number
            return rows
    except (OSError, UnicodeError, csv.Error):
        return 0  # whatever is wrong with that file is said where it is read
