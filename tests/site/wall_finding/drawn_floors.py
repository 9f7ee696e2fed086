"""Invented floors with known walls, drawn as drawings are: filled, by two faces, or by one line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely import LineString, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from hgmap.site.plan_picture import PlanPicture
from hgmap.site.wall_finding.proposed import WallProposals

Style = Literal["filled", "double", "line"]
Wall = tuple[tuple[float, float], tuple[float, float]]

FINER: Final = 4
"""Drawn so many times finer and then averaged, as a scan is."""

MARGIN_M: Final = 1.0

TWO_ROOMS: Final[tuple[Wall, ...]] = (
    ((0, 0), (12, 0)), ((12, 0), (12, 8)), ((12, 8), (0, 8)), ((0, 8), (0, 0)),
    ((5, 0), (5, 3.2)), ((5, 4.1), (5, 8)),
    ((5, 4.6), (7.5, 4.6)), ((8.4, 4.6), (12, 4.6)),
)  # fmt: skip
"""Three rooms with two doors of 0.9 m: at x 5 from y 3.2 to 4.1, at y 4.6 from x 7.5 to 8.4."""


@dataclass(frozen=True)
class DrawnFloor:
    """A drawing, where it lies, and what was drawn (m, in its own frame)."""

    grey: NDArray[np.uint8]
    picture: PlanPicture
    walls: tuple[Wall, ...]
    doors: tuple[Wall, ...]

    @property
    def m_per_px(self) -> float:
        return self.picture.m_per_px


def draw_floor(
    walls: tuple[Wall, ...] = TWO_ROOMS,
    style: Style = "double",
    *,
    turn_deg: float = 0.0,
    m_per_px: float = 0.02,
    thick_m: float = 0.2,
    pen_px: int = 2,
    doors: tuple[Wall, ...] = (((5, 3.2), (5, 4.1)), ((7.5, 4.6), (8.4, 4.6))),
    furniture: bool = True,
) -> DrawnFloor:
    """Draw walls, turned on the paper; the picture is placed so that they lie as they were said."""
    turned = affinity.rotate(_lines(walls), turn_deg, origin=(0, 0))
    west, south, east, north = turned.bounds
    wide = math.ceil((east - west + 2 * MARGIN_M) / m_per_px)
    high = math.ceil((north - south + 2 * MARGIN_M) / m_per_px)
    image = Image.new("L", (wide * FINER, high * FINER), 255)
    pen = ImageDraw.Draw(image)
    # paper to plan: the picture's upper left corner, turned back
    corner = affinity.rotate(
        shapely.Point(west - MARGIN_M, south - MARGIN_M + high * m_per_px), -turn_deg, origin=(0, 0)
    )
    picture = PlanPicture("plans/drawn.png", m_per_px, -turn_deg, corner.x, corner.y)

    def ink(shape: BaseGeometry, width: int, *, fill: bool = False) -> None:
        for part in shapely.get_parts(shape):
            if isinstance(part, Polygon):
                if fill:
                    pen.polygon(_px(part.exterior, picture), fill=0)
                    for hole in part.interiors:
                        pen.polygon(_px(hole, picture), fill=255)
                else:
                    for ring in (part.exterior, *part.interiors):
                        pen.line(_px(ring, picture), fill=0, width=width * FINER)
            else:
                pen.line(_px(part, picture), fill=0, width=width * FINER)

    if style == "line":
        ink(_lines(walls), pen_px)
    else:
        ink(_body(walls, thick_m), pen_px, fill=style == "filled")
    if furniture:
        for x, y in ((2.0, 2.0), (9.0, 6.5)):
            ink(shapely.box(x, y, x + 0.8, y + 0.5), 1)
        swing = [(5 + 0.9 * math.cos(a), 3.2 + 0.9 * math.sin(a)) for a in np.linspace(0, 1.57, 40)]
        ink(LineString([(5, 3.2), *swing]), 1)
    grey = np.array(image.resize((wide, high), Image.Resampling.BOX))
    return DrawnFloor(grey, picture, walls, doors)


def random_walls(
    rng: np.random.Generator, wide_m: float = 18.0, high_m: float = 12.0, least_m: float = 3.0
) -> tuple[tuple[Wall, ...], tuple[Wall, ...]]:
    """Cut a floor into rooms by walls with a door of 0.9 m in each; return walls and doors."""
    walls: list[Wall] = [
        ((0, 0), (wide_m, 0)), ((wide_m, 0), (wide_m, high_m)),
        ((wide_m, high_m), (0, high_m)), ((0, high_m), (0, 0)),
    ]  # fmt: skip
    doors: list[Wall] = []
    cuts: list[float] = []
    rooms = [(0.0, 0.0, wide_m, high_m)]
    while rooms:
        west, south, east, north = rooms.pop()
        upright = east - west > north - south
        low, high = (west, east) if upright else (south, north)
        if high - low < 2 * least_m:
            continue
        at = round(float(rng.uniform(low + least_m, high - least_m)), 2)
        # walls that nearly meet would be one to any reader of the drawing
        if any(abs(at - other) < 0.8 for other in cuts):
            continue
        axis = 0 if upright else 1
        if any(a[axis] - 0.6 < at < b[axis] + 0.6 for a, b in doors if a[axis] != b[axis]):
            continue  # it would end in a door
        cuts.append(at)
        first, last = (south, north) if upright else (west, east)
        door = round(float(rng.uniform(first + 0.6, last - 1.5)), 2)
        pieces = ((first, door), (door + 0.9, last))
        for a, b in pieces:
            walls.append(((at, a), (at, b)) if upright else ((a, at), (b, at)))
        gap = ((at, door), (at, door + 0.9)) if upright else ((door, at), (door + 0.9, at))
        doors.append(gap)
        if upright:
            rooms += [(west, south, at, north), (at, south, east, north)]
        else:
            rooms += [(west, south, east, at), (west, at, east, north)]
    return tuple(walls), tuple(doors)


def _lines(walls: tuple[Wall, ...]) -> BaseGeometry:
    return shapely.MultiLineString([LineString(one) for one in walls])


def _body(walls: tuple[Wall, ...], thick_m: float) -> BaseGeometry:
    """Return the ground that walls stand on; corners are square, ends are cut straight."""
    half = thick_m / 2
    flat = [LineString(one).buffer(half, cap_style="flat") for one in walls]
    ends = [shapely.Point(place) for one in walls for place in one]
    corners = [
        end.buffer(half, cap_style="square")
        for k, end in enumerate(ends)
        if sum(end.distance(other) < 1e-9 for other in ends) > 1
    ]
    return shapely.union_all([*flat, *corners])


def _px(line: BaseGeometry, picture: PlanPicture) -> list[tuple[float, float]]:
    found = picture.to_pixels(shapely.get_coordinates(line)) * FINER
    return [(float(x), float(y)) for x, y in found]


def found_share(truth: tuple[Wall, ...], lines: list[LineString], within_m: float) -> float:
    """Return what share of the length of true walls has a line within so many metres."""
    near = shapely.union_all([one.buffer(within_m, cap_style="square") for one in lines])
    whole = _lines(truth)
    return float(whole.intersection(near).length / whole.length)


def false_share(truth: tuple[Wall, ...], lines: list[LineString], within_m: float) -> float:
    """Return what share of the length of lines has no true wall within so many metres."""
    near = _lines(truth).buffer(within_m, cap_style="square")
    length = sum(one.length for one in lines)
    return float(sum(one.difference(near).length for one in lines) / length) if length else 0.0


def wall_lines(found: WallProposals) -> list[LineString]:
    """Return the lines of all walls that are proposed."""
    return [one.line for one in found.walls]


def farthest_end(truth: Wall, found: WallProposals) -> float:
    """Return how far (m) the ends of a true wall are from those of the wall nearest to it."""
    return min(
        min(max(math.dist(a, c), math.dist(b, d)) for c, d in (ends, ends[::-1]))
        for a, b in [truth]
        for ends in [(one.start, one.end) for one in found.walls]
    )
