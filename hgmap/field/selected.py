"""The diagonal of the inverse of a large sparse matrix on a raster, without the inverse.

Lines of cells (columns of the raster, or rows) follow each other, and a cell is joined to its own
line and the two beside it. The inverse's diagonal blocks then follow from one sweep there and one
back over dense blocks of a line each (block-tridiagonal elimination; the selected inversion of
Takahashi, Fagan and Chin 1973 in block form). Edges that reach farther, through a thick wall, are
left out of the sweep and put back by the Woodbury identity.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from hgmap.field.graph import CellGraph
from hgmap.field.sparse import Factor

Floats = NDArray[np.float64]

WIDEST_LINES: Final = (1, 2, 3, 4, 6, 8, 12, 20)


@dataclass(frozen=True)
class Lines:
    """How the cells of a graph fall into lines that only touch their neighbours.

    Attributes
    ----------
    order : array of shape (m,)
        Cells in the order of the lines.
    starts : array of shape (lines + 1,)
        Where each line starts in that order.
    far : array of shape (k,)
        Edges that reach past a neighbouring line.
    """

    order: NDArray[np.int64]
    starts: NDArray[np.int64]
    far: NDArray[np.int64]


def lines_of(graph: CellGraph) -> Lines:
    """Choose the direction and width of the lines that cost least."""
    row, column = np.nonzero(graph.raster.inside)
    m = len(row)
    best: tuple[float, NDArray[np.int64], NDArray[np.int64]] | None = None
    for position in (column, row):
        for width in WIDEST_LINES:
            line = position // width
            i, j = graph.edges.T
            far = np.flatnonzero(np.abs(line[i] - line[j]) > 1)
            size = np.bincount(line)
            rank = float(len(far))
            cost = 8.0 * float((size.astype(float) ** 3).sum()) + 200.0 * rank * m + rank**2 * m
            if best is None or cost < best[0]:
                best = cost, line, far
    assert best is not None
    _, line, far = best
    order = np.argsort(line, kind="stable")
    used = np.unique(line, return_index=False)
    starts = np.concatenate([np.searchsorted(line[order], used), [m]])
    return Lines(order.astype(np.int64), starts.astype(np.int64), far)


def diagonal_of_inverse(matrix: sp.csc_array, graph: CellGraph, lines: Lines) -> Floats:
    """Return diag(matrix⁻¹) for a symmetric positive definite matrix with the graph's edges.

    Parameters
    ----------
    matrix : sparse array of shape (m, m)
        Its off-diagonal entries are minus the graph's conductances.
    graph : CellGraph
    lines : Lines
        Of the same graph.
    """
    if len(lines.far):
        return _with_far_edges(matrix, graph, lines)
    order, starts = lines.order, lines.starts
    sorted_matrix = sp.csr_array(matrix[order][:, order])
    factors: list[Any] = []
    links: list[Floats] = []
    for k, (start, stop) in enumerate(itertools.pairwise(starts)):
        rows = sorted_matrix[start:stop]
        block = rows[:, start:stop].toarray()
        if k:
            before = starts[k - 1]
            coupling = rows[:, before:start].toarray().T
            link = cho_solve(factors[-1], coupling, check_finite=False)
            block -= coupling.T @ link
            links.append(link)
        factors.append(cho_factor(block, lower=True, check_finite=False, overwrite_a=True))
    diagonal = np.empty(matrix.shape[0])
    inverse: Floats | None = None
    for k in range(len(factors) - 1, -1, -1):
        size = int(starts[k + 1] - starts[k])
        own = cho_solve(factors[k], np.eye(size), check_finite=False, overwrite_b=True)
        if inverse is not None:
            own += links[k] @ inverse @ links[k].T
        inverse = own
        diagonal[order[starts[k] : starts[k + 1]]] = np.diag(own)
    return diagonal


def _with_far_edges(matrix: sp.csc_array, graph: CellGraph, lines: Lines) -> Floats:
    """Sweep without the far edges, then add them: (B + U c U')⁻¹ by Woodbury."""
    m = matrix.shape[0]
    i, j = graph.edges[lines.far].T
    conductance = graph.conductance[lines.far]
    rank = len(lines.far)
    column = np.arange(rank)
    u = sp.csc_array(
        (np.concatenate([np.ones(rank), -np.ones(rank)]),
         (np.concatenate([i, j]), np.concatenate([column, column]))),
        shape=(m, rank),
    )  # fmt: skip
    base = sp.csc_array(matrix - u @ sp.diags_array(conductance) @ u.T)
    swept = diagonal_of_inverse(base, graph, Lines(lines.order, lines.starts, lines.far[:0]))
    solved = Factor(base).solve(u.toarray())
    middle = np.diag(1.0 / conductance) + u.T @ solved
    return np.asarray(swept - np.einsum("ij,ji->i", solved, np.linalg.solve(middle, solved.T)))
