"""Surfaces of an EnergyPlus input file, in the building's own axes (m).

Versions of the format differ in the fields before the corners (a space was added in 9.6, shading
went in 9.0); the corners themselves come in threes at the end, so that the number of fields tells
the version.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.errors import PlanError
from hgmap.site.importers.idf_text import SENTINELS, IdfObject, number_or_none
from hgmap.site.importers.names import one_line_text

Corners = NDArray[np.float64]
"""Shape (n, 3), m."""


@dataclass(frozen=True, slots=True)
class _Detailed:
    """Fields before the count of corners, older and newer form; whose it is; its type."""

    before: tuple[int, int]
    of: int
    type: int | str


DETAILED: Final[Mapping[str, _Detailed]] = {
    "buildingsurface:detailed": _Detailed((9, 10), 3, 1),
    "floor:detailed": _Detailed((8, 9), 2, "floor"),
    "wall:detailed": _Detailed((8, 9), 2, "wall"),
    "roofceiling:detailed": _Detailed((8, 9), 2, "ceiling"),
    "fenestrationsurface:detailed": _Detailed((9, 8), 3, 1),
}
"""``of``: the field with the zone, or with the wall that a door is in."""

RECTANGLES: Final[Mapping[str, tuple[str, int]]] = {
    "floor:groundcontact": ("floor", 10), "floor:adiabatic": ("floor", 10),
    "floor:interzone": ("floor", 11), "ceiling:adiabatic": ("ceiling", 10),
    "ceiling:interzone": ("ceiling", 11), "roof": ("ceiling", 10), "wall:exterior": ("wall", 10),
    "wall:adiabatic": ("wall", 10), "wall:underground": ("wall", 10),
    "wall:interzone": ("wall", 11),
}  # fmt: skip
"""The type of each, and how many fields it has without a space: the zone is its third, and the
last seven are azimuth, tilt, corner, length, and height or width."""

MOST_CORNERS: Final = 2000
MAY_CHANGE: Final = 0.01
DOORS: Final = ("door", "glassdoor")
PLAIN_DOORS: Final = ("door", "glazeddoor", "door:interzone", "glazeddoor:interzone")


@dataclass(frozen=True, slots=True)
class Surface:
    """A floor, ceiling or wall: corners in the building's axes, and whose it is."""

    type: str
    zone: str
    space: str
    construction: str
    corners: Corners
    source: IdfObject

    @property
    def on_plan(self) -> shapely.Geometry:
        """Its shape from above; valid, and empty where it stands upright."""
        return shapely.make_valid(Polygon(self.corners[:, :2]))

    @property
    def crosses_itself(self) -> bool:
        """Whether its outline is not sound from above: one that only touches itself is."""
        drawn = Polygon(self.corners[:, :2])
        seen = self.on_plan.area
        return bool(abs(seen - drawn.area) > MAY_CHANGE * max(seen, drawn.area))

    @property
    def height_m(self) -> float:
        """The mean height of its corners, without the noise of the last digits."""
        return round(float(self.corners[:, 2].mean()), 6)

    @property
    def foot(self) -> LineString:
        """The line on the plan of a surface that stands upright."""
        return widest_line(self.corners)


@dataclass(frozen=True, slots=True)
class Axes:
    """From a surface's coordinates to the building's: rules of the file, and its zones by name."""

    relative: bool
    rectangles_relative: bool
    counterclockwise: bool
    zones: Mapping[str, IdfObject] = field(default_factory=dict)

    def of_building(self, corners: Corners, zone: str, *, relative: bool) -> Corners:
        """Turn and move corners that are relative to their zone.

        A zone is turned clockwise by its direction of relative north, then moved to its origin.
        """
        one = self.zones.get(zone.casefold())
        if not relative or one is None:
            return corners
        turn = -np.radians(one.number(1))
        cos, sin = np.cos(turn), np.sin(turn)
        turned = corners @ np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
        origin = np.array([one.number(index) for index in (2, 3, 4)])
        return np.asarray(turned + origin, dtype=np.float64)


def read_axes(objects: Mapping[str, list[IdfObject]]) -> Axes:
    """Read the rules of the file's coordinates.

    Raises
    ------
    PlanError
        If there is none, or it says a system that nobody knows.
    """
    rules = next(iter(objects.get("globalgeometryrules", ())), None)
    zones = {one.name.casefold(): one for one in objects.get("zone", ())}
    if rules is None:
        file = next(iter(objects.values()))[0].file
        raise PlanError(
            "has no GlobalGeometryRules, which say what its coordinates are",
            where=file,
            todo="export the whole model",
        )
    system = rules.text(2).casefold()
    if not system.startswith(("relative", "world", "absolute")):
        raise PlanError(
            f"coordinate system {system!r} is not Relative or World",
            where=rules.where,
            todo="mend the object",
        )
    return Axes(
        system.startswith("relative"),
        not rules.text(4).casefold().startswith("world"),
        not rules.text(1).casefold().startswith("clockwise"),
        zones,
    )


