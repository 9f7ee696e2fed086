"""Air of one floor in steady state: finite volumes on lines that follow every wall and door.

    -div(D grad c) + div(u c) + lambda (c - outside) = source

two-dimensional (mixed over the height), no flux through walls, with u a uniform drift along one
room. It shares nothing with the estimator: no kernel, no raster, no graph of it. Every room is a
rectangle, so that mesh lines lie on all walls and door jambs and a door is as wide as it is drawn.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import splu

from hgmap.site.building import Floor, Opening, OpeningState

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SHUT: Final = 0
FREE: Final = 1
LEAKY: Final = 2

_CODE: Final[dict[OpeningState, int]] = {"open": FREE, "closed": LEAKY, "sealed": SHUT}


@dataclass(frozen=True)
class Air:
    """How the air of a floor moves.

    Attributes
    ----------
    diffusivity_m2_h : float
        Turbulent diffusivity (m²/h).
    exchange_per_h : tuple of float
        Air changes with outside, one per room (1/h).
    outside : float
        Concentration outside.
    leak_m_h : float
        Exchange velocity through a closed door (m/h): flow per metre of width and of height.
    drift_room : int
        Position of the room that the drift runs through, west to east; -1: none.
    drift_m_h : float
        Its velocity (m/h), eastwards if positive.
    inlet : float or None
        Concentration that the drift brings in; None: that of outside.
    """

    diffusivity_m2_h: float
    exchange_per_h: tuple[float, ...]
    outside: float = 0.0
    leak_m_h: float = 0.0
    drift_room: int = -1
    drift_m_h: float = 0.0
    inlet: float | None = None


@dataclass(frozen=True)
class Mesh:
    """Cells between mesh lines, and how each two neighbours are joined.

    Attributes
    ----------
    x_lines, y_lines : arrays of shape (nx + 1,) and (ny + 1,), m
    label : array of shape (ny, nx)
        Position of the room; ``len(rooms) + k`` in the doorway of opening k; -1 solid.
    across_x, across_y : arrays of shape (ny, nx - 1) and (ny - 1, nx)
        SHUT, FREE or LEAKY, for the face to the east or north of a cell.
    """

    x_lines: Floats
    y_lines: Floats
    label: Integers
    across_x: Integers
    across_y: Integers

    @property
    def air(self) -> NDArray[np.bool_]:
        """True where there is air, shape (ny, nx)."""
        return self.label >= 0

    @property
    def room(self) -> Integers:
        """Label of each air cell, row by row."""
        return self.label[self.air]

    @property
    def centres(self) -> Floats:
        """Centre of each air cell (m), shape (n, 2), row by row."""
        x, y = np.meshgrid(_middles(self.x_lines), _middles(self.y_lines))
        return np.column_stack([x[self.air], y[self.air]])

    @property
    def areas(self) -> Floats:
        """Area of each air cell (m²)."""
        return np.outer(np.diff(self.y_lines), np.diff(self.x_lines))[self.air]

    @property
    def number(self) -> Integers:
        """Place of each cell among the air cells, -1 where solid; shape (ny, nx)."""
        number = np.full(self.label.shape, -1)
        number[self.air] = np.arange(np.count_nonzero(self.air))
        return number


def lay_mesh(floor: Floor, step_m: float) -> Mesh:
    """Lay mesh lines on all walls and jambs, and between them in steps of at most ``step_m``."""
    boxes = [room.polygon.bounds for room in floor.rooms]
    ways = [
        (number, opening, _doorway(floor, opening))
        for number, opening in enumerate(floor.openings)
        if len(opening.rooms) == 2 and opening.state != "sealed"
    ]
    ends = [shapely.get_coordinates(wall) for wall in floor.walls]
    corners = np.vstack([np.reshape([*boxes, *(box for _, _, box in ways)], (-1, 2)), *ends])
    x_lines, y_lines = (_lines(corners[:, axis], step_m) for axis in (0, 1))

    def span(box: Any) -> tuple[slice, slice]:
        x0, x1 = np.searchsorted(x_lines, [box[0] - 1e-6, box[2] - 1e-6])
        y0, y1 = np.searchsorted(y_lines, [box[1] - 1e-6, box[3] - 1e-6])
        return slice(int(y0), int(y1)), slice(int(x0), int(x1))

    label = np.full((len(y_lines) - 1, len(x_lines) - 1), -1)
    for index, box in enumerate(boxes):
        label[span(box)] = index
    for number, _, box in ways:
        label[span(box)] = len(boxes) + number
    across_x = np.where((label[:, 1:] == label[:, :-1]) & (label[:, 1:] >= 0), FREE, SHUT)
    across_y = np.where((label[1:] == label[:-1]) & (label[1:] >= 0), FREE, SHUT)
    for wall in floor.walls:
        rows, columns = span(wall.bounds)
        if columns.start == columns.stop:
            across_x[rows, columns.start - 1] = SHUT
        else:
            across_y[rows.start - 1, columns] = SHUT
    for _, opening, box in ways:
        rows, columns = span(box)
        # both ends of a doorway are free but the one with the door leaf; a thin wall has one end
        for end, code in ((1, FREE), (0, _CODE[opening.state])):
            if _runs_north(opening):
                across_x[rows, (columns.start, columns.stop)[end] - 1] = code
            else:
                across_y[(rows.start, rows.stop)[end] - 1, columns] = code
    return Mesh(x_lines, y_lines, label, across_x, across_y)


def balance_matrix(mesh: Mesh, air: Air) -> coo_array:
    """Return A (m²/h), with A e = source per cell and e the excess over outside.

    Along the drift the flux between two cells is that of the exact solution between their centres,
    D/d (B(-Pe) c_west - B(Pe) c_east), B(z) = z / (exp z - 1), Pe = u d / D (Scharfetter and
    Gummel 1969, IEEE Trans. Electron Devices 16; value from memory), which keeps c positive.
    """
    width, height = np.diff(mesh.x_lines), np.diff(mesh.y_lines)
    number = mesh.number
    entries: list[tuple[Any, Any, Any]] = []

    def join(a: Any, b: Any, forward: Any, backward: Any) -> None:
        entries.extend([(a, a, forward), (b, a, -forward), (b, b, backward), (a, b, -backward)])

    row, column = np.nonzero(mesh.across_x)
    apart = 0.5 * (width[column] + width[column + 1])
    passes = _passing(air, height[row], apart, mesh.across_x[row, column])
    drifting = (mesh.label[row, column] == air.drift_room) & (
        mesh.label[row, column + 1] == air.drift_room
    )
    peclet = np.where(drifting, air.drift_m_h * apart / air.diffusivity_m2_h, 0.0)
    join(
        number[row, column],
        number[row, column + 1],
        passes * _bernoulli(-peclet),
        passes * _bernoulli(peclet),
    )
    row, column = np.nonzero(mesh.across_y)
    apart = 0.5 * (height[row] + height[row + 1])
    passes = _passing(air, width[column], apart, mesh.across_y[row, column])
    join(number[row, column], number[row + 1, column], passes, passes)

    everywhere = np.arange(number.max() + 1)
    entries.append((everywhere, everywhere, exchange(mesh, air) * mesh.areas))
    leaving, flow = _end_of_drift(mesh, air, upstream=False)
    entries.append((leaving, leaving, flow))
    i, j, value = (np.concatenate(part) for part in zip(*entries, strict=True))
    return coo_array((value, (i, j)), shape=(len(everywhere), len(everywhere)))


def steady_excess(mesh: Mesh, air: Air, source: Floats) -> Floats:
    """Return c - outside of each air cell, for a source per area (µg/m³ · 1/h) of each cell."""
    supply = source * mesh.areas
    entering, flow = _end_of_drift(mesh, air, upstream=True)
    if air.inlet is not None:
        np.add.at(supply, entering, flow * (air.inlet - air.outside))
    factor = splu(
        balance_matrix(mesh, air).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return np.asarray(factor.solve(supply), dtype=np.float64)


def exchange(mesh: Mesh, air: Air) -> Floats:
    """Return the air changes (1/h) of each air cell; none in a doorway."""
    per_room = np.asarray(air.exchange_per_h, dtype=np.float64)
    room = mesh.room
    return np.where(room < len(per_room), per_room[np.minimum(room, len(per_room) - 1)], 0.0)


def _end_of_drift(mesh: Mesh, air: Air, *, upstream: bool) -> tuple[Integers, Floats]:
    """Return the cells at one end of the drift and the flow (m²/h) through each."""
    rows, columns = np.nonzero(mesh.label == air.drift_room)
    if air.drift_room < 0 or air.drift_m_h == 0:
        return np.empty(0, dtype=np.int64), np.empty(0)
    west = (air.drift_m_h > 0) == upstream
    last = columns == (columns.min() if west else columns.max())
    flow = abs(air.drift_m_h) * np.diff(mesh.y_lines)[rows[last]]
    return mesh.number[rows[last], columns[last]], flow


def _passing(air: Air, face: Floats, apart: Floats, code: Integers) -> Floats:
    """Return the conductance (m²/h) of faces of that width (m), a closed door in series."""
    free = air.diffusivity_m2_h * face / apart
    leak = np.maximum(air.leak_m_h * face, 1e-300)
    return np.where(code == LEAKY, 1.0 / (1.0 / free + 1.0 / leak), free)


def _bernoulli(z: Floats) -> Floats:
    small = np.abs(z) < 1e-8
    return np.where(small, 1.0 - 0.5 * z, z / np.expm1(np.where(small, 1.0, z)))


def _runs_north(opening: Opening) -> bool:
    west, _, east, _ = opening.line.bounds
    return bool(east - west < 1e-9)


def _doorway(floor: Floor, opening: Opening) -> tuple[float, float, float, float]:
    """Return west, south, east, north of the way between two rooms; no depth in a thin wall."""
    west, south, east, north = opening.line.bounds
    a, b = (room.polygon.bounds for room in floor.rooms if room.id in opening.rooms)
    if _runs_north(opening):
        return min(a[2], b[2]), south, max(a[0], b[0]), north
    return west, min(a[3], b[3]), east, max(a[1], b[1])


def _lines(breaks: Floats, step_m: float) -> Floats:
    breaks = np.unique(breaks.round(6))
    parts = [
        np.linspace(a, b, max(1, int(np.ceil((b - a) / step_m - 1e-6))), endpoint=False)
        for a, b in itertools.pairwise(breaks)
    ]
    return np.concatenate([*parts, breaks[-1:]])


def _middles(lines: Floats) -> Floats:
    return 0.5 * (lines[:-1] + lines[1:])
