"""A symmetric positive definite matrix of dense blocks, each coupled to the next one only.

Block elimination: with diagonal blocks A_k and couplings C_k between block k and k + 1,

    P_k = (A_k - C_{k-1}' P_{k-1} C_{k-1})⁻¹,   L_k = P_k C_k

and back, the blocks V_k of the inverse (Takahashi, Fagan and Chin 1973, in block form; Rue and
Held 2005, Gaussian Markov Random Fields, section 2.4):

    V_k = P_k + L_k V_{k+1} L_k',   V_{k,k+1} = -L_k V_{k+1}

Every term that is added is a square: nothing cancels on the way back.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dpotri

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Wanted(NamedTuple):
    """Entries of the inverse asked for in one block: those at (row, column) go to ``place``.

    ``own`` lie in the block itself, ``next`` have their column in the next block.
    """

    own: tuple[Ints, Ints, Ints]
    next: tuple[Ints, Ints, Ints]


class BlockTridiagonal:
    """Factor of a block-tridiagonal matrix.

    Parameters
    ----------
    blocks : sequence of arrays of shape (n_k, n_k)
        On the diagonal.
    links : sequence of arrays of shape (n_k, n_{k+1})
        Between each block and the next, one fewer.

    Raises
    ------
    numpy.linalg.LinAlgError
        If the matrix is not positive definite.
    """

    def __init__(self, blocks: Sequence[Floats], links: Sequence[Floats]) -> None:
        self.starts = np.concatenate([[0], np.cumsum([len(block) for block in blocks])])
        self._pivots: list[Floats] = []
        self._gains: list[Floats] = []
        self.log_determinant = 0.0
        for k, block in enumerate(blocks):
            if k:
                gain = self._pivots[-1] @ links[k - 1]
                self._gains.append(gain)
                block = block - links[k - 1].T @ gain
            pivot, log_determinant = inverse_of(block)
            self._pivots.append(pivot)
            self.log_determinant += log_determinant

    def solve(self, right: Floats) -> Floats:
        """Return the solution for right-hand sides of shape (m, k)."""
        out = np.array(right, dtype=np.float64)
        ends = self.starts.tolist()
        parts = [out[a:b] for a, b in pairwise(ends)]
        for gain, here, after in zip(self._gains, parts[:-1], parts[1:], strict=True):
            after -= gain.T @ here
        parts[-1][:] = self._pivots[-1] @ parts[-1]
        for k in range(len(parts) - 2, -1, -1):
            parts[k][:] = self._pivots[k] @ parts[k] - self._gains[k] @ parts[k + 1]
        return out

    def inverse(
        self, wanted: Sequence[Wanted] | None = None, count: int = 0
    ) -> tuple[Floats, Floats]:
        """Return the inverse's diagonal, shape (m,), and ``count`` entries as wanted per block."""
        diagonal = np.empty(int(self.starts[-1]))
        entries = np.zeros(count)
        after: Floats | None = None
        for k in range(len(self._pivots) - 1, -1, -1):
            block = self._pivots[k]
            if after is not None:
                across = self._gains[k] @ after
                block = block + across @ self._gains[k].T
                if wanted is not None:
                    row, column, place = wanted[k].next
                    entries[place] = -across[row, column]
            if wanted is not None:
                row, column, place = wanted[k].own
                entries[place] = block[row, column]
            diagonal[self.starts[k] : self.starts[k + 1]] = np.diagonal(block)
            after = block
        return diagonal, entries

    def squared_inverse(self) -> tuple[Floats, Floats]:
        """Return the diagonals of the inverse and of the inverse times itself, shapes (m,).

        diag(A⁻¹ A⁻¹) = -d/ds diag((A + s I)⁻¹) at s = 0, the recursions being differentiated
        term by term; no step is taken, so none has to be chosen.
        """
        slopes: list[Floats] = []
        for k, pivot in enumerate(self._pivots):
            slope = np.eye(len(pivot))
            if k:
                slope += self._gains[k - 1].T @ (slopes[-1] @ self._gains[k - 1])
            slopes.append(slope)
        first = np.empty(int(self.starts[-1]))
        second = np.empty_like(first)
        after: Floats | None = None
        after_slope: Floats | None = None
        for k in range(len(self._pivots) - 1, -1, -1):
            pivot = self._pivots[k]
            turned = pivot @ slopes[k]
            block, slope = pivot, turned @ pivot
            if after is not None and after_slope is not None:
                gain = self._gains[k]
                carried = gain @ (after @ gain.T)
                bent = turned @ carried
                block = pivot + carried
                slope = slope + bent + bent.T + gain @ (after_slope @ gain.T)
            here = slice(self.starts[k], self.starts[k + 1])
            first[here], second[here] = np.diagonal(block), np.diagonal(slope)
            after, after_slope = block, slope
        return first, second


def inverse_of(matrix: Floats) -> tuple[Floats, float]:
    """Return the inverse and log-determinant of a symmetric positive definite matrix.

    Raises
    ------
    numpy.linalg.LinAlgError
        If it is not positive definite.
    """
    if not len(matrix):
        return np.empty((0, 0)), 0.0
    # the transpose of a symmetric matrix is in LAPACK's order, and spares it a copy turned round
    factor, fault = dpotrf(matrix.T, lower=1, clean=1)
    if fault:
        raise np.linalg.LinAlgError("the matrix is not positive definite")
    log_determinant = 2.0 * float(np.log(np.diagonal(factor)).sum())
    inverse, fault = dpotri(factor, lower=1, overwrite_c=1)
    if fault:
        raise np.linalg.LinAlgError("the matrix is singular")
    # only the lower half is filled
    inverse[np.diag_indices(len(inverse))] *= 0.5
    inverse += inverse.T
    return np.asarray(inverse), log_determinant
