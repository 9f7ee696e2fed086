"""A sparse matrix on the cells of a floor, taken apart at its doors.

Cells on either side of an opening form the border. Without them the matrix falls into regions
(rooms, mostly) that do not touch each other; each is block-tridiagonal along its lines of cells,
and narrow. The border is eliminated last, from a small dense matrix (nested dissection, with walls
for separators: George 1973, SIAM J. Numer. Anal. 10; Rue and Held 2005, Gaussian Markov Random
Fields, section 2.4). With B_r a region, C_r its coupling to the border and X_r = B_r⁻¹ C_r:

    S = A_border - sum of C_r' X_r,   diag of the inverse in r = diag(B_r⁻¹) + diag(X_r S⁻¹ X_r')
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from hgmap.field.graph import CellGraph
from hgmap.field.tridiagonal import BlockTridiagonal, Wanted, inverse_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLOCK_OVERHEAD: Final = 2e5
"""What a block costs beside its arithmetic, in cubes of cells."""

WIDENED: Final = (1, 2, 3, 4)
"""A block holds this many times the lines that it has to."""


@dataclass(frozen=True)
class Region:
    """Cells that touch no other region, in blocks that touch only the blocks beside them.

    ``*_from`` index the matrix's data, ``*_to`` the flat arrays that they are put into.

    Attributes
    ----------
    cells : array of shape (m_r,)
        In the order of the blocks.
    starts : array of shape (blocks + 1,)
    border : array of shape (s_r,)
        Positions in the border of the cells that the region touches.
    cost : float
        Cubes of cells, see :data:`BLOCK_OVERHEAD`.
    """

    cells: Ints
    starts: Ints
    border: Ints
    cost: float
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
    place : array of shape (m,)
        Position of each cell in its region, or in the border.
    owner : array of shape (m,)
        Region of each cell; -1 for the border.
    cost : float
    """

    regions: tuple[Region, ...]
    border: Ints
    place: Ints
    owner: Ints
    cost: float
    border_from: Ints
    border_to: Ints


def door_cells(graph: CellGraph) -> tuple[Ints, ...]:
    """Return the borders that are worth a try: at every opening, at far edges only, and none."""
    i, j = graph.edges.T
    row, column = np.nonzero(graph.raster.inside)
    far = (np.abs(row[i] - row[j]) > 1) | (np.abs(column[i] - column[j]) > 1)
    through = graph.room[i] != graph.room[j]
    found = [np.unique(graph.edges[some]) for some in (through, far)]
    return (*found, np.empty(0, dtype=np.int64))


def best_layout(pattern: sp.csr_array, position: Ints, borders: tuple[Ints, ...]) -> Layout:
    """Return the cheapest layout.

    Parameters
    ----------
    pattern : sparse array of shape (m, m)
        Symmetric, its indices sorted; the diagonal is in it.
    position : array of shape (m, 2)
        Row and column of each cell on the raster.
    borders : tuple of arrays
        Cells, each to be tried for a border; empty ones and doubles are tried once.
    """
    different = {tuple(border): border for border in borders}
    made: list[Layout] = []
    for border in different.values():
        layout = _layout(pattern, position, border)
        made.append(layout)
        # rooms that are narrow next to the whole cannot be beaten by the whole
        if len(border) and layout.cost < BLOCK_OVERHEAD * np.sqrt(len(position)):
            break
    return min(made, key=lambda one: one.cost)


def _layout(pattern: sp.csr_array, position: Ints, border: Ints) -> Layout:
    m = len(position)
    row = np.repeat(np.arange(m), np.diff(pattern.indptr))
    column = pattern.indices.astype(np.int64)
    inner = np.ones(m, dtype=bool)
    inner[border] = False
    both = inner[row] & inner[column]
    joined = sp.coo_array((np.ones(int(both.sum()), bool), (row[both], column[both])), (m, m))
    owner = connected_components(joined, directed=False)[1].astype(np.int64)
    owner[border] = -1
    named, owner[inner] = np.unique(owner[inner], return_inverse=True)
    place = np.empty(m, dtype=np.int64)
    place[border] = np.arange(len(border))
    entry = np.arange(len(column))
    by_owner = np.argsort(owner[row], kind="stable")
    bounds = np.searchsorted(owner[row][by_owner], np.arange(len(named) + 1))
    cells_by_owner = np.argsort(owner, kind="stable")
    cell_bounds = np.searchsorted(owner[cells_by_owner], np.arange(len(named) + 1))
    regions = []
    for k in range(len(named)):
        cells = cells_by_owner[cell_bounds[k] : cell_bounds[k + 1]]
        mine = by_owner[bounds[k] : bounds[k + 1]]
        regions.append(_region(cells, position, row[mine], column[mine], entry[mine], inner, place))
    edge = ~inner[row] & ~inner[column]
    cost = sum(region.cost for region in regions) + len(border) ** 3 / 10.0
    return Layout(
        tuple(regions), border, place, owner, cost,
        entry[edge], place[row[edge]] * len(border) + place[column[edge]],
    )  # fmt: skip


