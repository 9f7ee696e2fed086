"""Covariances of the cells with places, kept place by place: one that moves costs one column."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

if TYPE_CHECKING:
    from hgmap.field.walls import WallKernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_KEPT_ENTRIES: Final = 8_000_000
"""Cells times places, over all ranges of a floor, that are kept (64 MB)."""

SPARE: Final = 6
"""Columns beside those of the places at hand: readings that are held, places that one left."""


class KeptColumns:
    """Covariances of one kernel between all cells and places, and among the places.

    Parameters
    ----------
    kernel : WallKernel
    """

    def __init__(self, kernel: WallKernel) -> None:
        self.kernel = kernel
        self._slot: dict[bytes, int] = {}
        self._columns = np.empty((len(kernel.scale), 0), order="F")
        self._gram = np.empty((0, 0))

    def slots(self, weights: sp.csr_array) -> Ints:
        """Return where the places that weights (n, m) read are kept; what is new is worked out.

        Places that were asked for last are the last to give way.
        """
        keys = keys_of(weights)
        new = {key: row for row, key in enumerate(keys) if key not in self._slot}
        self._slot = {
            **{key: at for key, at in self._slot.items() if key not in set(keys)},
            **{key: self._slot[key] for key in keys if key in self._slot},
        }
        if new:
            self._add(new, weights, set(keys))
        return np.array([self._slot[key] for key in keys], dtype=np.int64)

    def columns(self) -> Floats:
        """Return all that is kept, shape (m, slots); those not asked for may be anything."""
        return self._columns

    def gram(self, slots: Ints) -> Floats:
        """Return the covariance among the places of slots."""
        return self._gram[np.ix_(slots, slots)]

    def _add(self, new: dict[bytes, int], weights: sp.csr_array, wanted: set[bytes]) -> None:
        free = [at for at in range(self._columns.shape[1]) if at not in self._slot.values()]
        for key in [key for key in self._slot if key not in wanted]:
            if len(free) >= len(new):
                break
            free.append(self._slot.pop(key))
        old = np.array(list(self._slot.values()), dtype=np.int64)
        if len(free) < len(new):
            free += self._grown(len(self._slot) + len(new) + SPARE)
        at = np.array(free[: len(new)], dtype=np.int64)
        mine = weights[np.array(list(new.values()))]
        half = self.kernel.half(mine)
        self._columns[:, at] = self.kernel.columns(half)
        self._gram[np.ix_(at, at)] = half.T @ half
        if len(old):
            cells = np.unique(mine.indices)  # a few: the columns are long
            across = mine[:, cells] @ self._columns[np.ix_(cells, old)]
            self._gram[np.ix_(at, old)] = across
            self._gram[np.ix_(old, at)] = across.T
        self._slot.update(zip(new, at.tolist(), strict=True))

    def _grown(self, count: int) -> list[int]:
        had = self._columns.shape[1]
        columns = np.zeros((len(self._columns), count), order="F")
        columns[:, :had] = self._columns
        gram = np.zeros((count, count))
        gram[:had, :had] = self._gram
        self._columns, self._gram = columns, gram
        return list(range(had, count))


def keys_of(weights: sp.csr_array) -> list[bytes]:
    """Return what tells the rows of weights apart: the cells that each reads, and how much."""
    ends = weights.indptr.tolist()
    return [
        weights.indices[a:b].astype(np.int64).tobytes() + weights.data[a:b].tobytes()
        for a, b in pairwise(ends)
    ]
