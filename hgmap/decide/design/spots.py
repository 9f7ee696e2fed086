"""Where in one room to read: grid points off the walls, and as many more as the room needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

from hgmap.decide.design.gaps import DIRECTIONS, Ground, found_from
from hgmap.errors import EstimateError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_CHOICES: Final = 6000
"""Cells of a room that places are chosen among; more are thinned evenly."""

MOST_PAIRS: Final = 5_000_000
"""Cells found from all choices together; above that there are fewer choices."""

LEAST_ASPECT: Final = 0.2
"""Width over length of the narrowest ellipse: its directions are 5 degrees apart."""

MOST_MIDDLES: Final = 400_000
"""Cells times directions of a room's ellipses while places are chosen; more are thinned."""

NEARER: Final = (1.0, 0.5, 0.0)
"""Shares of the margin that places keep from the walls, the next where the one before leaves a
room short of its minimum, or its hot spots not found."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the floor (m), and why it is one."""

    x: float
    y: float
    reason: str


@dataclass(frozen=True, slots=True)
class ToFind:
    """A hot spot that a design shall find.

    Attributes
    ----------
    radius_m : float
        Of a circle; of an ellipse, which lies in any direction, half its length (m).
    probability : float
        Above 0, at most 1.
    aspect : float
        Width over length, 0.2 to 1, a circle.
    """

    radius_m: float
    probability: float
    aspect: float = 1.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.radius_m) and self.radius_m > 0 and 0 < self.probability <= 1):
            raise EstimateError(
                f"a hot spot of {self.radius_m:g} m with a chance of {self.probability:g} cannot "
                "be asked for",
                todo="give a radius above 0, and a chance above 0 and at most 1",
            )
        if not LEAST_ASPECT <= self.aspect <= 1:
            raise EstimateError(
                f"a hot spot {self.aspect:g} times as wide as long cannot be asked for",
                todo=f"give {LEAST_ASPECT:g} to 1",
            )

    @property
    def size(self) -> str:
        """Write the size.

        Examples
        --------
        >>> ToFind(1.5, 0.95).size, ToFind(1.5, 0.95, 0.5).size
        ('1.5 m radius', '3 m by 1.5 m')
        """
        if self.aspect == 1:
            return f"{self.radius_m:.6g} m radius"
        return f"{2 * self.radius_m:.6g} m by {2 * self.radius_m * self.aspect:.3g} m"


def off_the_walls(ground: Ground, index: int, margin_m: float) -> BaseGeometry:
    """Return the ground of a room at least ``margin_m`` (m) from its walls.

    In a narrow room the margin is halved until some ground is left; where none is at an eighth,
    the middle of the widest circle that fits.
    """
    room = ground.floor.rooms[index].polygon
    walls = shapely.union_all([one for one in ground.floor.walls if one.distance(room) <= margin_m])
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
    samples: int = 0,
    samples_says: str = "",
    seed: int = 0,
) -> list[Spot]:
    """Choose the places of one room.

    The grid's points, those too near a wall moved off it; then, while a hot spot ``find`` is found
    with less than its probability, the place that adds most to it; then, up to the minimum, the
    place farthest from the others. A room that has none begins with its middle. Where that cannot
    be had off the walls, some places stand nearer to them, and say so.

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
    samples, samples_says, seed : int, str, int
        Places that a statement about the room needs: those missing are drawn at random.
    """
    free = off_the_walls(ground, index, margin_m)
    spots = _on_grid(free, on_grid, grid_says)
    if not spots:
        x, y = _middle(ground, index, free)
        spots.append(Spot(x, y, "middle of a room that the grid misses: every room gets one"))
    for share in NEARER:
        if share < 1:
            free = off_the_walls(ground, index, margin_m * share)
        remark = "" if share == 1 else f", nearer to a wall than {margin_m:g} m"
        if find is not None:
            spots += _to_find(ground, index, free, spots, find, remark)
        spots += _to_minimum(ground, index, free, spots, minimum, minimum_says + remark)
        spots += _drawn(ground, index, free, spots, samples, samples_says + remark, seed)
    return spots


