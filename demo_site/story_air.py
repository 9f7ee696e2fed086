"""The air of the invented building: steady spread with air exchange, by finite volumes.

The equation and every constant stand at the head of ``make_demo.py``. Nothing here estimates
between readings: the readings are drawn from this field, never the other way round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu
from story_plan import DEPTH_M, INNER_WALL_M, LENGTH_M, Storey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Air:
    """Constants of the air (see ``make_demo.py``)."""

    cell_m: float
    ceiling_m: float
    spreading_m2_per_h: float
    room_spreading_m2_per_h: Mapping[str, float]
    outdoor_ug_m3: float
    air_changes_per_h: float
    room_air_changes_per_h: Mapping[str, float]
    open_fraction: Mapping[str, float]
    stair_rooms: tuple[str, ...]
    stair_exchange_per_h: float
    floor_excess: float
    fade_height_m: float


@dataclass(frozen=True)
class Spill:
    """A patch of droplets: emission (µg/h), and how much richer the air is just above it."""

    floor: str
    x: float
    y: float
    radius_m: float
    emission_ug_h: float
    excess: float


@dataclass(frozen=True)
class Trail:
    """Droplets carried on shoes along a line, fewer with every step.

    The emission (µg/h per metre) at a distance s from the start is
    ``emission_ug_h_m * exp(-s / fade_m)``.
    """

    floor: str
    line: tuple[tuple[float, float], ...]
    emission_ug_h_m: float
    fade_m: float
    excess: float

    def pieces(self, step_m: float = 0.2) -> list[Spill]:
        """Cut the trail into small patches of ``step_m``."""
        line = shapely.LineString(self.line)
        count = round(line.length / step_m)
        at = (np.arange(count) + 0.5) * line.length / count
        points = shapely.line_interpolate_point(line, at)
        return [
            Spill(
                self.floor,
                float(point.x),
                float(point.y),
                0.25,
                float(self.emission_ug_h_m * np.exp(-s / self.fade_m) * line.length / count),
                float(self.excess * np.exp(-s / self.fade_m)),
            )
            for point, s in zip(points, at, strict=True)
        ]


@dataclass(frozen=True)
class Field:
    """Concentration of every cell of every floor (µg/m³; rows from the south; NaN in walls)."""

    air: Air
    concentration: Mapping[str, Floats]
    room: Mapping[str, Ints]
    spills: tuple[Spill, ...] = field(repr=False)

    def at(self, floor: str, x: float, y: float, height_m: float) -> float:
        """Return the concentration (µg/m³) at a place (m) and height above the floor (m)."""
        row, column = int(y / self.air.cell_m), int(x / self.air.cell_m)
        value = float(self.concentration[floor][row, column])
        room = self.room[floor]
        excess = self.air.floor_excess
        for one in self.spills:
            here = int(one.y / self.air.cell_m), int(one.x / self.air.cell_m)
            if one.floor == floor and room[here] == room[row, column]:
                apart = np.hypot(x - one.x, y - one.y) / (2.0 * one.radius_m)
                excess = max(excess, one.excess * float(np.exp(-(apart**2))))
        return value * (1.0 + excess * float(np.exp(-height_m / self.air.fade_height_m)))


def solve(storeys: tuple[Storey, ...], air: Air, spills: tuple[Spill, ...]) -> Field:
    """Solve the steady balance of every cell of the building at once.

    Each cell of area a = cell_m² balances, divided by the ceiling height:
    sum over its faces of D·open·(c - c_next) + λ·a·(c - c_outdoor)
    + k·a·(c - c_other_floor) [stairs] = E / ceiling.
    """
    rooms = {one.name: _room_of_cells(one, air.cell_m) for one in storeys}
    number: dict[str, Ints] = {}
    count = 0
    for name, room in rooms.items():
        number[name] = np.full(room.shape, -1, dtype=np.int64)
        inside = room != -1
        number[name][inside] = count + np.arange(int(inside.sum()))
        count += int(inside.sum())

    ends: list[tuple[Ints, Ints, Floats]] = []
    loss = np.zeros(count)
    source = np.zeros(count)
    area = air.cell_m**2
    for one in storeys:
        ends += _faces(one, rooms[one.name], number[one.name], air)
        for index, key in enumerate(one.rooms):
            cells = number[one.name][rooms[one.name] == index]
            loss[cells] = area * air.room_air_changes_per_h.get(key, air.air_changes_per_h)
    for below, above in pairwise(storeys):
        stair = _stair(below, rooms[below.name], air) & _stair(above, rooms[above.name], air)
        pairs = number[below.name][stair], number[above.name][stair]
        ends.append((*pairs, np.full(pairs[0].size, air.stair_exchange_per_h * area)))
    for spill in spills:
        cells = _cells_of(spill, rooms[spill.floor], number[spill.floor], air.cell_m)
        source[cells] += spill.emission_ug_h / air.ceiling_m / cells.size

    here = np.concatenate([end[0] for end in ends])
    there = np.concatenate([end[1] for end in ends])
    flow = np.concatenate([end[2] for end in ends])
    graph = sparse.coo_matrix((flow, (here, there)), shape=(count, count)).tocsr()
    graph = graph + graph.T
    balance = sparse.diags(np.asarray(graph.sum(axis=1)).ravel() + loss) - graph
    factor = splu(balance.tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
    above_outdoor = factor.solve(source)
    concentration = {}
    for name, cells in number.items():
        values = np.full(cells.shape, np.nan)
        values[cells >= 0] = air.outdoor_ug_m3 + above_outdoor[cells[cells >= 0]]
        concentration[name] = values
    return Field(air, concentration, rooms, spills)


def _centres(cell_m: float) -> tuple[Floats, Floats]:
    columns, rows = round(LENGTH_M / cell_m), round(DEPTH_M / cell_m)
    return np.meshgrid((np.arange(columns) + 0.5) * cell_m, (np.arange(rows) + 0.5) * cell_m)


def _room_of_cells(storey: Storey, cell_m: float) -> Ints:
    """Find the number of the room of every cell; -1 in a wall, -2 and below in a doorway."""
    x, y = _centres(cell_m)
    room = np.full(x.shape, -1, dtype=np.int64)
    for index, (_, shape) in enumerate(storey.rooms.values()):
        room[shapely.contains_xy(shape, x, y)] = index
    for index, door in enumerate(storey.doors):
        if len(door.rooms) == 2 and door.state != "sealed":
            way = door.line.buffer(INNER_WALL_M / 2, cap_style="flat")
            room[shapely.contains_xy(way, x, y) & (room == -1)] = -2 - index
    return room


def _faces(storey: Storey, room: Ints, number: Ints, air: Air) -> list[tuple[Ints, Ints, Floats]]:
    """Faces between neighbours, with what passes them (m²/h).

    That is the harmonic mean of the spreading on both sides, times the open fraction.
    """
    spreading = np.full(room.shape, air.spreading_m2_per_h)
    for index, key in enumerate(storey.rooms):
        spreading[room == index] = air.room_spreading_m2_per_h.get(key, air.spreading_m2_per_h)
    fraction = np.ones(room.shape)
    for index, door in enumerate(storey.doors):
        fraction[room == -2 - index] = air.open_fraction[door.state]
    cut = {"x": np.zeros(room.shape, dtype=bool), "y": np.zeros(room.shape, dtype=bool)}
    x, y = _centres(air.cell_m)
    for line in storey.partitions:
        west, south, east, north = line.bounds
        if west == east:
            cut["x"] |= (np.abs(x + air.cell_m / 2 - west) < 1e-6) & (y > south) & (y < north)
        else:
            cut["y"] |= (np.abs(y + air.cell_m / 2 - south) < 1e-6) & (x > west) & (x < east)
    ends = []
    for way, first, second in (
        ("x", np.s_[:, :-1], np.s_[:, 1:]),
        ("y", np.s_[:-1, :], np.s_[1:, :]),
    ):
        joined = (number[first] >= 0) & (number[second] >= 0) & ~cut[way][first]
        one, two = spreading[first][joined], spreading[second][joined]
        flow = np.minimum(fraction[first], fraction[second])[joined] * 2 * one * two / (one + two)
        ends.append((number[first][joined], number[second][joined], flow))
    return ends


def _stair(storey: Storey, room: Ints, air: Air) -> NDArray[np.bool_]:
    keys = [index for index, key in enumerate(storey.rooms) if key in air.stair_rooms]
    return np.isin(room, keys)


def _cells_of(spill: Spill, room: Ints, number: Ints, cell_m: float) -> Ints:
    """Return the cells of a spill: those within its radius that lie in its room."""
    x, y = _centres(cell_m)
    here = room[int(spill.y / cell_m), int(spill.x / cell_m)]
    near = np.hypot(x - spill.x, y - spill.y) <= spill.radius_m
    cells: Ints = number[near & (room == here)]
    return cells
