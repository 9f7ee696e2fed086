"""What a reader of an outside format hands on: shapes with a role, in the file's own units.

A reader says only what is drawn and what each shape is for. Where the shapes lie (``placing``), how
walls become rooms, and how all of it becomes a plan is the same for every format.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import pyproj
import shapely

from hgmap.site.building import OpeningState

FARTHEST_DRAWN_M: Final = 1e12
"""Beyond this (m) a millimetre drowns in the last digits of a coordinate."""

Role = Literal["room", "walkable", "outline", "wall", "door", "window", "text"]


@dataclass(frozen=True, slots=True)
class Part:
    """One shape of a drawing.

    Attributes
    ----------
    role : str
        ``room``: a polygon that is a room. ``walkable``: a polygon of free floor, which runs from
        room to room through its narrow places. ``outline``: a polygon round the building.
        ``wall``: lines (a thin wall, or one face of a thick one) or polygons (a thick wall).
        ``door``: what air passes: a polygon in a wall, a line as long as the door is wide, or a
        point. ``window``: closed like a wall. ``text``: a point with a name: a room's label.
    geometry : shapely.Geometry
        In the units of its drawing, x right and y up; two dimensions, finite.
    label : str
        How a message calls it: ``"feature 12 (Store)"``, ``"LINE 2A on layer WALLS"``.
    name, id : str
        As the file gives them; empty where it does not.
    state : {"open", "closed", "sealed"}
        Of a door.
    """

    role: Role
    geometry: shapely.Geometry
    label: str
    name: str = ""
    id: str = ""
    state: OpeningState = "open"


@dataclass(frozen=True, slots=True)
class Drawing:
    """One storey as it was drawn.

    Attributes
    ----------
    parts : tuple of Part
        In the order of the file.
    file : str
        Named in messages.
    metres_per_unit : float
        Length (m) of one unit of the coordinates; 1 where ``crs`` is given.
    crs : pyproj.CRS or None
        The system of the coordinates; None where they are on nobody's map.
    storey : str
        What the file calls it; empty where it has only one and no name for it.
    elevation_m : float or None
        Height (m) of its floor, in the file's own datum.
    notes : tuple of str
        What the reader left out or mended: a line each, for the person.
    doubts : tuple of str
        What a person must look at: a line each.
    """

    parts: tuple[Part, ...]
    file: str
    metres_per_unit: float = 1.0
    crs: pyproj.CRS | None = None
    storey: str = ""
    elevation_m: float | None = None
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    def of_role(self, *roles: Role) -> tuple[Part, ...]:
        """Return the parts of these roles, in the order of the file."""
        return tuple(part for part in self.parts if part.role in roles)
