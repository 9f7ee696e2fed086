"""How a sparse matrix on the cells of a floor is taken apart at its doors.

Cells on either side of an opening form the border. Without them the matrix falls into regions
(rooms, mostly) that do not touch each other; each is block-tridiagonal along its lines of cells,
and narrow (nested dissection, with walls for separators: George 1973, SIAM J. Numer. Anal. 10,
doi:10.1137/0710032). An opening through a thick wall is an opening like any other: its edges, which
reach past a neighbouring line, lie in the border.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from hgmap.field.graph import CellGraph

Ints = NDArray[np.int64]

BLOCK_OVERHEAD: Final = 2e5
"""What a block costs beside its arithmetic, in cubes of cells."""

WIDENED: Final = (1, 2, 3, 4)
"""A block holds this many times the lines that it has to."""


@dataclass(frozen=True)
class Region:
    """Cells that touch no other region, in blocks that touch only the blocks beside them.

    ``*_from`` are positions in a matrix's data, ``*_to`` those in a flat array: the blocks on the
    diagonal one after the other, the links between blocks, the coupling to the border.

    Attributes
    ----------
    cells : array of shape (m_r,)
        In the order of the blocks.
    starts : array of shape (blocks + 1,)
        Where each block starts in that order.
    border : array of shape (s_r,)
        Positions in the border of the cells that the region touches.
    """

    cells: Ints
    starts: Ints
    border: Ints
    own_from: Ints
    own_to: Ints
    link_from: Ints
    link_to: Ints
    border_from: Ints
    border_to: Ints


@dataclass(frozen=True)
class Layout:
    """How a sparse pattern is taken apart; the same for every matrix with that pattern.

    Attributes
    ----------
    regions : tuple of Region
    border : array of shape (s,)
        Cells.
    owner : array of shape (m,)
        Region of each cell; -1 for the border.
    place : array of shape (m,)
        Position of each cell in its region, or in the border.
    cost : float
        Estimate of a factor's, in cubes of cells.
    border_from, border_to : arrays
        As in :class:`Region`, for the border itself.
    """

    regions: tuple[Region, ...]
    border: Ints
    owner: Ints
    place: Ints
    cost: float
    border_from: Ints
    border_to: Ints


def borders_of(graph: CellGraph) -> tuple[Ints, ...]:
    """Return the borders worth a try: the cells at openings, those at far edges only, and none."""
    i, j = graph.edges.T
    row, column = np.nonzero(graph.raster.inside)
    far = (np.abs(row[i] - row[j]) > 1) | (np.abs(column[i] - column[j]) > 1)
    through = graph.room[i] != graph.room[j]
    found = [np.unique(graph.edges[some]) for some in (through, far)]
    return (*found, np.empty(0, dtype=np.int64))


def best_layout(pattern: sp.csr_array, position: Ints, borders: Sequence[Ints]) -> Layout:
    """Return the cheapest layout.

    Parameters
    ----------
    pattern : sparse array of shape (m, m)
        Symmetric, its indices sorted; the diagonal is in it.
    position : array of shape (m, 2)
        Row and column of each cell on the raster.
    borders : sequence of arrays
        Cells, each array to be tried for a border.
    """
    row = np.repeat(np.arange(len(position)), np.diff(pattern.indptr))
    column = pattern.indices.astype(np.int64)
    different = {tuple(border): border for border in borders}
    cuts = [_cut(row, column, position, border) for border in different.values()]
    return _layout(row, column, min(cuts, key=lambda cut: cut.cost))


class _Cut(NamedTuple):
    """A border, and the regions that it leaves; ``block`` is each cell's in its region."""

    border: Ints
    owner: Ints
    block: Ints
    cost: float


