"""Contours of a surface inside a room: polygons above a value, lines at a value."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.field.raster import Raster

MARGIN_CELLS = 2


@dataclass(frozen=True)
class RoomWindow:
    """The part of a raster that holds one room, with a margin.

    Cells of the margin and of other rooms take the value of the nearest cell of this room, so that
    a contour runs straight on to the wall and nothing crosses it; ``cells_away`` is how far off
    that cell is, in cells.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    own: NDArray[np.bool_]
    source: tuple[NDArray[np.intp], NDArray[np.intp]]
    cells_away: NDArray[np.float64]

    def take(self, grid: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return a grid's values in the window."""
        return grid[self.source]


def room_window(raster: Raster, room: int, polygon: Polygon | None = None) -> RoomWindow | None:
    """Return the window of a room by its position in the floor; None where it has no cell.

    It reaches over the whole ``polygon`` where that is given: the room may go on, too narrow for
    a cell, beyond the last of its cells.
    """
    rows, columns = _span(raster, polygon)
    if not len(rows) or not len(columns):
        return None
    mask = raster.room_index[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] == room
    if not mask.any():
        return None
    rows, columns = rows[mask.any(axis=1)], columns[mask.any(axis=0)]
    first_row, first_column = rows[0], columns[0]
    before, after = _margins(raster.y[rows[[0, -1]]], raster.cell_m, polygon, 1)
    left, right = _margins(raster.x[columns[[0, -1]]], raster.cell_m, polygon, 0)
    part = np.pad(
        raster.room_index[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] == room,
        ((before, after), (left, right)),
    )
    away, (row, column) = distance_transform_edt(~part, return_indices=True)
    ny, nx = part.shape
    return RoomWindow(
        x=raster.x[first_column] + (np.arange(nx) - left) * raster.cell_m,
        y=raster.y[first_row] + (np.arange(ny) - before) * raster.cell_m,
        own=part,
        source=(row - before + first_row, column - left + first_column),
        cells_away=away,
    )


class RoomWindows:
    """The windows of a floor's rooms, kept as long as the raster is the same."""

    def __init__(self) -> None:
        self._raster: Raster | None = None
        self._found: dict[int, RoomWindow | None] = {}

    def of(self, raster: Raster, room: int, polygon: Polygon) -> RoomWindow | None:
        """Return the window of a room, see :func:`room_window`."""
        if raster is not self._raster:
            self._raster, self._found = raster, {}
        if room not in self._found:
            self._found[room] = room_window(raster, room, polygon)
        return self._found[room]


def room_cells(
    raster: Raster, room: int, polygon: Polygon
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of the cells of a room, by its position in the floor and outline."""
    rows, columns = _span(raster, polygon)
    if not len(rows) or not len(columns):
        return rows[:0], columns[:0]
    part = raster.room_index[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] == room
    row, column = np.nonzero(part)
    return row + rows[0], column + columns[0]


def _span(raster: Raster, polygon: Polygon | None) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rows and columns that a room can have cells in.

    On a floor of thousands of rooms the whole raster is long to look at.
    """
    rows, columns = np.arange(raster.shape[0]), np.arange(raster.shape[1])
    if polygon is None:
        return rows, columns
    west, south, east, north = polygon.bounds
    half = 0.5 * raster.cell_m
    return (
        rows[(raster.y >= south - half) & (raster.y <= north + half)],
        columns[(raster.x >= west - half) & (raster.x <= east + half)],
    )


def _margins(
    ends: NDArray[np.float64], cell_m: float, polygon: Polygon | None, axis: int
) -> tuple[int, int]:
    """Return how many cells the window goes on before the first centre and after the last."""
    low, high = ends if polygon is None else (polygon.bounds[axis], polygon.bounds[axis + 2])
    before, after = np.ceil((ends[0] - low) / cell_m), np.ceil((high - ends[1]) / cell_m)
    return max(MARGIN_CELLS, int(before)), max(MARGIN_CELLS, int(after))


def area_above(
    window: RoomWindow, values: NDArray[np.float64], threshold: float, room: Polygon
) -> BaseGeometry:
    """Return the part of a room where linearly interpolated ``values`` reach ``threshold``."""
    if not (values >= threshold).any():
        return Polygon()
    generator = contour_generator(window.x, window.y, values, fill_type=FillType.OuterOffset)
    # contourpy types the answer of every fill type at once; this one is a pair
    points, offsets = generator.filled(threshold, np.inf)  # type: ignore[misc]
    rings = [
        Polygon(p[o[0] : o[1]], [p[a:b] for a, b in pairwise(o[1:])])
        for p, o in zip(points, offsets, strict=True)
        if len(p) >= 4
    ]
    if not rings:
        return Polygon()
    return polygonal(shapely.union_all(shapely.make_valid(rings)).intersection(room))


def lines_at(
    window: RoomWindow, values: NDArray[np.float64], threshold: float, room: Polygon
) -> list[LineString]:
    """Return the lines in a room along which ``values`` equal ``threshold``."""
    if not ((values >= threshold).any() and (values <= threshold).any()):
        return []
    generator = contour_generator(window.x, window.y, values, line_type=LineType.Separate)
    lines = [LineString(line) for line in generator.lines(threshold) if len(line) > 1]
    inside = [part for line in lines for part in shapely.get_parts(line.intersection(room))]
    return [part for part in inside if isinstance(part, LineString) and part.length > 0]


def polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Keep the polygons of a geometry; an intersection may leave points and lines behind."""
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = [part for part in shapely.get_parts(geometry) if part.geom_type.endswith("Polygon")]
    return shapely.union_all(parts) if parts else Polygon()
