"""How far every cell of a floor is from the nearest place where the air was, or will be, sampled.

A walk bends round wall lines and ends at walls. It goes through doors only when asked to, and then
only through those that stand open: behind a closed one the air is not that of the hot spot.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from scipy.spatial.distance import cdist

from hgmap.field.paths import Walks
from hgmap.field.points import as_points
from hgmap.field.raster import Raster, as_rooms
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Reach = Literal["same room", "open doors"]

PAIRS_AT_ONCE: Final = 2_000_000
"""Walks measured in one go, to bound the memory."""

DIRECTIONS: Final = 36
"""Directions of an ellipse over half a turn: steps of 5 degrees (midpoint rule)."""

TILES: Final = 8
"""Tiles along the longer side of a room at most."""


@dataclass(frozen=True)
class Ground:
    """The floor as cells, each room with at least one, and the walks over it.

    Attributes
    ----------
    floor : Floor
        As given.
    raster : Raster
    reach : {"same room", "open doors"}
        Whether a hot spot ends at its room's doors, or goes on through open ones.
    xy : array of shape (n, 2)
        Centres of the cells inside (m), row by row; then one place for each room that no cell
        centre falls in, so that no room is forgotten.
    room : array of shape (n,)
        Position of each cell's room in ``floor.rooms``.
    walks : Walks
        Over the floor with the doors shut that a hot spot does not pass.
    """

    floor: Floor
    raster: Raster
    reach: Reach
    xy: Floats
    room: Ints
    walks: Walks

    @property
    def on_raster(self) -> int:
        """How many of the cells lie on the raster; they come first."""
        return int(self.raster.inside.sum())

    def cells_by_room(self) -> list[Ints]:
        """Return the positions of each room's cells."""
        order = np.argsort(self.room, kind="stable")
        ends = np.searchsorted(self.room[order], np.arange(1, len(self.floor.rooms)))
        return np.split(order, ends)


def lay_ground(floor: Floor, cell_m: float, *, reach: Reach = "same room") -> Ground:
    """Lay cells of ``cell_m`` (m) over a floor and prepare its walks.

    Raises
    ------
    EstimateError
        If the step cannot be used.
    """
    raster = Raster.over(floor, cell_m)
    xy, room = raster.points(), raster.room_index[raster.inside].astype(np.int64)
    lost = np.setdiff1d(np.arange(len(floor.rooms)), room)
    if len(lost):
        middles = [floor.rooms[one].polygon.representative_point() for one in lost]
        xy = np.vstack([xy, shapely.get_coordinates(middles)])
        room = np.concatenate([room, lost])
    return Ground(floor, raster, reach, xy, room, Walks.over(_shut(floor, reach)))