def _drawn(
    ground: Ground,
    index: int,
    free: BaseGeometry,
    spots: Sequence[Spot],
    samples: int,
    says: str,
    seed: int,
) -> list[Spot]:
    """Draw places at random, none twice, until there are enough for a statement."""
    if len(spots) >= samples:
        return []
    choice = _choice(ground, np.flatnonzero(ground.room == index), free, MOST_CHOICES)
    if not len(choice):
        return []
    away = np.hypot(*(choice[:, None] - _xy(spots)[None]).transpose(2, 0, 1)).min(axis=1)
    choice = choice[away >= ground.raster.cell_m / 2]
    order = np.random.default_rng([seed, index]).permutation(len(choice))
    return [Spot(float(x), float(y), says) for x, y in choice[order[: samples - len(spots)]]]


def _to_find(
    ground: Ground, index: int, free: BaseGeometry, spots: Sequence[Spot], find: ToFind, remark: str
) -> list[Spot]:
    """Add the place that finds most more, until the room is found with the probability."""
    cells = np.flatnonzero(ground.room == index)
    every, turns = cells, 1 if find.aspect == 1 else DIRECTIONS
    if turns > 1:
        cells = cells[:: max(1, -(-len(cells) * turns // MOST_MIDDLES))]
    size = (find.radius_m, find.aspect)
    found = found_from(ground, index, _xy(spots), cells, *size).sum(axis=0) > 0
    if found.mean() >= find.probability:
        return []
    # the share of the room's middles that one place finds, at most
    share = min(1.0, math.pi * find.radius_m**2 / ground.raster.cell_m**2 / len(every))
    in_it = share * find.aspect * len(cells) * turns + 1
    choice = _choice(ground, every, free, int(np.clip(MOST_PAIRS / in_it, 100, MOST_CHOICES)))
    if not len(choice):
        return []
    reached = found_from(ground, index, choice, cells, *size)
    says = (
        f"to find a hot spot of {find.size} with {find.probability * 100:g} % "
        f"probability between these walls{remark}"
    )
    added: list[Spot] = []
    while found.mean() < find.probability:
        more = reached @ (~found).astype(np.float32)
        best = int(more.argmax())
        if not more[best]:
            break
        added.append(Spot(float(choice[best, 0]), float(choice[best, 1]), says))
        found[reached.indices[reached.indptr[best] : reached.indptr[best + 1]]] = True
    return added


def _to_minimum(
    ground: Ground, index: int, free: BaseGeometry, spots: Sequence[Spot], minimum: int, says: str
) -> list[Spot]:
    """Add the place farthest from all others, until there are enough."""
    added: list[Spot] = []
    if len(spots) >= minimum:
        return added
    choice = _choice(ground, np.flatnonzero(ground.room == index), free, MOST_CHOICES)
    away = np.hypot(*(choice[:, None] - _xy(spots)[None]).transpose(2, 0, 1)).min(axis=1)
    while len(spots) + len(added) < minimum and len(choice):
        best = int(away.argmax())
        if away[best] < ground.raster.cell_m / 2:
            break  # there is no other place off these walls
        added.append(Spot(float(choice[best, 0]), float(choice[best, 1]), says))
        away = np.minimum(away, np.hypot(*(choice - choice[best]).T))
    return added


def _choice(ground: Ground, cells: Ints, free: BaseGeometry, most: int) -> Floats:
    """Return the cells that a place may stand in, at most so many, evenly thinned."""
    xy = ground.xy[cells]
    xy = xy[shapely.intersects_xy(free, *xy.T)]
    return np.asarray(xy[:: max(1, -(-len(xy) // most))])


def _xy(spots: Sequence[Spot]) -> Floats:
    return np.array([(one.x, one.y) for one in spots], dtype=np.float64)


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


def _middle(ground: Ground, index: int, free: BaseGeometry) -> tuple[float, float]:
    """Return the middle of the widest circle that fits, moved off wall lines."""
    circle = shapely.maximum_inscribed_circle(ground.floor.rooms[index].polygon)
    point = shapely.Point(circle.coords[0])
    if free.distance(point) > 1e-6:
        point = shapely.shortest_line(free, point).interpolate(0)
    return float(point.x), float(point.y)
