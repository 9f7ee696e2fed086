"""Cells of a floor: which are inside, and in which room.

Row 0 is the southernmost row and column 0 the westernmost; the value of a cell stands for its
centre. A cell belongs to a floor when a room covers its centre. Cells outside are never computed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.site.building import Floor

MOST_CELLS = 4_000_000
"""Cells of one floor (inside and outside) above which a step is refused."""

BYTES_PER_CELL = 150
"""Peak memory per cell of a whole map run, measured on the demo and rounded up."""

FARTHEST_OUTSIDE_M = 0.6
"""A place no farther than this (m) outside every room stands in the nearest: a wall is no thicker
(common practice, no source). One farther off is not on the floor, and is not moved there."""


@dataclass(frozen=True)
class Raster:
    """A regular grid over a floor; it owns its inside mask.

    Attributes
    ----------
    west_m, south_m : float
        Corner of the grid (m), not the centre of the first cell.
    cell_m : float
        Step (m).
    room_index : array of shape (ny, nx), int32
        Position of the cell's room in ``floor.rooms``; -1 outside.
    """

    west_m: float
    south_m: float
    cell_m: float
    room_index: NDArray[np.int32]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        ny, nx = self.room_index.shape
        return ny, nx

    @property
    def inside(self) -> NDArray[np.bool_]:
        """True on the floor; shape (ny, nx)."""
        return self.room_index >= 0

    @property
    def x(self) -> NDArray[np.float64]:
        """Centres of the columns (m), shape (nx,)."""
        return self.west_m + (np.arange(self.shape[1], dtype=np.float64) + 0.5) * self.cell_m

    @property
    def y(self) -> NDArray[np.float64]:
        """Centres of the rows (m), south to north, shape (ny,)."""
        return self.south_m + (np.arange(self.shape[0], dtype=np.float64) + 0.5) * self.cell_m

    def points(self) -> NDArray[np.float64]:
        """Centres of the inside cells (m), shape (n inside, 2), row by row."""
        row, column = np.nonzero(self.inside)
        return np.column_stack([self.x[column], self.y[row]])

    def spread(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Lay one value per inside cell out on the grid; NaN outside; shape (ny, nx)."""
        grid = np.full(self.shape, np.nan)
        grid[self.inside] = values
        return grid

    @classmethod
    def over(cls, floor: Floor, cell_m: float, *, most_cells: int = MOST_CELLS) -> Raster:
        """Lay cells of ``cell_m`` (m) over a floor.

        Raises
        ------
        EstimateError
            If the step is not positive, or makes more cells than fit; the message says how much
            memory it would take and which step fits.
        """
        if not (math.isfinite(cell_m) and cell_m > 0):
            raise EstimateError(f"a cell of {cell_m} m cannot be used", todo="give a step above 0")
        west, south, east, north = floor.bounds
        # in floats first: an absurd step must not make an absurd integer
        wide, high = max(1.0, (east - west) / cell_m), max(1.0, (north - south) / cell_m)
        if not wide * high <= most_cells:
            raise EstimateError(
                f"cells of {cell_m:g} m make {wide * high:.2g} cells, about "
                f"{wide * high * BYTES_PER_CELL / 2**30:.3g} GiB",
                where=f"floor {floor.name!r}",
                todo=f"use cells of {fitting_cell(floor, most_cells):g} m or more",
            )
        nx, ny = math.ceil(wide - 1e-9), math.ceil(high - 1e-9)
        # centre the grid on the floor so that both edges lose the same sliver
        west -= (nx * cell_m - (east - west)) / 2
        south -= (ny * cell_m - (north - south)) / 2
        room_index = np.full((ny, nx), -1, dtype=np.int32)
        raster = cls(west, south, cell_m, room_index)
        for index, room in enumerate(floor.rooms):
            x0, y0, x1, y1 = room.polygon.bounds
            columns = slice(*np.searchsorted(raster.x, [x0, x1 + 1e-9]))
            rows = slice(*np.searchsorted(raster.y, [y0, y1 + 1e-9]))
            x, y = np.meshgrid(raster.x[columns], raster.y[rows])
            window = room_index[rows, columns]
            window[(window < 0) & shapely.intersects_xy(room.polygon, x, y)] = index
        room_index.setflags(write=False)
        return raster


def fitting_cell(floor: Floor, most_cells: int = MOST_CELLS) -> float:
    """Return the smallest round step (m) that keeps a floor within ``most_cells`` cells."""
    west, south, east, north = floor.bounds
    width, height = east - west, north - south
    exponent = math.floor(math.log10(math.sqrt(max(width * height, 1e-12) / most_cells)))
    for power in range(exponent - 1, exponent + 3):
        for digit in (1.0, 2.0, 2.5, 5.0):
            cell = digit * 10.0**power
            if math.ceil(width / cell) * math.ceil(height / cell) <= most_cells:
                return cell
    return max(width, height) / math.sqrt(most_cells)


def rooms_of(floor: Floor, xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the position of the room that each point (m) lies in or nearest to."""
    tree = shapely.STRtree([room.polygon for room in floor.rooms])
    return np.asarray(tree.nearest(shapely.points(xy)), dtype=np.int64)


def as_rooms(
    floor: Floor, xy: NDArray[np.float64], room: ArrayLike | None, *, name: str
) -> NDArray[np.int64]:
    """Return the position in ``floor.rooms`` of each point's room; from the plan if not given.

    ``name`` is that of the argument that gives rooms: ``room`` of the readings, or
    ``target_room`` of the targets.

    Raises
    ------
    EstimateError
        If there is not one for each point (m), or one is not a room of the floor; if none is given
        and a point is more than 0.6 m outside every room.
    """
    if room is None:
        found = rooms_of(floor, xy)
        _refuse_outside(floor, xy, found, room_name=name)
        return found
    rooms = np.asarray(room)
    if rooms.shape != (len(xy),) or not (rooms.dtype.kind in "iu" or not rooms.size):
        raise EstimateError(f"{name} is not one whole number for each of the {len(xy)} places")
    if rooms.size and not (rooms.min() >= 0 and rooms.max() < len(floor.rooms)):
        raise EstimateError(
            f"{name} names a room that floor {floor.name!r} has not",
            todo=f"give positions from 0 to {len(floor.rooms) - 1}",
        )
    return rooms.astype(np.int64)


def _refuse_outside(
    floor: Floor, xy: NDArray[np.float64], nearest: NDArray[np.int64], *, room_name: str
) -> None:
    polygons = np.array([room.polygon for room in floor.rooms])
    distance = shapely.distance(shapely.points(xy), polygons[nearest])
    beyond = np.flatnonzero(distance > FARTHEST_OUTSIDE_M)
    if len(beyond):
        row, places = beyond[0], "targets" if room_name == "target_room" else "xy"
        raise EstimateError(
            f"{places} row {row} (counted from 0) is {distance[row]:.3g} m outside every room of "
            f"floor {floor.name!r}" + (f", and {len(beyond) - 1} more" if len(beyond) > 1 else ""),
            todo=f"give metres in the floor's frame, or leave it out, or say its {room_name}",
        )


def as_floor(floor: object) -> Floor:
    """Return a floor, or say that it is none: its name alone says nothing of its walls."""
    if not isinstance(floor, Floor):
        raise EstimateError(
            f"floor is of type {type(floor).__name__}, not a Floor",
            todo="give one of read_site(folder).floors",
        )
    return floor
