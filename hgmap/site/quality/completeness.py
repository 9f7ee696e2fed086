"""The readings that were taken and count, against those that somebody meant to take."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.site.model import PlannedReadings, Site
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.reading import Reading

ENOUGH: Final = 0.9
"""A smaller share of the planned readings is a caution: common practice, no source."""

ONE_IN: Final = 10
"""One reading in ten is taken twice: common practice, no source."""

CUSTOM: Final = (
    "no sampling plan of the round; at least one breathing-zone reading in each room is common "
    "practice, no source"
)
PLAN: Final = "the sampling plan"


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """One line of the plan against what was taken: ``usable`` of the ``taken`` count."""

    text: str
    planned: int
    taken: int
    usable: int


@dataclass(frozen=True, slots=True)
class Completeness:
    """What was taken of what was planned, in one round.

    Attributes
    ----------
    basis : str
        ``PLAN``, or ``CUSTOM`` which stands in for it.
    lines : tuple of PlannedLine
    planned, taken, usable : int
        Over all lines; no line counts for more than was planned.
    rooms_without : tuple of str
        Floor and room of every room that has no usable breathing-zone reading (of any reading,
        where the medium has no heights).
    replicates, replicates_wanted : int
        Pairs and groups that were taken, and one in ten usable readings.
    """

    basis: str
    lines: tuple[PlannedLine, ...]
    planned: int
    taken: int
    usable: int
    rooms_without: tuple[str, ...]
    replicates: int
    replicates_wanted: int

    @property
    def share(self) -> float:
        """Usable readings as a share of the planned ones, 0 to 1; 1 where nothing was planned."""
        return self.usable / self.planned if self.planned else 1.0

    @property
    def summary(self) -> str:
        """What was taken of what, in words."""
        share = f"{figure(100.0 * self.share)} %"
        if self.basis == PLAN:
            return f"{self.usable} of {self.planned} planned readings are usable, {share}"
        return (
            f"{self.usable} of {counted(self.planned, 'room')} have a usable breathing-zone "
            f"reading, {share}"
        )

    @property
    def complete(self) -> bool:
        """Whether that share is high enough."""
        return self.share >= ENOUGH - 1e-12


def completeness(site: Site, round_name: str, replicates: int = 0) -> Completeness:
    """Hold the readings of a round against the sampling plan, or against custom.

    Parameters
    ----------
    site : Site
    round_name : str
    replicates : int
        How many pairs and groups repeat each other.
    """
    readings = [one for one in site.readings if one.round == round_name]
    without = _rooms_without(site, readings)
    mapped = sum(one.usable and one.on_map and one.kind != "duplicate" for one in readings)
    wanted = math.ceil(mapped / ONE_IN)
    plan = [one for one in site.sampling_plan if one.round in ("", round_name)]
    if plan:
        lines = _lines(site, plan, readings)
        return Completeness(
            PLAN,
            lines,
            sum(one.planned for one in lines),
            sum(min(one.taken, one.planned) for one in lines),
            sum(min(one.usable, one.planned) for one in lines),
            tuple(without[1]),
            replicates,
            wanted,
        )
    rooms = sum(len(floor.rooms) for floor in site.floors)
    taken, usable = rooms - len(without[0]), rooms - len(without[1])
    line = PlannedLine("a breathing-zone reading in each room", rooms, taken, usable)
    return Completeness(
        CUSTOM, (line,), rooms, taken, usable, tuple(without[1]), replicates, wanted
    )


def _rooms_without(site: Site, readings: Sequence[Reading]) -> tuple[list[str], list[str]]:
    """Return the rooms that have no breathing-zone reading at all, and no usable one."""
    bands = {one.name for one in site.height_bands if one.breathing}
    everywhere = site.medium != "air"
    found: tuple[set[tuple[str, str]], set[tuple[str, str]]] = (set(), set())
    for one in readings:
        if one.on_map and one.kind != "source search" and (everywhere or one.band in bands):
            found[0].add((one.floor, one.room))
            if one.usable:
                found[1].add((one.floor, one.room))
    rooms = [(floor, room) for floor in site.floors for room in floor.rooms]
    first, second = (
        [
            f"{floor.title}: {_room_name(room.id, room.name)}"
            for floor, room in rooms
            if (floor.name, room.id) not in some
        ]
        for some in found
    )
    return first, second


def _room_name(key: str, name: str) -> str:
    return key if not name or name == key else f"{key} {name}"


def _lines(
    site: Site, plan: Sequence[PlannedReadings], readings: Sequence[Reading]
) -> tuple[PlannedLine, ...]:
    """Count what each line asks for, from a count of what was taken by what lines can ask for."""
    taken: Counter[tuple[str, str, str, str]] = Counter()
    usable: Counter[tuple[str, str, str, str]] = Counter()
    for one in readings:
        key = (one.floor, one.room, one.band.casefold(), one.kind)
        taken[key] += 1
        usable[key] += one.usable
    floors = {key.casefold(): one for one in site.floors for key in (one.name, one.title)}
    bands = {one.name.casefold() for one in site.height_bands}
    lines = []
    for line in plan:
        floor = floors.get(line.floor.casefold())
        text = _line_text(line)
        rooms = {
            (one.name, room.id)
            for one in ([floor] if floor else [] if line.floor else site.floors)
            for room in one.rooms
            if line.room.casefold() in (room.id.casefold(), room.name.casefold())
        }
        if line.floor and floor is None:
            text += " (no such floor)"
        elif line.room and not rooms:
            text += " (no such room)"
        elif line.band and line.band.casefold() not in bands:
            text += " (no such height band)"

        def asked(
            key: tuple[str, str, str, str],
            line: PlannedReadings = line,
            name: str | None = floor.name if floor else None,
            rooms: set[tuple[str, str]] = rooms,
        ) -> bool:
            return (
                (not line.floor or key[0] == name)
                and (not line.room or (key[0], key[1]) in rooms)
                and (not line.band or key[2] == line.band.casefold())
                and key[3] == line.kind
            )

        lines.append(
            PlannedLine(
                text,
                line.count,
                sum(n for key, n in taken.items() if asked(key)),
                sum(n for key, n in usable.items() if asked(key)),
            )
        )
    return tuple(lines)


def _line_text(line: PlannedReadings) -> str:
    what = "reading" if line.kind in ("reading", "duplicate") else f"{line.kind} reading"
    if line.kind == "duplicate":
        what = "duplicate"
    if line.kind == "field blank":
        what = "field blank"
    if line.kind == "laboratory":
        what = "laboratory sample"
    places = [part for part in (line.floor, line.room, line.band) if part]
    return counted(line.count, what) + (f" at {named(places)}" if places else "")
