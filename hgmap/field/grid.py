"""A grid with straight axes, and the tiles that cover the wanted part of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.points import as_values

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Grid:
    """Cells of a grid with straight axes.

    Attributes
    ----------
    x, y : arrays of shape (nx,) and (ny,)
        Ascending centres of columns and rows, from the centre of the readings.
    inside : array of shape (ny, nx), bool
        The cells wanted.
    matrix : array of shape (2, 2)
        Takes a place to its place in ranges.
    """

    x: Floats
    y: Floats
    inside: NDArray[np.bool_]
    matrix: Floats

    def places(self, row: NDArray[np.intp], column: NDArray[np.intp]) -> Floats:
        """Return places of cells in ranges, shape (n, 2)."""
        return np.asarray(np.column_stack([self.x[column], self.y[row]]) @ self.matrix.T)

    def count_tiles(self, side: int) -> float:
        """Return about how many tiles of ``side`` cells hold an inside cell."""
        ny, nx = self.inside.shape
        share = float(np.mean(self.inside))
        return float(max(1.0, math.ceil(nx / side) * math.ceil(ny / side) * share))

    def net(self, x: Floats, y: Floats) -> Floats:
        """Return the places (in ranges) of a net over two axes, row by row, shape (ny nx, 2)."""
        return np.asarray(
            np.column_stack([np.tile(x, len(y)), np.repeat(y, len(x))]) @ self.matrix.T
        )


@dataclass(frozen=True)
class Tile:
    """Rows and columns of a grid."""

    rows: slice
    columns: slice

    @property
    def along(self) -> tuple[int, int]:
        """First row and the one after the last."""
        return self.rows.start, self.rows.stop

    @property
    def across(self) -> tuple[int, int]:
        """First column and the one after the last."""
        return self.columns.start, self.columns.stop


def lay_tiles(inside: NDArray[np.bool_], side: int) -> list[Tile]:
    """Cover the inside cells with tiles of at most ``side`` cells a side, none of them empty.

    They are as equal as can be: a thin tile at the edge costs as much as a whole one.
    """
    tiles = []
    bands, strips = (_cut(count, side) for count in inside.shape)
    for south, north in bands:
        for west, east in strips:
            part = inside[south:north, west:east]
            rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
            if len(rows):
                tiles.append(
                    Tile(
                        slice(south + int(rows[0]), south + int(rows[-1]) + 1),
                        slice(west + int(columns[0]), west + int(columns[-1]) + 1),
                    )
                )
    return tiles


def _cut(count: int, side: int) -> list[tuple[int, int]]:
    edges = np.linspace(0, count, math.ceil(count / side) + 1).round().astype(int).tolist()
    return list(pairwise(edges))


def as_axis(centres: ArrayLike, name: str) -> Floats:
    """Return ascending finite centres of shape (n,), or say what is wrong with them."""
    try:
        axis = np.asarray(centres, dtype=np.float64)
    except (TypeError, ValueError):
        raise EstimateError(f"{name} is not an array of numbers") from None
    if axis.ndim != 1 or not len(axis):
        raise EstimateError(f"{name} has shape {axis.shape}", todo="give the centres of one axis")
    axis = as_values(axis, len(axis), name=name)
    if (np.diff(axis) <= 0).any():
        raise EstimateError(f"{name} does not ascend", todo="give its centres in order")
    return axis


def as_mask(inside: NDArray[np.bool_] | None, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Return a mask of ``shape``; all True where none is given."""
    if inside is None:
        return np.ones(shape, dtype=np.bool_)
    mask = np.asarray(inside)
    if mask.shape != shape or mask.dtype != np.bool_:
        raise EstimateError(
            f"inside is {mask.dtype} of shape {mask.shape}",
            todo=f"give a mask of shape {shape}, rows first",
        )
    return mask
