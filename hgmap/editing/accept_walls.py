"""Taking over proposed walls and door gaps into a plan: those that a person accepted, no others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count
from typing import Final

import shapely
from shapely import LineString

from hgmap.editing.plan_checks import refuse_new_errors
from hgmap.editing.plan_draft import PlanDraft, millimetres, raw_feature
from hgmap.errors import PlanError
from hgmap.site.importers.refused import numbers_of
from hgmap.site.wall_finding.proposed import WallProposals

SAME_M: Final = 0.10
"""A wall that lies so near to edges of the plan, on nearly all its length, is there already."""

COVERED: Final = 0.9
_STEM: Final = "gap"


@dataclass(frozen=True, slots=True)
class Chosen:
    """What of the proposals is accepted: numbers of walls and of door gaps."""

    walls: tuple[int, ...]
    doors: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Accepted:
    """A plan with what was accepted.

    Attributes
    ----------
    draft : PlanDraft
    walls, doors : int
        How many are new on it.
    there : tuple of str
        What is on the plan already, by number, and was not put there twice.
    """

    draft: PlanDraft
    walls: int
    doors: int
    there: tuple[str, ...]


def read_choice(text: str, proposals: WallProposals, *, where: str = "--accept") -> Chosen:
    """Read ``"all"``, or numbers as ``"1-12,15,d1-d3"``: walls, and gaps with a d.

    Raises
    ------
    PlanError
        If it is neither, or something of that number is not proposed.
    """
    if text.strip().casefold() == "all":
        return Chosen(
            tuple(one.number for one in proposals.walls),
            tuple(one.number for one in proposals.doors),
        )
    parts = [one.strip().casefold() for one in text.split(",")]
    doors = [one.replace("d", "") for one in parts if one.startswith("d")]
    walls = [one for one in parts if not one.startswith("d")]
    return Chosen(
        _numbers(walls, len(proposals.walls), "wall", where),
        _numbers(doors, len(proposals.doors), "door gap d", where),
    )


def _numbers(parts: Sequence[str], most: int, what: str, where: str) -> tuple[int, ...]:
    if not parts:
        return ()
    found = numbers_of(",".join(parts), where=where)
    for one in found:
        if not 1 <= one <= most:
            raise PlanError(
                f"there is no {what}{'' if what.endswith('d') else ' '}{one}", where=where,
                todo=f"{most} are proposed" if most else "none is proposed",
            )  # fmt: skip
    return found


def accept_walls(draft: PlanDraft, proposals: WallProposals, chosen: Chosen) -> Accepted:
    """Put walls and door gaps into a plan; those that are there already are not put there twice.

    Raises
    ------
    PlanError
        If something of that number is not proposed, or cannot be in a plan.
    """
    walls = {one.number: one for one in proposals.walls}
    doors = {one.number: one for one in proposals.doors}
    for kind, numbers, known in (
        ("wall", chosen.walls, walls.keys()), ("door gap", chosen.doors, doors.keys())
    ):  # fmt: skip
        for number in numbers:
            if number not in known:
                raise PlanError(f"there is no {kind} {number}", todo="choose another")
    standing = _near(
        [one.geometry for one in (*draft.walls, *draft.rooms) if one.geometry is not None]
    )
    opened = _near([one.geometry for one in draft.openings if one.geometry is not None])
    there: list[str] = []
    raw = []
    new_walls = 0
    for wall in (walls[number] for number in chosen.walls):
        if _is_there(wall.line, standing):
            there.append(f"wall {wall.number}")
            continue
        raw.append(raw_feature("wall", millimetres(wall.line)))
        new_walls += 1
    taken = {one.id.casefold() for one in draft.openings}
    for door in (doors[number] for number in chosen.doors):
        if _is_there(door.line, opened):
            there.append(f"gap d{door.number}")
            continue
        made = next(one for n in count(1) if (one := f"{_STEM}-{n}") not in taken)
        taken.add(made)
        raw.append(raw_feature("opening", millimetres(door.line), id=made, state="open"))
    after = refuse_new_errors(draft, draft.edited(added=raw)) if raw else draft
    return Accepted(after, new_walls, len(raw) - new_walls, tuple(there))


def _near(geometries: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """Return the ground beside edges and lines (m)."""
    lines = [one.boundary if one.geom_type.endswith("Polygon") else one for one in geometries]
    return shapely.union_all(shapely.buffer(lines, SAME_M)) if lines else shapely.Point()


def _is_there(line: LineString, standing: shapely.Geometry) -> bool:
    return bool(line.intersection(standing).length >= COVERED * line.length)
