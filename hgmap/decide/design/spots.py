"""Where in one room to read: grid points off the walls, and as many more as the room needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

from hgmap.decide.design.gaps import Ground, walks_within
from hgmap.errors import EstimateError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_CANDIDATES: Final = 1000
MOST_CELLS_TRIED: Final = 4000
"""Cells of a room that places are chosen among, and tried against; more are thinned evenly."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the floor (m), and why it is one."""

    x: float
    y: float
    reason: str


@dataclass(frozen=True, slots=True)
class ToFind:
    """A hot spot that a design shall find: its radius (m) and the chance, above 0, at most 1."""

    radius_m: float
    probability: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.radius_m) and self.radius_m > 0 and 0 < self.probability <= 1):
            raise EstimateError(
                f"a hot spot of {self.radius_m:g} m with a chance of {self.probability:g} cannot "
                "be asked for",
                todo="give a radius above 0, and a chance above 0 and at most 1",
            )


def off_the_walls(ground: Ground, index: int, margin_m: float) -> BaseGeometry:
    """Return the ground of a room at least ``margin_m`` (m) from its walls.

    In a narrow room the margin is halved until some ground is left; where none is at an eighth,
    the middle of the widest circle that fits.
    """
    room, walls = ground.floor.rooms[index].polygon, shapely.union_all(ground.floor.walls)
    for share in (1.0, 0.5, 0.25, 0.125):
        free = room.buffer(-margin_m * share, join_style="mitre")
        if not walls.is_empty:
            free = free.difference(walls.buffer(margin_m * share))
        if free.area > 0:
            return free
    circle = shapely.maximum_inscribed_circle(room)
    return shapely.Point(circle.coords[0])


def spots_of_room(
    ground: Ground,
    index: int,
    on_grid: Floats,
    *,
    grid_says: str,
    margin_m: float,
    minimum: int,
    minimum_says: str,
    find: ToFind | None = None,
) -> list[Spot]:
    """Choose the places of one room.

    The grid's points, those too near a wall moved off it; then, while a hot spot ``find`` is found
    with less than its probability, the place that adds most to it; then, up to the minimum, the
    place farthest from the others. A room that has none begins with its middle.

    Parameters
    ----------
    ground : Ground
    index : int
        Position of the room in ``floor.rooms``.
    on_grid : array of shape (n, 2), m
        The grid's points in the room.
    grid_says, minimum_says : str
        Reasons, in words.
    margin_m : float
    minimum : int
    find : ToFind, optional
        Not always reached: :func:`hgmap.decide.design.on_plan.chance_of_places` says how far.
    """
    free = off_the_walls(ground, index, margin_m)
    spots = _on_grid(free, on_grid, grid_says)
    middle = _middle(ground, index, free)
    if not spots:
        spots.append(Spot(*middle, "middle of a room that the grid misses: every room gets one"))
    cells = np.flatnonzero(ground.room == index)
    cells = cells[:: -(-len(cells) // MOST_CELLS_TRIED)]
    choice = ground.xy[cells][shapely.intersects_xy(free, *ground.xy[cells].T)]
    choice = choice[:: max(1, -(-len(choice) // MOST_CANDIDATES))]
    if find is None and len(spots) >= minimum:
        return spots
    taken = np.array([(one.x, one.y) for one in spots])
    gap = walks_within(ground, index, taken, cells).min(axis=0)
    walk = walks_within(ground, index, choice, cells)
    if find is not None:
        says = (
            f"to find a hot spot of {find.radius_m:g} m radius with {find.probability * 100:g} % "
            "probability between these walls"
        )
        for one in _filling(walk, gap, find):
            spots.append(Spot(float(choice[one, 0]), float(choice[one, 1]), says))
    while len(spots) < minimum and len(choice):
        taken = np.array([(one.x, one.y) for one in spots])
        away = np.hypot(*(choice[:, None] - taken[None]).T).min(axis=0)
        best = int(away.argmax())
        if away[best] <= 0:
            break  # the room has not as many places
        spots.append(Spot(float(choice[best, 0]), float(choice[best, 1]), minimum_says))
    return spots


def _on_grid(free: BaseGeometry, on_grid: Floats, says: str) -> list[Spot]:
    """Keep the points that are off the walls, and move the others there, but for crowds.

    To lose them would leave every wall unread; a point stays out where moving brings it to within
    half its neighbours' distance of another.
    """
    spots = [Spot(float(x), float(y), says) for x, y in on_grid]
    point = shapely.points(on_grid)
    moved = shapely.distance(free, point)
    apart = 0.5 * _nearest_apart(on_grid)
    kept = [one for one, far in zip(spots, moved, strict=True) if far <= 1e-9]
    for one in np.flatnonzero(moved > 1e-9)[np.argsort(moved[moved > 1e-9], kind="stable")]:
        x, y = shapely.get_coordinates(shapely.shortest_line(free, point[one]))[0]
        if all(np.hypot(x - near.x, y - near.y) >= apart for near in kept):
            kept.append(Spot(float(x), float(y), f"{says}, moved {moved[one]:.2f} m off the wall"))
    return kept


def _nearest_apart(xy: Floats) -> float:
    """Return the least distance between two places (m); 0 of fewer than two."""
    return float(KDTree(xy).query(xy, k=2)[0][:, 1].min()) if len(xy) > 1 else 0.0


def _filling(walk: Floats, gap: Floats, find: ToFind) -> list[int]:
    """Return the candidates that are added, each the one that then finds most more."""
    chosen: list[int] = []
    found = gap <= find.radius_m
    reached = walk <= find.radius_m
    counted = reached.astype(np.float32)  # whole numbers to 16 million, and quick to add up
    while len(walk) and found.mean() < find.probability:
        more = counted @ (~found).astype(np.float32)
        best = int(more.argmax())
        if not more[best]:
            break
        chosen.append(best)
        found = found | reached[best]
    return chosen


def _middle(ground: Ground, index: int, free: BaseGeometry) -> tuple[float, float]:
    """Return the middle of the widest circle that fits, moved off wall lines."""
    circle = shapely.maximum_inscribed_circle(ground.floor.rooms[index].polygon)
    point = shapely.Point(circle.coords[0])
    if free.distance(point) > 1e-6:
        point = shapely.shortest_line(free, point).interpolate(0)
    return float(point.x), float(point.y)
