"""A building as the plans show it: floors, rooms, openings, and the frames that they lie in.

A floor's own frame is in metres, x to the right and y up on the plan; heights are metres above
that floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.shows_itself import OnAPlan
from hgmap.site.map_frame import MapFrame
from hgmap.site.plan_picture import PlanPicture

OpeningState = Literal["open", "closed", "sealed"]


@dataclass(frozen=True, slots=True)
class Room:
    """One room: a polygon in the floor's frame (m)."""

    id: str
    name: str
    polygon: Polygon

    @property
    def area_m2(self) -> float:
        """Floor area (m²)."""
        return float(self.polygon.area)


@dataclass(frozen=True, slots=True)
class Opening:
    """A door or gap that air passes, drawn as a line as long as it is wide.

    ``rooms`` holds the ids of the rooms that it touches, found from the plan.
    """

    id: str
    line: LineString
    state: OpeningState = "open"
    rooms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NamedGrid:
    """A grid that a surveyor chalked on a floor.

    Letters run along its first axis, numbers along its second, so that ``C4`` is a place.

    Attributes
    ----------
    origin_x_m, origin_y_m : float
        Place of the node ``A1`` in the floor's frame (m).
    pitch_x_m, pitch_y_m : float
        Distance between letters and between numbers (m).
    angle_deg : float
        Direction of the letters' axis, counter-clockwise from plan-right.
    point : {"node", "centre"}
        Whether a name means the node, or the centre of the square that begins there.
    """

    name: str
    origin_x_m: float
    origin_y_m: float
    pitch_x_m: float
    pitch_y_m: float
    angle_deg: float = 0.0
    point: Literal["node", "centre"] = "node"


@dataclass(frozen=True, slots=True)
class Floor(OnAPlan):
    """One floor: rooms that do not overlap, walls, openings.

    ``north_deg`` is the direction of north on the plan, in degrees clockwise from plan-up;
    ``None`` where nobody has said it. ``north_is_grid``: it is that of a map that the building is
    turned on. ``picture`` is the image that lies under the plan on a screen; ``building`` is the
    one of several that the floor lies in.
    """

    name: str
    title: str
    rooms: tuple[Room, ...]
    walls: tuple[LineString, ...] = ()
    openings: tuple[Opening, ...] = ()
    north_deg: float | None = None
    map_frame: MapFrame | None = None
    grids: tuple[NamedGrid, ...] = ()
    picture: PlanPicture | None = None
    building: str = ""
    north_is_grid: bool = False

    def room(self, key: str) -> Room | None:
        """Return the room of this id or name, or None."""
        for room in self.rooms:
            if key in (room.id, room.name):
                return room
        return None

    @property
    def area_m2(self) -> float:
        """Sum of the room areas (m²)."""
        return sum(room.area_m2 for room in self.rooms)

    @property
    def outline(self) -> BaseGeometry:
        """All rooms together."""
        return MultiPolygon([room.polygon for room in self.rooms]).buffer(0)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north (m) of the rooms."""
        boxes = [room.polygon.bounds for room in self.rooms]
        west, south, east, north = zip(*boxes, strict=True)
        return min(west), min(south), max(east), max(north)


@dataclass(frozen=True, slots=True)
class HeightBand:
    """Readings between two heights above the floor (m, both included) belong on one map."""

    name: str
    from_m: float
    to_m: float
    breathing: bool = True

    def holds(self, height_m: float) -> bool:
        """Tell whether a height (m) lies in this band."""
        return self.from_m - 1e-9 <= height_m <= self.to_m + 1e-9