def read_surface(one: IdfObject, axes: Axes) -> Surface:
    """Read a floor, ceiling or wall.

    Raises
    ------
    PlanError
        If its corners cannot be trusted.
    """
    if one.kind in DETAILED:
        form = DETAILED[one.kind]
        corners, newer = detailed_corners(one, form.before)
        kind = form.type if isinstance(form.type, str) else one.text(form.type).casefold()
        of = form.of
        relative = axes.relative
    else:
        kind, fields = RECTANGLES[one.kind]
        if len(one.fields) < fields:
            raise PlanError("lacks fields", where=one.where, todo="mend the object")
        newer = len(one.fields) > fields
        corners = _rectangle(one, tilt_deg={"floor": 180.0, "ceiling": 0.0}.get(kind, 90.0))
        of = 2
        relative = axes.rectangles_relative
    zone = one_line_text(one.text(of))
    return Surface(
        "ceiling" if kind == "roof" else kind,
        zone,
        one.text(of + 1) if newer else "",
        one.text(of - 1).casefold(),
        axes.of_building(corners, zone, relative=relative),
        one,
    )


def detailed_corners(one: IdfObject, before: tuple[int, int]) -> tuple[Corners, bool]:
    """Return the corners at the end of an object, and whether it has the newer form.

    ``before`` says how many fields stand before the count of the corners, older and newer.
    """
    fields = list(one.fields)
    while fields and not fields[-1]:
        fields.pop()
    for newer, start in enumerate(before):
        rest = len(fields) - start - 1
        count = one.text(start)
        if rest < 9 or rest % 3 or not (count.casefold() in SENTINELS or number_or_none(count)):
            continue
        if rest > 3 * MOST_CORNERS:
            break
        if count.casefold() not in SENTINELS and number_or_none(count) != rest // 3:
            break
        values = [one.number(index, otherwise=math.nan) for index in range(start + 1, len(fields))]
        if any(map(math.isnan, values)):
            break
        return np.array(values).reshape(-1, 3), bool(newer)
    raise PlanError(
        "its corners are not as many as it says, not three numbers each, or too many",
        where=one.where,
        todo="mend the object",
    )


def _rectangle(one: IdfObject, *, tilt_deg: float) -> Corners:
    """Lay out a rectangle given by its azimuth, tilt, lower left corner, length and height.

    Seen from outside, its length runs to the right, its height up: for a wall that faces south
    (azimuth 180, tilt 90) east and up; for a floor (tilt 180) that is looked at from below, east
    and south.
    """
    last = len(one.fields)
    azimuth = np.radians(one.number(last - 7))
    tilt = np.radians(one.number(last - 6, otherwise=tilt_deg))
    corner = np.array([one.number(last - n) for n in (5, 4, 3)])
    length, height = one.number(last - 2), one.number(last - 1)
    along = length * np.array([-np.cos(azimuth), np.sin(azimuth), 0.0])
    up = height * np.array(
        [-np.cos(tilt) * np.sin(azimuth), -np.cos(tilt) * np.cos(azimuth), np.sin(tilt)]
    )
    return np.array([corner, corner + along, corner + along + up, corner + up])


def read_door(
    one: IdfObject, walls: Callable[[str], Surface | None], axes: Axes
) -> LineString | None:
    """Return the line of a door on the plan; None where it is no door, or in no wall.

    Raises
    ------
    PlanError
        If its corners cannot be trusted.
    """
    if one.kind == "fenestrationsurface:detailed":
        if one.text(1).casefold() not in DOORS:
            return None
        corners, _ = detailed_corners(one, DETAILED[one.kind].before)
        wall = walls(one.text(3))
        if wall is None or wall.type != "wall":
            return None
        return widest_line(axes.of_building(corners, wall.zone, relative=axes.relative))
    wall = walls(one.text(2))
    if wall is None or wall.type != "wall":
        return None
    last = len(one.fields)
    start, length = one.number(last - 4), one.number(last - 2)
    return _along(wall, start, length, axes)


def _along(wall: Surface, start: float, length: float, axes: Axes) -> LineString:
    """Lay a stretch along a wall from its left end, seen from outside."""
    corners = wall.corners
    following = np.roll(corners, -1, axis=0)
    normal = np.cross(corners, following).sum(axis=0)  # Newell's method: outwards
    if not axes.counterclockwise and wall.source.kind in DETAILED:
        normal = -normal
    level = float(np.hypot(normal[0], normal[1]))
    if not level > 0:
        raise PlanError("does not stand upright", where=wall.source.where, todo="mend the wall")
    right = np.array([-normal[1], normal[0]]) / level
    ends = corners[:, :2] @ right
    left = corners[int(np.argmin(ends)), :2]
    return LineString([left + right * start, left + right * (start + length)])


def widest_line(corners: Corners) -> LineString:
    """Return the line between the two corners that are farthest apart on the plan.

    Examples
    --------
    >>> widest_line(np.array([[1, 0, 0], [2, 0, 0], [2, 0, 2.1], [1, 0, 2.1]])).length
    1.0
    """
    flat = corners[:, :2]
    apart = np.hypot(*np.moveaxis(flat[:, None] - flat[None], -1, 0))
    first, second = np.unravel_index(int(np.argmax(apart)), apart.shape)
    return LineString([flat[first], flat[second]])
