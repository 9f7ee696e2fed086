"""Time wall-aware kriging: ``python -m tests.bench.walls``; ``tests.bench.kriging`` calls it too.

Asserts nothing. An invented floor of 40 m by 25 m, 12 rooms along a corridor; covariance on cells
of 0.2 m, 1e5 output cells of 0.1 m, filled from their own room. Everything is counted that one
range and one nugget need: the graph, the field's variances, the factor, mean and variance of every
cell, and the output cells. Medians of three.

Targets: 150 readings within 1.5 s; 2,000 readings within 3 times that; the whole fit of 2,000
readings, every range, nugget and wall flux weighed, with the map, within 30 s.
"""

from __future__ import annotations

from functools import partial
from typing import Final, NamedTuple

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from shapely import LineString, box

from hgmap.field.averaged import estimate_cells
from hgmap.field.graph import CellGraph
from hgmap.field.places import Places
from hgmap.field.precision import posterior_by_precision
from hgmap.field.precision_mixture import weigh_by_precision
from hgmap.field.raster import Raster
from hgmap.field.wall_candidate import WALL_FLUX
from hgmap.field.walls import WallField
from hgmap.site.building import Floor, Opening, Room
from tests.bench.timing import RUNS, time_in_turn

Floats = NDArray[np.float64]

LONG_M, WIDE_M, CORRIDOR_M, DOOR_M = 40.0, 25.0, 2.2, 0.9
STEP_M, OUTPUT_M = 0.2, 0.1
RANGE_M, SHARE, FLUX = 15.0, 0.1, 0.1
RANGES_M: Final = tuple(np.geomspace(1.2, 280.0, 7))


class Readings(NamedTuple):
    """Invented places (m), the rooms that they lie in, and values on a working scale."""

    xy: Floats
    room: NDArray[np.int64]
    values: Floats

    def places(self) -> Places:
        """Return each reading as a place of its own."""
        one = np.ones(len(self.values))
        number = np.arange(len(self.values))
        return Places(self.xy, self.values, self.room, one.astype(np.int64), one, number)


def invent_floor() -> Floor:
    """Return 12 rooms, six on each side of a corridor, a door each."""
    rooms, doors = [], []
    south, north = (WIDE_M - CORRIDOR_M) / 2, (WIDE_M + CORRIDOR_M) / 2
    wide = LONG_M / 6
    for k in range(6):
        west = k * wide
        for side, low, high, at in (("s", 0.0, south, south), ("n", north, WIDE_M, north)):
            name = f"{side}{k}"
            rooms.append(Room(name, name, box(west, low, west + wide, high)))
            line = LineString([(west + 3, at), (west + 3 + DOOR_M, at)])
            doors.append(Opening(f"d{name}", line, "open", (name, "corridor")))
    rooms.append(Room("corridor", "Corridor", box(0, south, LONG_M, north)))
    return Floor("bench", "Bench", tuple(rooms), openings=tuple(doors))


def invent_readings(floor: Floor, count: int) -> Readings:
    """Return readings all over a floor; each room has a level of its own."""
    random = np.random.default_rng(20260302)
    raster = Raster.over(floor, OUTPUT_M)
    room = raster.room_index[raster.inside].astype(np.int64)
    chosen = random.choice(len(room), count, replace=False)
    xy, room = raster.points()[chosen], room[chosen]
    level = random.normal(0, 1, len(floor.rooms))
    values = level[room] + np.sin(xy[:, 0] / 4) + random.normal(0, 0.3, count)
    return Readings(xy, room, values)


def to_output(graph: CellGraph, floor: Floor) -> sp.csr_array:
    """Return what reads the output cells, each from its own room."""
    fine = Raster.over(floor, OUTPUT_M)
    return graph.interpolation(fine.points(), fine.room_index[fine.inside].astype(np.int64))


def one_map(floor: Floor, readings: Readings) -> tuple[Floats, Floats]:
    """Return mean and variance of the output cells, range and nugget known, from nothing."""
    walls = WallField(CellGraph.over(floor, STEP_M))
    graph = walls.graph
    weights = graph.interpolation(readings.xy, readings.room)
    made = posterior_by_precision(
        walls.kernel(RANGE_M),
        graph,
        weights,
        readings.values,
        np.ones((len(readings.values), 1)),
        np.ones((len(graph.xy), 1)),
        share=SHARE,
        flux=FLUX,
    )
    finest = to_output(graph, floor)
    return finest @ made.mean, finest @ made.variance


def whole_fit(floor: Floor, readings: Readings, *, dense: bool = False) -> tuple[Floats, Floats]:
    """Return mean and variance of the output cells, everything weighed, from nothing."""
    walls = WallField(CellGraph.over(floor, STEP_M))
    weights = walls.graph.interpolation(readings.xy, readings.room)
    finest = to_output(walls.graph, floor)
    if dense:
        other = estimate_cells(
            walls.graph, readings.places(), walls=walls, ranges_m=np.array(RANGES_M)
        )
        return finest @ other.mean, finest @ other.variance
    made = weigh_by_precision(
        walls, weights, readings.values, ranges_m=RANGES_M, wall_flux=WALL_FLUX
    )
    return finest @ made.mean, finest @ made.variance


def compare_walls(*, quick: bool = False) -> None:
    """Print the rows."""
    floor = invent_floor()
    few, many = invent_readings(floor, 150), invent_readings(floor, 2000)
    (short, long), _ = time_in_turn(
        RUNS, partial(one_map, floor, few), partial(one_map, floor, many)
    )
    print(
        f"through the doors, 1e5 cells, one range and nugget: 150 readings {short:.2f} s (target "
        f"1.5), 2,000 readings {long:.2f} s ({long / short:.2f}x, target 3)",
        flush=True,
    )
    if quick:
        return
    (fit,), _ = time_in_turn(1, partial(whole_fit, floor, many))
    print(
        f"through the doors, 1e5 cells, everything weighed, 2,000 readings: {fit:.1f} s (target "
        "30)",
        flush=True,
    )
    (sparse, dense), (one, other) = time_in_turn(
        1, partial(whole_fit, floor, few), partial(whole_fit, floor, few, dense=True)
    )
    mean, variance = (np.abs(a - b).max() for a, b in zip(one, other, strict=True))
    print(
        f"the same, 150 readings: by precision {sparse:.1f} s, by covariance {dense:.1f} s; "
        f"largest difference {mean:.0e} (mean), {variance:.0e} (variance)",
        flush=True,
    )


if __name__ == "__main__":
    compare_walls()