def _region(
    cells: Ints, position: Ints, row: Ints, column: Ints, entry: Ints, inner: NDArray[np.bool_],
    place: Ints,
) -> Region:  # fmt: skip
    """Order a region's cells and find where its entries go; ``place`` is filled in."""
    within = inner[column]
    i, j = row[within], column[within]
    best: tuple[float, Ints] | None = None
    for axis in (0, 1):
        line = position[:, axis] - position[cells, axis].min()
        reach = max(1, int(np.abs(line[i] - line[j]).max(initial=0)))
        for times in WIDENED:
            block = line[cells] // (reach * times)
            size = np.bincount(block)
            size = size[size > 0].astype(float)
            cost = float((size**3).sum() + BLOCK_OVERHEAD * len(size))
            if best is None or cost < best[0]:
                best = cost, block
    assert best is not None
    cost, block = best
    order = np.argsort(block, kind="stable")
    cells = cells[order]
    size = np.bincount(block)
    size = size[size > 0]
    starts = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
    place[cells] = np.arange(len(cells))
    of = np.repeat(np.arange(len(size)), size)
    a, b = place[i], place[j]
    own = of[a] == of[b]
    link = of[b] == of[a] + 1
    flat = np.concatenate([[0], np.cumsum(size**2)])
    flat_link = np.concatenate([[0], np.cumsum(size[:-1] * size[1:])])
    local = np.arange(len(cells)) - starts[of]
    own_to = flat[of[a[own]]] + local[a[own]] * size[of[a[own]]] + local[b[own]]
    link_to = flat_link[of[a[link]]] + local[a[link]] * size[of[b[link]]] + local[b[link]]
    touched = np.unique(place[column[~within]])
    border_to = place[row[~within]] * len(touched) + np.searchsorted(
        touched, place[column[~within]]
    )
    n, s = float(len(cells)), float(len(touched))
    cost += (4.0 * n * s * float(size.mean()) + 2.0 * n * s**2) / 10.0
    return Region(
        cells, starts, touched, cost, entry[within][own], own_to, entry[within][link], link_to,
        entry[~within], border_to,
    )  # fmt: skip


