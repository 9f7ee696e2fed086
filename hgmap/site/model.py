"""The objects that a survey is made of.

Frame and units, stated once: a floor's own frame is in metres, x to the right and y up on the
plan; heights are metres above that floor; concentrations are kept as they were written and
beside that in the computing unit of their medium (see :mod:`hgmap.site.units`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Literal

from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

Medium = Literal["air", "surface", "bulk"]
Use = Literal["dwelling", "school", "child care", "health care", "commercial", "industrial"]
Qualifier = Literal["", "<", ">"]
OpeningState = Literal["open", "closed", "sealed"]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something a person should know about an input: where, what, and what to do.

    ``severity`` is ``"error"`` where a floor or file cannot be used, ``"held"`` where a reading
    is kept out, ``"warning"`` where the site asks for less caution than is built in, and
    ``"note"`` where the input was used with a repair or an assumption.
    """

    severity: Literal["error", "held", "warning", "note"]
    where: str
    message: str
    todo: str = ""
    floor: str = ""
    round: str = ""


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
class MapFrame:
    """How the floor's own frame lies on the map: ``map = origin + local`` in ``crs``.

    Attributes
    ----------
    crs : str
        A projected coordinate reference system in metres, as pyproj reads it.
    origin_x_m, origin_y_m : float
        Map coordinates of the local origin (m).
    """

    crs: str
    origin_x_m: float = 0.0
    origin_y_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Floor:
    """One floor: rooms that do not overlap, walls, openings.

    ``north_deg`` is the direction of north on the plan, in degrees clockwise from plan-up;
    ``None`` where nobody has said it.
    """

    name: str
    title: str
    rooms: tuple[Room, ...]
    walls: tuple[LineString, ...] = ()
    openings: tuple[Opening, ...] = ()
    north_deg: float | None = None
    map_frame: MapFrame | None = None

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


@dataclass(frozen=True, slots=True)
class Round:
    """One visit: its readings were taken under one set of conditions.

    Attributes
    ----------
    openings : tuple of (floor, opening, state)
        How openings stood that were not as the plan has them.
    """

    name: str
    title: str
    date: date | None
    files: tuple[str, ...]
    openings: tuple[tuple[str, str, OpeningState], ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as written, where it was put, and whether it counts.

    Attributes
    ----------
    value, unit, qualifier
        As written; ``qualifier`` ``"<"`` is a non-detect at the detection limit ``value``,
        ``">"`` a saturated reading that is only known to be above ``value``.
    concentration : float or None
        ``value`` in the computing unit of the site's medium; None where it cannot be converted.
    placed : {"", "given", "room"}
        Where x and y come from: written, or the room's representative point; empty: nowhere.
    band : str
        Name of the height band, empty where there is none.
    held : tuple of str
        Why the reading is kept out of every map; empty for a usable one.
    cautions : tuple of str
        What was assumed about it.
    where : str
        File and row.
    """

    id: str
    round: str
    floor: str
    room: str
    x: float | None
    y: float | None
    height_m: float | None
    time: datetime | None
    value: float | None
    unit: str
    qualifier: Qualifier
    note: str
    concentration: float | None
    band: str
    placed: Literal["", "given", "room"]
    where: str
    temperature_c: float | None = None
    held: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether nothing holds this reading."""
        return not self.held


@dataclass(frozen=True, slots=True)
class ActionLevel:
    """An action level is never a bare number: it says for whom, how, and who says so.

    Attributes
    ----------
    value, unit
        As published.
    concentration : float
        In the computing unit of ``medium``.
    uses : tuple of str
        The uses of a building that it was written for.
    kind : str
        ``"occupancy"``, ``"isolation"``, ``"health reference"``, ``"occupational"``,
        ``"emergency"`` or ``"belongings"``; ``"stated"`` for one the user typed.
    from_memory : bool
        The value was not read in the source; it is shown so and never chosen by default.
    analyte : str
        What is measured.
    """

    name: str
    value: float
    unit: str
    medium: Medium
    concentration: float
    averaging: str
    height: str
    scenario: str
    kind: str
    uses: tuple[str, ...]
    source: str
    year: int | None
    from_memory: bool = False
    analyte: str = ""


@dataclass(frozen=True, slots=True)
class LevelRequest:
    """What site.toml says about the action level: a name from the table, or a record."""

    name: str | None = None
    value: float | None = None
    unit: str | None = None
    averaging: str | None = None
    height: str | None = None
    scenario: str | None = None
    source: str | None = None
    year: int | None = None


@dataclass(frozen=True, slots=True)
class MapSettings:
    """What a site says about how its maps are made; None: the built-in choice, which is printed."""

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = None
    height_band: str | None = None
    remediate_at: float = 0.5
    clear_at: float = 0.05
    guard_m: float = 1.5
    walls: bool | None = None
    range_m: float | None = None
    nugget: float | None = None
    sill: float | None = None


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """Who the work is for and who did it, as printed on the sheets."""

    client: str = ""
    address: str = ""
    prepared_by: str = ""
    reviewed_by: str = ""
    project: str = ""
    instrument: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """Everything a surveyor brought back about one building.

    ``lost_floors`` are the names and titles (case-folded) of floors whose plan cannot be used.
    """

    folder: Path
    name: str
    analyte: str
    medium: Medium
    use: Use | None
    invented: bool
    level: LevelRequest | None
    floors: tuple[Floor, ...]
    rounds: tuple[Round, ...]
    height_bands: tuple[HeightBand, ...]
    readings: tuple[Reading, ...]
    settings: MapSettings
    title_block: TitleBlock
    problems: tuple[Problem, ...]
    digests: dict[str, str] = field(default_factory=dict)
    lost_floors: frozenset[str] = frozenset()

    def floor(self, name: str) -> Floor | None:
        """Return the floor of this name, or None."""
        return next((floor for floor in self.floors if floor.name == name), None)

    def round(self, name: str) -> Round | None:
        """Return the round of this name, or None."""
        return next((one for one in self.rounds if one.name == name), None)
