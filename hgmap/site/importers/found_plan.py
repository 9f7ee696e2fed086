"""What the walls of a drawing come to: rooms, openings, and each repair that got there."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely import LineString, Polygon

from hgmap.site.building import OpeningState


@dataclass(frozen=True, slots=True)
class PlanRepair:
    """One change to what was drawn, which a person may refuse.

    Attributes
    ----------
    key : str
        The same for the same drawing and settings: a rule and a place. A refused repair is named
        by it.
    rule : str
        What kind of repair it is, as ``"gap"`` or ``"sliver"``.
    text : str
        What was done, with its place and size, in one line.
    place : shapely.Geometry
        Where (m, in the floor's frame): what to draw, and to point at.
    size_m : float
        Length (m) of what was closed or moved; for areas the square root of theirs.
    number : int
        By which it is refused: its place, from 1, in the list before any was refused.
    """

    key: str
    rule: str
    text: str
    place: shapely.Geometry
    size_m: float
    number: int = 0


@dataclass(frozen=True, slots=True)
class PlanDoubt:
    """Something that only a person who knows the building can tell: nothing was changed for it.

    Attributes
    ----------
    key : str
        The same for the same drawing and settings, as that of a repair.
    rule : str
        What sort of doubt it is, as ``"wide gap"``.
    text : str
        What may be otherwise, with its place and size, in one line.
    place : shapely.Geometry or None
        Where (m, in the floor's frame); None for the whole drawing.
    number : int
        On the picture: they follow the repairs; 0 for one without a place.
    """

    key: str
    rule: str
    text: str
    place: shapely.Geometry | None
    number: int = 0


@dataclass(frozen=True, slots=True)
class FoundRoom:
    """A room as found, before it has its final name and id."""

    polygon: Polygon
    name: str = ""
    id: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class FoundOpening:
    """An opening as found: a line as long as it is wide (m)."""

    line: LineString
    state: OpeningState = "open"
    id: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class FoundPlan:
    """A plan, all in metres of the floor's frame.

    Attributes
    ----------
    rooms : tuple of FoundRoom
        They do not overlap; thick walls are left between them.
    openings : tuple of FoundOpening
        Doors that were drawn, and gaps in walls as wide as a door.
    walls : tuple of LineString
        Walls to draw and to stop air where they stand inside a room; faces of thick walls.
    repairs : tuple of PlanRepair
        In a steady order.
    left_out : tuple of str
        What was not used, and why: a line each.
    mended : tuple of str
        Changes without which the plan could not be used: a line each.
    doubts : tuple of PlanDoubt
        What a person must look at, in a steady order.
    """

    rooms: tuple[FoundRoom, ...]
    openings: tuple[FoundOpening, ...]
    walls: tuple[LineString, ...]
    repairs: tuple[PlanRepair, ...]
    left_out: tuple[str, ...]
    mended: tuple[str, ...] = ()
    doubts: tuple[PlanDoubt, ...] = ()
