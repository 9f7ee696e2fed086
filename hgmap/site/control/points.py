"""Control points from a table: places that are known on the plan and on the map."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import ReadingsError, SiteError
from hgmap.site.model import Problem
from hgmap.site.textfile import decimal_marks, parse_a_number, read_table

TITLES: Final[dict[str, tuple[str, ...]]] = {
    "point": ("point", "name", "id", "no", "nr", "number", "pt", "station"),
    "x": ("x", "x_m", "plan_x", "local_x", "building_x"),
    "y": ("y", "y_m", "plan_y", "local_y", "building_y"),
    "east": ("east", "e", "easting", "east_m", "map_x", "map_e"),
    "north": ("north", "n", "northing", "north_m", "map_y", "map_n"),
}
"""Titles that a column may have, whatever their case; words may be joined by a space or a dash."""

LONGEST_NAME: Final = 60


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """A place that is known on the plan (x, y) and on the map (east, north), all in metres."""

    name: str
    x: float
    y: float
    east: float
    north: float


@dataclass(frozen=True, slots=True)
class ControlPoints:
    """The points of a file, and what is wrong with the rows that are none."""

    points: tuple[ControlPoint, ...]
    problems: tuple[Problem, ...]


def read_control_points(
    data: bytes, *, where: str, known: Mapping[str, tuple[float, float]] | None = None
) -> ControlPoints:
    """Read control points; a row that cannot be used is named and takes no other with it.

    Parameters
    ----------
    data : bytes
        A text table with a column each for x, y, east and north (m), and one for the point.
    where : str
        The file, for complaints.
    known : mapping of names to (east, north), optional
        Corners of a deed (m): they fill in where east and north are empty, or not there at all.

    Raises
    ------
    SiteError
        If it is no table, or a column is missing or there twice.
    """
    table = read_table(data, where=where)
    places = _columns(table.header, where=f"{where}, row {table.header_line}", known=known)
    rows = table.rows
    numbers = [places[title] for title in ("x", "y", "east", "north") if title in places]
    marks = decimal_marks(cells[k] for _, cells in rows for k in numbers if k < len(cells))
    points: dict[str, ControlPoint] = {}
    problems: list[Problem] = []
    for line, cells in rows:
        row = {title: cells[k] if k < len(cells) else "" for title, k in places.items()}
        name = plain_point(row.get("point", "")) or str(len(points) + len(problems) + 1)
        at, wrong = dict[str, float](), ""
        if known and not row.get("east") and not row.get("north"):
            corner = known.get(name)
            at = {} if corner is None else dict(zip(("east", "north"), corner, strict=True))
            wrong = "" if corner else f"no corner of the deed is called {name!r}"
        for title in ("x", "y", "east", "north"):
            if wrong or title in at:
                continue
            value, text = parse_a_number(row.get(title, ""), marks)
            if value is None:
                wrong = f"{title} is empty" if not text else f"{title} {row[title]!r}{text}"
            else:
                at[title] = value
        if not wrong and name in points:
            wrong = f"there is a point {name!r} already"
        if not wrong and len(name) > LONGEST_NAME:
            wrong = f"a name has at most {LONGEST_NAME} characters"
        if wrong:
            problems.append(Problem("warning", f"{where}, row {line}", f"{wrong}: left out",
                                    "mend the row"))  # fmt: skip
        else:
            points[name] = ControlPoint(name, **at)
    return ControlPoints(tuple(points.values()), tuple(problems))


def plain_point(name: str) -> str:
    """Return a point's name as it is printed, so that one copied from a message is found.

    Examples
    --------
    >>> plain_point("north  west")
    'north west'
    """
    return " ".join(name.split())


def places_of(
    points: Sequence[ControlPoint],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return x, y and east, north of points (m), each of shape (n, 2)."""
    plan = np.array([(one.x, one.y) for one in points], float).reshape(-1, 2)
    return plan, np.array([(one.east, one.north) for one in points], float).reshape(-1, 2)


def _columns(
    header: Sequence[str], *, where: str, known: Mapping[str, tuple[float, float]] | None
) -> dict[str, int]:
    found: dict[str, int] = {}
    for place, title in enumerate(header):
        plain = re.sub(r"[\s-]+", "_", re.sub(r"\s*[\[(]m[\])]$", "", title.strip().casefold()))
        for name, titles in TITLES.items():
            if plain not in titles:
                continue
            if name in found:
                raise SiteError(
                    f"two columns for {name}: {header[found[name]]!r} and {title!r}",
                    where=where,
                    todo="rename one",
                )
            found[name] = place
    need = ("x", "y") if known else ("x", "y", "east", "north")
    missing = [name for name in need if name not in found]
    if missing:
        raise ReadingsError(
            f"no column for {', '.join(missing)}; found {', '.join(map(repr, header))}"[:300],
            where=where,
            todo="title the columns point, x, y, east, north (all in metres)",
        )
    return found
