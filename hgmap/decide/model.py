"""What the rulings are made of; every number here has a unit in its name or its note."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hgmap.shows_itself import OnAPlan
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

ZoneName = Literal["remediate", "resample", "clear", "no data"]
ZONE_NAMES: Final[tuple[ZoneName, ...]] = ("remediate", "resample", "clear", "no data")

Role = Literal["used", "other height", "cannot see the level", "held", "off the map"]
"""``"off the map"``: of a kind that says nothing about the air at a place of the floor (a bag's
headspace, outdoor background, a field blank). It is reported; no surface and no ruling is made of
it."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading of the floor and round, and the part it plays on this map.

    ``above`` is True where the reading itself is above the level, or is only known to be above
    some value (saturated): its surroundings are never clear.
    ``reasons`` says why it is not used, or what was assumed about it.
    ``as_written`` is its concentration (computing unit) before a background or a blank was taken
    off it; None where none was.
    """

    reading: Reading
    role: Role
    above: bool
    reasons: tuple[str, ...] = ()
    as_written: float | None = None


APPROXIMATE: Final = 0.25
"""Relative sd of a number that was written as approximate, beside any other (ours, no source)."""

WIDEST_INTERVAL: Final = 100.0
"""How far below its limit a non-detect may lie, and above its value a saturated reading (a
factor)."""


def error_of(reading: Reading) -> float:
    """Return the standard deviation (computing unit) of a reading's own error.

    What the checks of the instrument show and, in quadrature, 25 % of a number that was written as
    approximate; the 10 % of any reading are not in it.
    """
    approximate = APPROXIMATE if reading.qualifier == "~" else 0.0
    return math.hypot(reading.error, approximate * (reading.concentration or 0.0))


def bounds_of(reading: Reading) -> tuple[float, float]:
    """Return the lower and upper bound of a reading (see :attr:`FloorEvidence.bounds`)."""
    value, error = reading.concentration or 0.0, 2.0 * reading.error
    least = value / WIDEST_INTERVAL
    if reading.qualifier == "<":
        return least, value + error
    if reading.qualifier == ">":
        return value, value * WIDEST_INTERVAL
    if reading.qualifier == "to":
        low = min(reading.concentration_low or least, value)
        return max(low - error, min(low, least)), value + error
    return value, value


def highest_of(items: Iterable[Evidence]) -> Reading | None:
    """Return the highest of the readings that are used; of equal ones the one that says most."""
    rank = {">": 2, "<": 0}
    return max(
        (item.reading for item in items if item.role == "used"),
        key=lambda one: (one.concentration or 0.0, rank.get(one.qualifier, 1)),
        default=None,
    )


@dataclass(frozen=True, slots=True)
class FloorEvidence(OnAPlan):
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
    def error(self) -> NDArray[np.float64]:
        """Standard deviation of each used reading's own error (:func:`error_of`), shape (n,)."""
        return np.array([error_of(item.reading) for item in self.used], dtype=np.float64)

    @property
    def ranges(self) -> NDArray[np.bool_]:
        """Which used readings were written as a range, shape (n,)."""
        return np.array([item.reading.qualifier == "to" for item in self.used], dtype=bool)

    @property
    def bounds(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower and upper bound of each used reading (computing unit), equal where it is a number.

        A non-detect lies between a hundredth of its limit and the limit, a saturated reading
        between the value that it exceeds and a hundred times that (common practice, no source); a
        range between its ends. What the checks of the instrument show of its error moves the limit
        of a non-detect and the upper end of a range up by two standard deviations: the limit was
        read on the same scale, and what was not seen may lie that much higher. Nothing is gained
        from it: the lower bound of a saturated reading stays.
        """
        ends = [bounds_of(item.reading) for item in self.used]
        low, high = np.array(ends, dtype=np.float64).reshape(-1, 2).T
        return low, high

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
    highest : Reading or None
        Highest reading used in the zone, with its qualifier.
    probability : float or None
        Highest probability in the zone that the concentration is above the level.
    reasons : tuple of str
        Why it is what it is, in words.
    id : str
        Of a piece that can be taped off, its own on the floor: ``G03-R1`` is the largest piece to
        remediate in room G03 (S resample, C clear, N no data). Empty as it was ruled.
    tape_m : float or None
        Length (m) of its edge that is not along a wall; None as it was ruled.
    added_m2 : float
        Of its area, what is in it only so that it can be taped off.
    """

    name: ZoneName
    room: str
    room_name: str
    geometry: BaseGeometry
    highest_estimate: float | None
    highest: Reading | None
    probability: float | None
    reasons: tuple[str, ...]
    id: str = ""
    tape_m: float | None = None
    added_m2: float = 0.0

    @property
    def highest_reading(self) -> float | None:
        """Its number (computing unit); for a non-detect that is its detection limit."""
        return None if self.highest is None else self.highest.concentration

    @property
    def area_m2(self) -> float:
        """Area (m²)."""
        return float(self.geometry.area)


@dataclass(frozen=True, slots=True)
class Zones(OnAPlan):
    """The zones of one floor for one level; they tile the rooms.

    ``purpose`` is what the level is for, in the site's own words; empty where it says none.
    """

    floor: Floor
    level: ActionLevel
    zones: tuple[Zone, ...]
    contours: tuple[LineString, ...]
    remediate_at: float
    clear_at: float
    purpose: str = ""

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

    Attributes
    ----------
    rank : int
        Its turn: what it settles is reckoned with the readings at the places before it.
    height_m : float or None
        Above the floor, where most readings of the map were taken.
    reasons : tuple of str
        Why here, in words.
    expected_m2 : float
        Area (m²) that a reading here is expected to move out of doubt, after those before it.
    left_m2 : float or None
        Area (m²) expected in doubt after it; None where nothing says.
    also_m : tuple of float
        Further heights to read at (m).
    repeats : int
        Readings to take, one after another.
    repeats_reason : str
        Why more than one; empty for one.
    instrument : str
        What the instrument has to be able to, in words.
    way_in : str
        What stands in the way; empty: nothing that is drawn.
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
    left_m2: float | None = None
    also_m: tuple[float, ...] = ()
    repeats: int = 1
    repeats_reason: str = ""
    instrument: str = ""
    way_in: str = ""


@dataclass(frozen=True, slots=True)
class StopRule:
    """After how many further readings there is little enough doubt; an expectation, no promise.

    Attributes
    ----------
    share : float
        Of the floor's area that may stay in doubt.
    area_m2 : float
        Of the floor.
    now_m2 : float
        In doubt as things stand: ``resample`` and ``no data``.
    places, readings : int or None
        The first so many places of the list do, and the readings at them; None: the list does not.
    left_m2 : float or None
        Expected in doubt after those, or after the whole list; None where nothing says.
    why : str
        What stays in doubt, or why nothing can be said; empty where the list does.
    """

    share: float
    area_m2: float
    now_m2: float
    places: int | None
    readings: int | None
    left_m2: float | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class ResampleList(OnAPlan):
    """Places to measure again, in the order in which to read them, and when to stop."""

    places: tuple[ResamplePlace, ...]
    stop: StopRule | None = None
