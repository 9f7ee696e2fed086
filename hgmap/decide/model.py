"""What the rulings are made of; every number here has a unit in its name or its note."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

ZoneName = Literal["remediate", "resample", "clear", "no data"]
ZONE_NAMES: Final[tuple[ZoneName, ...]] = ("remediate", "resample", "clear", "no data")

Role = Literal["used", "other height", "cannot see the level", "held"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading of the floor and round, and the part it plays on this map.

    ``above`` is True where the reading itself is above the level, or is only known to be above
    some value (saturated): its surroundings are never clear.
    ``reasons`` says why it is not used, or what was assumed about it.
    """

    reading: Reading
    role: Role
    above: bool
    reasons: tuple[str, ...] = ()


WIDEST_INTERVAL: Final = 100.0
"""How far below its limit a non-detect may lie, and above its value a saturated reading (a
factor)."""


@dataclass(frozen=True, slots=True)
class FloorEvidence:
    """All evidence for one map.

    ``xy`` (n, 2; m) and ``concentration`` (n,; computing unit) are those of the used readings,
    in the order of ``used``. ``strays`` are held readings whose floor or round nobody knows: they
    may belong to this map.
    """

    floor: Floor
    round: str
    band: str
    level: ActionLevel
    items: tuple[Evidence, ...]
    xy: NDArray[np.float64]
    concentration: NDArray[np.float64]
    notes: tuple[str, ...] = ()
    strays: tuple[Evidence, ...] = ()

    @property
    def room(self) -> NDArray[np.int64]:
        """Position of each used reading's room in the floor's rooms, shape (n,)."""
        place = {room.id: index for index, room in enumerate(self.floor.rooms)}
        return np.array([place.get(item.reading.room, -1) for item in self.used], dtype=np.int64)

    @property
    def bounds(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower and upper bound of each used reading (computing unit), equal where it is a number.

        A non-detect lies between a hundredth of its limit and the limit, a saturated reading
        between the value that it exceeds and a hundred times that (common practice, no source).
        """
        qualifier = np.array([item.reading.qualifier for item in self.used], dtype=str)
        low = np.where(qualifier == "<", 1.0 / WIDEST_INTERVAL, 1.0)
        high = np.where(qualifier == ">", WIDEST_INTERVAL, 1.0)
        return self.concentration * low, self.concentration * high

    @property
    def used(self) -> tuple[Evidence, ...]:
        """The readings that make the surface."""
        return tuple(item for item in self.items if item.role == "used")

    @property
    def set_aside(self) -> tuple[Evidence, ...]:
        """The readings that do not, with their reasons."""
        return tuple(item for item in self.items if item.role != "used")


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone of one room.

    Attributes
    ----------
    geometry : Polygon or MultiPolygon
        In the floor's frame (m).
    highest_estimate : float or None
        Highest estimate in the zone (computing unit); None without a surface.
    highest_reading : float or None
        Highest reading used in the zone (computing unit).
    probability : float or None
        Highest probability in the zone that the concentration is above the level.
    reasons : tuple of str
        Why it is what it is, in words.
    """

    name: ZoneName
    room: str
    room_name: str
    geometry: BaseGeometry
    highest_estimate: float | None
    highest_reading: float | None
    probability: float | None
    reasons: tuple[str, ...]

    @property
    def area_m2(self) -> float:
        """Area (m²)."""
        return float(self.geometry.area)


@dataclass(frozen=True, slots=True)
class Zones:
    """The zones of one floor for one level; they tile the rooms."""

    floor: Floor
    level: ActionLevel
    zones: tuple[Zone, ...]
    contours: tuple[LineString, ...]
    remediate_at: float
    clear_at: float

    def by_room(self) -> dict[str, list[Zone]]:
        """Return the zones of each room, by its id."""
        found: dict[str, list[Zone]] = {}
        for zone in self.zones:
            found.setdefault(zone.room, []).append(zone)
        return found

    def area_m2(self, name: ZoneName, room: str | None = None) -> float:
        """Area (m²) of one zone name, on the whole floor or in one room (by id)."""
        return sum(
            zone.area_m2
            for zone in self.zones
            if zone.name == name and (room is None or zone.room == room)
        )


@dataclass(frozen=True, slots=True)
class ResamplePlace:
    """One place to measure again.

    ``expected_m2`` is the area (m²) that a reading here is expected to move out of doubt.
    """

    rank: int
    floor: str
    room: str
    room_name: str
    x: float
    y: float
    height_m: float | None
    reasons: tuple[str, ...]
    expected_m2: float


@dataclass(frozen=True, slots=True)
class ResampleList:
    """Places to measure again, the most telling first."""

    places: tuple[ResamplePlace, ...]