def nearest_sample(ground: Ground, xy: Floats, room: Ints | None = None) -> Floats:
    """Return the walk (m) from each cell to the nearest place, shape (n,); inf where there is none.

    Parameters
    ----------
    ground : Ground
    xy : array of shape (m, 2), m
        Where the air was, or will be, sampled.
    room : array of shape (m,), optional
        Position of each place's room in ``floor.rooms``; default: from the plan.

    Raises
    ------
    EstimateError
        If a place is on no room of the floor, or a shape does not fit.
    """
    xy = as_points(xy)
    rooms = as_rooms(ground.floor, xy, room, name="room")
    gap = np.full(len(ground.xy), np.inf)
    for index, cells, places in _blocks(ground, rooms):
        if index >= 0 and _is_plain(ground, index, xy[places]):
            gap[cells] = KDTree(xy[places]).query(ground.xy[cells])[0]
            continue
        step = max(1, PAIRS_AT_ONCE // len(places))
        for start in range(0, len(cells), step):
            some = cells[start : start + step]
            walk = ground.walks.distances(
                xy[places], rooms[places], ground.xy[some], ground.room[some]
            )
            gap[some] = np.minimum(gap[some], walk.min(axis=0))
    return gap


def walks_within(ground: Ground, index: int, xy: Floats, cells: Ints) -> Floats:
    """Return the walks (m) from places in one room to cells of it, shape (places, cells)."""
    if ground.reach == "same room" and _is_plain(ground, index, xy):
        return np.asarray(cdist(xy, ground.xy[cells]))
    rooms = np.full(len(xy), index, dtype=np.int64)
    return ground.walks.distances(xy, rooms, ground.xy[cells], ground.room[cells])


def found_from(
    ground: Ground, index: int, xy: Floats, cells: Ints, radius_m: float, aspect: float = 1.0
) -> sp.csr_array:
    """Return which hot spots with their middles in a room's cells each place in it would find.

    1 where it would, shape (places, cells); for an ellipse (places, cells times ``DIRECTIONS``),
    each cell's directions side by side. An ellipse holds a place where the walk from its middle is
    no longer than it reaches in the straight direction of the place.

    Parameters
    ----------
    ground, index, xy, cells
        The room, the places (m), and positions of the room's cells.
    radius_m : float
        Radius, or semi-major axis (m).
    aspect : float
        Semi-minor over semi-major axis; 1: a circle.
    """
    place, cell, walk = near_walks(ground, index, xy, cells, radius_m)
    if aspect == 1:
        return _ones(place, cell, (len(xy), len(cells)))
    rows, columns = [], []
    for turn, held in enumerate(_held(ground, xy, cells, (place, cell, walk), radius_m, aspect)):
        rows.append(place[held])
        columns.append(cell[held] * DIRECTIONS + turn)
    shape = (len(xy), len(cells) * DIRECTIONS)
    return _ones(np.concatenate(rows), np.concatenate(columns), shape)


def share_found(
    ground: Ground, index: int, xy: Floats, cells: Ints, radius_m: float, aspect: float
) -> float:
    """Return the share of ellipses in a room, anywhere and in any direction, that places find."""
    near = near_walks(ground, index, xy, cells, radius_m)
    found = [
        len(np.unique(near[1][held])) / len(cells)
        for held in _held(ground, xy, cells, near, radius_m, aspect)
    ]
    return float(np.mean(found))


def _held(
    ground: Ground,
    xy: Floats,
    cells: Ints,
    near: tuple[Ints, Ints, Floats],
    radius_m: float,
    aspect: float,
) -> Iterator[NDArray[np.bool_]]:
    """Tell, direction by direction, which pairs of place and middle an ellipse holds."""
    place, cell, walk = near
    apart = ground.xy[cells][cell] - xy[place]
    bearing = np.arctan2(apart[:, 1], apart[:, 0])
    for turn in range(DIRECTIONS):
        angle = bearing - (turn + 0.5) * np.pi / DIRECTIONS
        stretched = walk * np.hypot(aspect * np.cos(angle), np.sin(angle))
        yield stretched <= aspect * radius_m * (1 + 1e-12)


def near_walks(
    ground: Ground, index: int, xy: Floats, cells: Ints, radius_m: float
) -> tuple[Ints, Ints, Floats]:
    """Return place, cell (a position in ``cells``) and walk (m) of each pair within ``radius_m``.

    Only what is as near in a straight line is walked to, a tile of places at a time: most pairs of
    a large room are not.
    """
    if ground.reach == "same room" and _is_plain(ground, index, xy):
        near = KDTree(xy).query_ball_tree(KDTree(ground.xy[cells]), radius_m)
        row = np.repeat(np.arange(len(xy)), [len(one) for one in near])
        column = np.fromiter((cell for one in near for cell in one), dtype=np.int64, count=len(row))
        apart = ground.xy[cells][column] - xy[row]
        return row, column, np.hypot(apart[:, 0], apart[:, 1])
    low, high = xy.min(axis=0), xy.max(axis=0)
    side = max(2 * radius_m, float((high - low).max()) / TILES)
    tile = np.floor((xy - low) / side).astype(np.int64) @ [1, TILES + 2]
    rows, columns = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    walks = [np.empty(0)]
    for one in np.unique(tile):
        places = np.flatnonzero(tile == one)
        bounds = shapely.box(*xy[places].min(axis=0), *xy[places].max(axis=0)).buffer(radius_m)
        near_cells = np.flatnonzero(shapely.intersects_xy(bounds, *ground.xy[cells].T))
        walk = walks_within(ground, index, xy[places], cells[near_cells])
        place, cell = np.nonzero(walk <= radius_m)
        rows.append(places[place])
        columns.append(near_cells[cell])
        walks.append(walk[place, cell])
    return np.concatenate(rows), np.concatenate(columns), np.concatenate(walks)


def _ones(row: Ints, column: Ints, shape: tuple[int, int]) -> sp.csr_array:
    # whole numbers up to 16 million, and quick to add up
    return sp.csr_array((np.ones(len(row), dtype=np.float32), (row, column)), shape=shape)


def _blocks(ground: Ground, rooms: Ints) -> list[tuple[int, Ints, Ints]]:
    """Pair cells with the places that may speak for them: all (-1), or those of the same room."""
    if ground.reach == "open doors":
        return [(-1, np.arange(len(ground.xy)), np.arange(len(rooms)))] if len(rooms) else []
    own = ground.cells_by_room()
    return [(int(one), own[one], np.flatnonzero(rooms == one)) for one in np.unique(rooms)]


def _is_plain(ground: Ground, index: int, places: Floats) -> bool:
    """Tell whether every walk within the room is straight: convex, no wall line in it.

    In a big hall of many places that saves all but a thousandth of the time.
    """
    room = ground.floor.rooms[index].polygon
    bulge = room.convex_hull.area - room.area
    return bool(
        bulge <= 1e-9 * room.area
        and not any(wall.intersects(room) for wall in ground.floor.walls)
        and shapely.intersects_xy(room, *places.T).all()
    )


def _shut(floor: Floor, reach: Reach) -> Floor:
    """Seal what a hot spot does not pass; a gap in a wall line inside a room stays as it is."""
    openings = tuple(
        replace(one, state="sealed")
        if one.state != "open" or (reach == "same room" and len(set(one.rooms)) > 1)
        else one
        for one in floor.openings
    )
    return replace(floor, openings=openings)
