"""What a table of rooms comes to, and the names that its rooms get."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from shapely import LineString, Polygon

from hgmap.errors import PlanError
from hgmap.site.importers.names import unique_ids, unique_names
from hgmap.site.model import Problem

MOST_ROOMS: Final = 5000


@dataclass(frozen=True, slots=True)
class ScheduledRoom:
    """A room with its final name and id.

    Attributes
    ----------
    row : int
        Where it stands in the table.
    polygon : Polygon
        In metres.
    placed : bool
        Whether its place beside other rooms is known; else it was laid somewhere.
    """

    row: int
    name: str
    id: str
    storey: str
    polygon: Polygon
    placed: bool


@dataclass(frozen=True, slots=True)
class ScheduledDoor:
    """A door, a line as long as it is wide (m), and where it stands in the table."""

    row: int
    storey: str
    line: LineString


@dataclass(frozen=True)
class Schedule:
    """All rooms and doors of a table, and what a person should know about its rows."""

    rooms: tuple[ScheduledRoom, ...]
    doors: tuple[ScheduledDoor, ...]
    problems: tuple[Problem, ...]

    @property
    def storeys(self) -> tuple[str, ...]:
        """Names of the storeys, in the order of the table; one that is empty where none is said."""
        return tuple(dict.fromkeys(one.storey for one in self.rooms))


def refuse_too_many(rooms: int, *, where: str) -> None:
    """Refuse more rooms than a building has, before any of them is placed."""
    if rooms > MOST_ROOMS:
        raise PlanError(
            f"has {rooms} rooms", where=where, todo=f"at most {MOST_ROOMS}: one floor at a time"
        )


def named(
    rooms: Sequence[tuple[int, str, str]], problems: list[Problem], *, where: str
) -> tuple[list[str], list[str]]:
    """Give the rooms of a storey names and ids of their own; each is its row, name and id."""
    names = unique_names([name or identifier for _, name, identifier in rooms])
    taken = {name.casefold() for name in names}
    # an id that is another room's name would let one word mean two rooms
    own = [
        "" if given.casefold() in taken and given.casefold() != name.casefold() else given
        for (_, _, given), name in zip(rooms, names, strict=True)
    ]
    ids = unique_ids(own, letter="R", names=names)
    for (row, said, given), name, identifier in zip(rooms, names, ids, strict=True):
        place = f"{where}, row {row}"
        if name != (said or given):
            problems.append(Problem("note", place, f"a name stands twice: this is {name!r} now"))
        if given and identifier != given:
            problems.append(
                Problem("note", place, f"id {given!r} stands twice: this is {identifier!r} now")
            )
    return names, ids