def _cut(row: Ints, column: Ints, position: Ints, border: Ints) -> _Cut:
    m = len(position)
    inner = np.ones(m, dtype=bool)
    inner[border] = False
    both = inner[row] & inner[column]
    i, j = row[both], column[both]
    joined = sp.coo_array((np.ones(len(i), dtype=bool), (i, j)), shape=(m, m))
    owner = connected_components(joined, directed=False)[1].astype(np.int64)
    owner[border] = -1
    owner[inner] = np.unique(owner[inner], return_inverse=True)[1]
    count = int(owner.max(initial=-1)) + 1
    cells_of = np.split(
        np.argsort(owner, kind="stable"), np.searchsorted(np.sort(owner), range(count))
    )
    least = np.full((count, 2), np.iinfo(np.int64).max)
    reach = np.ones((count, 2), dtype=np.int64)
    for axis in (0, 1):
        np.minimum.at(least[:, axis], owner[inner], position[inner, axis])
        np.maximum.at(reach[:, axis], owner[i], np.abs(position[i, axis] - position[j, axis]))
    touches = np.unique(np.stack([owner[row], column])[:, inner[row] & ~inner[column]], axis=1)[0]
    touched = np.bincount(touches, minlength=count).astype(float)
    block = np.zeros(m, dtype=np.int64)
    cost = len(border) ** 3 / 10.0
    for region, cells in enumerate(cells_of[1:]):
        tried = []
        for axis in (0, 1):
            line = position[cells, axis] - least[region, axis]
            for times in WIDENED:
                here = line // (reach[region, axis] * times)
                size = np.bincount(here)
                size = size[size > 0].astype(float)
                tried.append((float((size**3).sum() + BLOCK_OVERHEAD * len(size)), here))
        own, block[cells] = min(tried, key=lambda one: one[0])
        width = len(cells) / (1.0 + float(block[cells].max()))
        cost += own + 0.4 * len(cells) * touched[region] * (width + 0.5 * touched[region])
    return _Cut(border, owner, block, cost)


def _layout(row: Ints, column: Ints, cut: _Cut) -> Layout:
    """Find where every entry goes."""
    border, owner = cut.border, cut.owner
    inner = owner >= 0
    place = np.empty(len(owner), dtype=np.int64)
    place[border] = np.arange(len(border))
    order = np.lexsort([cut.block, owner])
    count = int(owner.max(initial=-1)) + 1
    cells_of = np.split(order, np.searchsorted(owner[order], range(count)))[1:]
    by_owner = np.argsort(owner[row], kind="stable")
    entries_of = np.split(by_owner, np.searchsorted(owner[row][by_owner], range(count)))[1:]
    for cells in cells_of:
        place[cells] = np.arange(len(cells))
    regions = tuple(
        _region(cells, cut.block[cells], entry, row, column, inner, place)
        for cells, entry in zip(cells_of, entries_of, strict=True)
    )
    edge = np.flatnonzero(~inner[row] & ~inner[column])
    edge_to = place[row[edge]] * len(border) + place[column[edge]]
    return Layout(regions, border, owner, place, cut.cost, edge, edge_to)


def _region(
    cells: Ints,
    block: Ints,
    entry: Ints,
    row: Ints,
    column: Ints,
    inner: NDArray[np.bool_],
    place: Ints,
) -> Region:
    size = np.bincount(block)
    size = size[size > 0]
    starts = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
    of = np.repeat(np.arange(len(size)), size)
    local = np.arange(len(cells)) - starts[of]
    within = inner[column[entry]]
    inside, outside = entry[within], entry[~within]
    a, b = place[row[inside]], place[column[inside]]
    from_block, to_block = of[a], of[b]
    own, link = from_block == to_block, to_block == from_block + 1
    flat = np.concatenate([[0], np.cumsum(size**2)])
    flat_link = np.concatenate([[0], np.cumsum(size[:-1] * size[1:])])
    within_block = local[a] * size[to_block] + local[b]
    at_border = place[column[outside]]
    touched = np.unique(at_border)
    return Region(
        cells,
        starts,
        touched,
        inside[own],
        flat[from_block[own]] + within_block[own],
        inside[link],
        flat_link[from_block[link]] + within_block[link],
        outside,
        place[row[outside]] * len(touched) + np.searchsorted(touched, at_border),
    )
