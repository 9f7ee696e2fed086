"""A sparse symmetric factor and its solves, on one thread."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from threadpoolctl import threadpool_limits

Floats = NDArray[np.float64]


class Factor:
    """Factor of a sparse symmetric positive definite matrix.

    SuperLU in its symmetric mode: no pivoting off the diagonal, minimum degree on A + A'. Its
    solves get three to five times slower with two BLAS threads, so they are held to one.
    """

    def __init__(self, matrix: sp.csc_array) -> None:
        with threadpool_limits(1):
            self._factor = splu(
                sp.csc_matrix(matrix),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )

    def solve(self, right: Floats) -> Floats:
        """Return the solution for one right-hand side (m,) or several (m, k)."""
        with threadpool_limits(1):
            return np.asarray(self._factor.solve(np.asarray(right, order="F")))