class BorderedFactor:
    """Factor of a symmetric positive definite matrix in its layout.

    Parameters
    ----------
    layout : Layout
    data : array of shape (entries,)
        Of the matrix, in the order of the layout's pattern.

    Raises
    ------
    numpy.linalg.LinAlgError
        If the matrix is not positive definite.
    """

    def __init__(self, layout: Layout, data: Floats) -> None:
        self.layout = layout
        s = len(layout.border)
        schur = np.zeros(s * s)
        schur[layout.border_to] = data[layout.border_from]
        schur = schur.reshape(s, s)
        self._inner: list[BlockTridiagonal] = []
        self._reach: list[Floats] = []
        self.log_determinant = 0.0
        for region in layout.regions:
            factor = BlockTridiagonal(*_blocks(region, data))
            coupling = np.zeros(len(region.cells) * len(region.border))
            coupling[region.border_to] = data[region.border_from]
            coupling = coupling.reshape(len(region.cells), len(region.border))
            reach = factor.solve(coupling) if len(region.border) else coupling
            schur[np.ix_(region.border, region.border)] -= coupling.T @ reach
            self.log_determinant += factor.log_determinant
            self._inner.append(factor)
            self._reach.append(reach)
        self._border, log_determinant = inverse_of((schur + schur.T) / 2.0)
        self.log_determinant += log_determinant

    def solve(self, right: Floats) -> Floats:
        """Return the solution for one right-hand side (m,) or several (m, k)."""
        out = np.empty((len(right), 1 if right.ndim == 1 else right.shape[1]))
        given = right.reshape(out.shape)
        on_border = given[self.layout.border].astype(np.float64)
        parts = zip(self.layout.regions, self._reach, strict=True)
        for region, reach in parts:
            on_border[region.border] -= reach.T @ given[region.cells]
        on_border = self._border @ on_border
        for region, factor, reach in zip(
            self.layout.regions, self._inner, self._reach, strict=True
        ):
            inside = factor.solve(given[region.cells])
            out[region.cells] = inside - reach @ on_border[region.border]
        out[self.layout.border] = on_border
        return out.reshape(right.shape)

    def inverse(self, pairs: tuple[Ints, Ints] | None = None) -> tuple[Floats, Floats]:
        """Return the inverse's diagonal, shape (m,), and its entries at pairs of cells.

        Parameters
        ----------
        pairs : two arrays of shape (k,), optional
            Cells that the matrix's pattern couples; none where not given.
        """
        i, j = pairs if pairs is not None else (np.empty(0, np.int64), np.empty(0, np.int64))
        layout = self.layout
        diagonal = np.empty(len(layout.place))
        diagonal[layout.border] = np.diagonal(self._border)
        entries = np.zeros(len(i))
        owner = np.maximum(layout.owner[i], layout.owner[j])
        edge = owner < 0
        entries[edge] = self._border[layout.place[i[edge]], layout.place[j[edge]]]
        for k, (region, factor, reach) in enumerate(
            zip(layout.regions, self._inner, self._reach, strict=True)
        ):
            mine = np.flatnonzero(owner == k)
            wanted = _wanted(region, layout, i[mine], j[mine]) if len(mine) else None
            own, some = factor.inverse(wanted, len(mine))
            weighed = reach @ self._border[np.ix_(region.border, region.border)]
            diagonal[region.cells] = own + np.einsum("ij,ij->i", weighed, reach)
            if len(mine):
                across = -reach @ self._border[region.border]
                entries[mine] = some + self._over_border(
                    k, weighed, reach, across, i[mine], j[mine]
                )
        return diagonal, entries

    def _over_border(
        self, region: int, weighed: Floats, reach: Floats, across: Floats, i: Ints, j: Ints
    ) -> Floats:
        """Return what goes round by the border, for pairs of which one cell at least is inside."""
        layout = self.layout
        inside_i, inside_j = layout.owner[i] == region, layout.owner[j] == region
        a, b = layout.place[i], layout.place[j]
        out = np.empty(len(i))
        both = inside_i & inside_j
        out[both] = np.einsum("ij,ij->i", weighed[a[both]], reach[b[both]])
        out[~inside_j] = across[a[~inside_j], b[~inside_j]]
        out[~inside_i] = across[b[~inside_i], a[~inside_i]]
        return out

    def squared_inverse(self) -> Floats:
        """Return the diagonal of the inverse times itself, shape (m,).

        -d/ds of the inverse's diagonal for the matrix + s I, term by term.
        """
        layout = self.layout
        slope = np.eye(len(layout.border))
        for region, reach in zip(layout.regions, self._reach, strict=True):
            slope[np.ix_(region.border, region.border)] += reach.T @ reach
        turned = self._border @ slope @ self._border
        out = np.empty(len(layout.place))
        out[layout.border] = np.diagonal(turned)
        for region, factor, reach in zip(layout.regions, self._inner, self._reach, strict=True):
            _, squared = factor.squared_inverse()
            if len(region.border):
                at = np.ix_(region.border, region.border)
                again = factor.solve(reach)
                squared = squared + 2.0 * np.einsum("ij,ij->i", again @ self._border[at], reach)
                squared += np.einsum("ij,ij->i", reach @ turned[at], reach)
            out[region.cells] = squared
        return out


def _blocks(region: Region, data: Floats) -> tuple[list[Floats], list[Floats]]:
    size = np.diff(region.starts)
    own = np.zeros(int((size**2).sum()))
    own[region.own_to] = data[region.own_from]
    link = np.zeros(int((size[:-1] * size[1:]).sum()))
    link[region.link_to] = data[region.link_from]
    blocks, links, at, at_link = [], [], 0, 0
    for k, n in enumerate(size):
        blocks.append(own[at : at + n * n].reshape(n, n))
        at += n * n
        if k + 1 < len(size):
            after = size[k + 1]
            links.append(link[at_link : at_link + n * after].reshape(n, after))
            at_link += n * after
    return blocks, links


def _wanted(region: Region, layout: Layout, i: Ints, j: Ints) -> list[Wanted]:
    """Sort pairs by the block of the first cell; those with the border are left out."""
    inside = (layout.owner[i] >= 0) & (layout.owner[j] >= 0)
    a, b = layout.place[i], layout.place[j]
    a, b = np.minimum(a, b), np.maximum(a, b)
    of_a = np.searchsorted(region.starts, a, side="right") - 1
    of_b = np.searchsorted(region.starts, b, side="right") - 1
    wanted = []
    for k, start in enumerate(region.starts[:-1]):
        own = np.flatnonzero(inside & (of_a == k) & (of_b == k))
        after = np.flatnonzero(inside & (of_a == k) & (of_b == k + 1))
        wanted.append(
            Wanted(
                (a[own] - start, b[own] - start, own),
                (a[after] - start, b[after] - region.starts[k + 1], after),
            )
        )
    return wanted
