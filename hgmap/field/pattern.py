"""Sparse matrices that share one pattern, so that their sums are sums of arrays."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def pattern_of(matrices: tuple[sp.csr_array, ...]) -> sp.csr_array:
    """Return where any of some sparse matrices of one shape has an entry, sorted."""
    total = sum(
        sp.csr_array((np.ones(one.nnz), one.indices, one.indptr), shape=one.shape)
        for one in matrices
    )
    total = sp.csr_array(total)
    total.sort_indices()
    return total


def on_pattern(pattern: sp.csr_array, matrix: sp.csr_array) -> Floats:
    """Return a matrix's entries in the order of a pattern that holds them."""
    key = _keys(pattern)
    out = np.zeros(len(key))
    out[np.searchsorted(key, _keys(matrix))] = matrix.data
    return out


def _keys(matrix: sp.csr_array) -> Ints:
    row = np.repeat(np.arange(matrix.shape[0], dtype=np.int64), np.diff(matrix.indptr))
    return np.asarray(row * matrix.shape[1] + matrix.indices, dtype=np.int64)
