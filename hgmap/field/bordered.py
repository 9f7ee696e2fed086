"""Factor of a sparse matrix on the cells of a floor, taken apart at its doors.

The layout is that of :mod:`hgmap.field.layout`: regions that do not touch each other, and a border
of cells at the doors between them, which is eliminated last, from a small dense matrix. With B_r a
region, C_r its coupling to the border and X_r = B_r⁻¹ C_r:

    S = A_border - sum of C_r' X_r,   diag of the inverse in r = diag(B_r⁻¹) + diag(X_r S⁻¹ X_r')

(Rue and Held 2005, Gaussian Markov Random Fields, section 2.4).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hgmap.field.layout import Layout, Region
from hgmap.field.points import Check, never
from hgmap.field.tridiagonal import BlockTridiagonal, Wanted, inverse_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class BorderedFactor:
    """Factor of a symmetric positive definite matrix in its layout.

    Parameters
    ----------
    layout : Layout
    data : array of shape (entries,)
        Of the matrix, in the order of the layout's pattern.
    check : callable, optional
        Called for every region; raising inside it cancels.

    Raises
    ------
    numpy.linalg.LinAlgError
        If the matrix is not positive definite.
    """

    def __init__(self, layout: Layout, data: Floats, check: Check = never) -> None:
        self.layout = layout
        s = len(layout.border)
        schur = _filled(layout.border_from, layout.border_to, (s, s), data)
        self._inner: list[BlockTridiagonal] = []
        self._reach: list[Floats] = []
        self.log_determinant = 0.0
        for region in layout.regions:
            check()
            factor = BlockTridiagonal(*_blocks(region, data))
            shape = len(region.cells), len(region.border)
            coupling = _filled(region.border_from, region.border_to, shape, data)
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
            own = given[region.cells]
            # a few points stand in a few regions: nothing solved is nothing
            inside = factor.solve(own) if own.any() else own
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

    def squared_inverse(self, check: Check = never) -> Floats:
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
            check()
            _, squared = factor.squared_inverse()
            if len(region.border):
                at = np.ix_(region.border, region.border)
                again = factor.solve(reach)
                squared = squared + 2.0 * np.einsum("ij,ij->i", again @ self._border[at], reach)
                squared += np.einsum("ij,ij->i", reach @ turned[at], reach)
            out[region.cells] = squared
        return out


def _filled(source: Ints, target: Ints, shape: tuple[int, int], data: Floats) -> Floats:
    """Return a matrix with some of the data in places of it, zero elsewhere."""
    out = np.zeros(shape)
    out.reshape(-1)[target] = data[source]
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
