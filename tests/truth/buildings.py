"""Simulated buildings whose air is known everywhere, and readings taken in them.

``python -m tests.truth.buildings`` lists the first twenty. The truth is steady diffusion with air
exchange and a drift along the corridor, by finite volumes (:mod:`tests.truth.air`): no field that
the estimator could have assumed. All buildings are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely import LineString

from hgmap.field.raster import Raster
from hgmap.site.building import Floor
from tests.truth.air import FREE, Air, Floats, Integers, Mesh, lay_mesh, steady_excess
from tests.truth.floors import CORRIDOR, random_floor

MESH_M: Final = 0.1
MAP_M: Final = 0.2
ARM_M: Final = 0.3
"""A reading is taken at least this far from the walls of its room (common practice, no source)."""


class Readings(NamedTuple):
    """Places (m), natural logarithm of the concentration read there, position of the room."""

    xy: Floats
    values: Floats
    room: Integers


@dataclass(frozen=True)
class Building:
    """A floor, how its air moves, and what is in it.

    Attributes
    ----------
    source : array of shape (n cells,)
        Emission per floor area and height (µg/m³ per hour) of each cell of the mesh.
    excess : array of shape (n cells,)
        Concentration above that of outside (µg/m³).
    """

    seed: int
    floor: Floor
    air: Air
    mesh: Mesh
    source: Floats
    excess: Floats

    @cached_property
    def raster(self) -> Raster:
        """Cells of 0.2 m of the inside, on which maps are scored."""
        return Raster.over(self.floor, MAP_M)

    @cached_property
    def targets(self) -> Floats:
        """Centres of the inside cells (m), shape (m, 2)."""
        return self.raster.points()

    @cached_property
    def target_room(self) -> NDArray[np.int32]:
        """Position of the room of each target."""
        return self.raster.room_index[self.raster.inside]

    @cached_property
    def truth(self) -> Floats:
        """Log concentration at the targets."""
        return self.log_truth(self.targets)

    def log_truth(self, xy: Floats) -> Floats:
        """Return the natural logarithm of the concentration at places (m); NaN in no room.

        Bilinear between cells that air joins freely, so never across a wall or a partition.
        """
        room = self.room_of(xy)
        found = np.full(len(xy), np.nan)
        inside = room >= 0
        found[inside] = np.log(self.air.outside + self._excess_at(xy[inside], room[inside]))
        return found

    def room_of(self, xy: Floats) -> Integers:
        """Return the position of the first room that covers each place, -1 for none."""
        room = np.full(len(xy), -1)
        for index, one in reversed(list(enumerate(self.floor.rooms))):
            room[shapely.intersects_xy(one.polygon, xy[:, 0], xy[:, 1])] = index
        return room

    def _excess_at(self, xy: Floats, room: Integers) -> Floats:
        mesh = self.mesh
        row, column = self._home(xy, room)
        grid = np.zeros(mesh.label.shape)
        grid[mesh.air] = self.excess
        free_x, free_y = mesh.across_x == FREE, mesh.across_y == FREE
        east, x_share = _towards(xy[:, 0], mesh.x_lines, column)
        north, y_share = _towards(xy[:, 1], mesh.y_lines, row)

        def beside(j: Integers, i: Integers) -> tuple[NDArray[np.bool_], Integers]:
            face, to = np.minimum(i, i + east), i + east
            there = (face >= 0) & (face < free_x.shape[1])
            return there & free_x[j, np.clip(face, 0, free_x.shape[1] - 1)], np.where(there, to, i)

        def above(j: Integers, i: Integers) -> tuple[NDArray[np.bool_], Integers]:
            face, to = np.minimum(j, j + north), j + north
            there = (face >= 0) & (face < free_y.shape[0])
            return there & free_y[np.clip(face, 0, free_y.shape[0] - 1), i], np.where(there, to, j)

        home = grid[row, column]
        goes_x, next_column = beside(row, column)
        goes_y, next_row = above(row, column)
        # a shut face means a wall, where the flux, and so the slope, is zero
        rise_x = np.where(goes_x, grid[row, next_column] - home, 0.0)
        rise_y = np.where(goes_y, grid[next_row, column] - home, 0.0)
        corner = goes_x & goes_y & beside(next_row, column)[0] & above(row, next_column)[0]
        twist = np.where(corner, grid[next_row, next_column] - home - rise_x - rise_y, 0.0)
        return np.maximum(home + x_share * rise_x + y_share * rise_y + x_share * y_share * twist, 0)

    def _home(self, xy: Floats, room: Integers) -> tuple[Integers, Integers]:
        """Return row and column of the cell that holds each place, of its own room."""
        mesh = self.mesh
        row, column = (
            np.clip(np.searchsorted(lines, xy[:, axis], side="right") - 1, 0, len(lines) - 2)
            for axis, lines in ((1, mesh.y_lines), (0, mesh.x_lines))
        )
        for index in np.unique(room[mesh.label[row, column] != room]):
            # on a wall line: the nearest cell on the room's side
            stray = np.flatnonzero((room == index) & (mesh.label[row, column] != room))
            rows, columns = np.nonzero(mesh.label == index)
            nearest = KDTree(mesh.centres[mesh.room == index]).query(xy[stray])[1]
            row[stray], column[stray] = rows[nearest], columns[nearest]
        return row, column


def make_building(seed: int, *, step_m: float = MESH_M, hall: bool = False) -> Building:
    """Draw a floor, its air and its sources, and solve for the concentration.

    ``hall``: with one large room (:func:`tests.truth.floors.random_floor`).

    Diffusivity 4 to 36 m²/h (0.001 to 0.01 m²/s, rooms of homes; value from memory of Cheng et
    al. 2011, Environ. Sci. Technol. 45:4016-4022); air changes 0.3 to 1.5 per hour; a closed door
    leaks 2 to 8 m/h, of the order of 10 m³/h; drift up to 15 m/h; outside 0.01 to 0.05 µg/m³, the
    room of the main source 1 to 10 µg/m³ on average (common practice, no source).
    """
    random = np.random.default_rng(seed)
    floor = random_floor(random, f"{seed}", hall=hall)
    mesh = lay_mesh(floor, step_m)
    base = random.uniform(0.3, 1.5)
    air = Air(
        diffusivity_m2_h=_log_uniform(random, 4, 36),
        exchange_per_h=tuple(float(base * f) for f in random.uniform(0.7, 1.4, len(floor.rooms))),
        outside=_log_uniform(random, 0.01, 0.05),
        leak_m_h=_log_uniform(random, 2, 8),
        drift_room=[room.id for room in floor.rooms].index(CORRIDOR),
        drift_m_h=float(random.uniform(-15, 15)),
    )
    main_room, source = _sources(random, floor, mesh)
    excess = steady_excess(mesh, air, source)
    held = mesh.room == main_room
    scale = _log_uniform(random, 1, 10) / np.average(excess[held], weights=mesh.areas[held])
    return Building(seed, floor, air, mesh, scale * source, scale * np.maximum(excess, 0.0))


def take_readings(building: Building, n: int, seed: int, noise_sd: float = 0.1) -> Readings:
    """Take n readings at random places, with an error of ``noise_sd`` on the log scale.

    Every room gets one before a room gets two; where there are fewer readings than rooms, large
    rooms come first more often. The others fall anywhere, by area.
    """
    random = np.random.default_rng([building.seed, n, seed])
    area = np.array([room.area_m2 for room in building.floor.rooms])
    share = area / area.sum()
    first = random.choice(len(area), size=min(n, len(area)), replace=False, p=share)
    more = random.choice(len(area), size=n - len(first), p=share)
    room = np.concatenate([first, more])
    low, high = np.array(
        [np.reshape(one.polygon.bounds, (2, 2)) for one in building.floor.rooms]
    ).transpose(1, 0, 2)[:, room]
    xy = random.uniform(low + ARM_M, high - ARM_M)
    return Readings(xy, building.log_truth(xy) + noise_sd * random.normal(size=n), room)


def _sources(random: np.random.Generator, floor: Floor, mesh: Mesh) -> tuple[int, Floats]:
    """Put spills into one or two rooms, and a trail from the first through its door."""
    ids = [room.id for room in floor.rooms]
    ways = [one for one in floor.openings if len(one.rooms) == 2 and one.state != "sealed"]
    main = int(
        random.choice([k for k, i in enumerate(ids) if i != CORRIDOR and any(i in w.rooms
                       for w in ways)])
    )  # fmt: skip
    place, source = _spill(random, floor, mesh, main)
    if random.random() < 0.5:
        other = int(random.choice([k for k, i in enumerate(ids) if k != main and i != CORRIDOR]))
        source = source + random.uniform(0.1, 1.0) * _spill(random, floor, mesh, other)[1]
    door = next(one for one in ways if ids[main] in one.rooms)
    beyond = ids.index(next(one for one in door.rooms if one != ids[main]))
    walk = LineString([place, door.line.centroid.coords[0], _inside(random, floor, beyond)])
    trodden = np.isin(mesh.room, (main, beyond)) & (
        shapely.distance(shapely.points(mesh.centres), walk) <= 0.25
    )
    trail = trodden / mesh.areas[trodden].sum()
    return main, source + random.uniform(0.05, 0.3) * trail


def _spill(
    random: np.random.Generator, floor: Floor, mesh: Mesh, room: int
) -> tuple[Floats, Floats]:
    place = _inside(random, floor, room)
    squared = np.sum((mesh.centres - place) ** 2, axis=1)
    spill = np.where(
        mesh.room == room, np.exp(-0.5 * squared / random.uniform(0.3, 0.8) ** 2), 0.0
    )  # fmt: skip
    return place, spill / (spill @ mesh.areas)


def _inside(random: np.random.Generator, floor: Floor, room: int) -> Floats:
    west, south, east, north = floor.rooms[room].polygon.bounds
    return random.uniform([west + 0.5, south + 0.5], [east - 0.5, north - 0.5])


def _log_uniform(random: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(random.uniform(np.log(low), np.log(high))))


def _towards(at: Floats, lines: Floats, cell: Integers) -> tuple[Integers, Floats]:
    """Return the side (-1 or 1) of its cell's centre that each place lies on, and how far."""
    middle = 0.5 * (lines[:-1] + lines[1:])
    side = np.where(at >= middle[cell], 1, -1)
    neighbour = np.clip(cell + side, 0, len(middle) - 1)
    apart = np.abs(middle[neighbour] - middle[cell])
    return side, np.abs(at - middle[cell]) / np.where(apart > 0, apart, np.inf)


def main() -> None:
    """List twenty buildings."""
    for seed in range(20):
        one = make_building(seed)
        states = [opening.state for opening in one.floor.openings if len(opening.rooms) == 2]
        print(
            f"{seed:3d}: {len(one.floor.rooms)} rooms, {one.floor.area_m2:.0f} m², "
            f"{len(one.excess)} cells, doors {states.count('open')} open "
            f"{states.count('closed')} closed {states.count('sealed')} sealed, "
            f"{len(one.floor.walls)} partitions, log truth {one.truth.min():.2f} to "
            f"{one.truth.max():.2f}, sd {one.truth.std():.2f}"
        )


if __name__ == "__main__":
    main()
