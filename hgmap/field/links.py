"""Links between the corners of a floor, and the least of many ways at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLOCK_BYTES: Final = 4 * 2**20
"""Of the largest array that the ways of a block of targets need."""


def take_least(
    out: Floats, target: Ints, vertex: Ints, length: Floats, from_vertex: Floats
) -> None:
    """Lower ``out`` to the least of the ways by the vertices; targets ascend."""
    rows = max(1, BLOCK_BYTES // (8 * max(1, out.shape[1])))
    heads = np.flatnonzero(np.diff(target, prepend=-1))
    at = 0
    while at < len(heads):
        # whole targets only: as many as fit, and at least one
        stop = max(at + 1, int(np.searchsorted(heads, heads[at] + rows)) - 1)
        stop = len(heads) if heads[at] + rows >= len(target) else min(stop, len(heads))
        low = heads[at]
        high = heads[stop] if stop < len(heads) else len(target)
        ways = from_vertex[vertex[low:high]]
        ways += length[low:high, None]
        least = np.minimum.reduceat(ways, heads[at:stop] - low, axis=0)
        these = target[heads[at:stop]]
        out[these] = np.minimum(out[these], least)
        at = stop


@dataclass(frozen=True)
class Groups:
    """Items (positions in an array) sorted by the group that they are in."""

    item: Ints
    start: Ints

    @classmethod
    def of(cls, group: Ints, count: int) -> Groups:
        """Sort items by their group, one of ``count``."""
        start = np.concatenate([[0], np.cumsum(np.bincount(group, minlength=count))])
        return cls(np.argsort(group, kind="stable"), start.astype(np.int64))

    def pairs(self, wanted: Ints) -> tuple[Ints, Ints]:
        """Return every (position in ``wanted``, item of the group wanted there)."""
        size = self.start[wanted + 1] - self.start[wanted]
        row = np.repeat(np.arange(len(wanted)), size)
        step = np.arange(len(row)) - np.repeat(np.cumsum(size) - size, size)
        return row, self.item[self.start[wanted][row] + step]


def links_between(place: Floats, one: Ints, other: Ints) -> sp.csr_array:
    """Return links of shape (v, v) between places (m), each pair both ways."""
    length = np.hypot(*(place[one] - place[other]).T)
    return lightest(np.concatenate([one, other]), np.concatenate([other, one]),
                     np.concatenate([length, length]), len(place))  # fmt: skip


def lightest(row: Ints, column: Ints, length: Floats, size: int) -> sp.csr_array:
    """Return links of which the shortest counts where one is given more than once."""
    code, first = np.unique(row * size + column, return_index=True)
    # a link of length 0 would be no link
    length = np.maximum(length[first], 1e-12)
    return sp.csr_array((length, (code // size, code % size)), shape=(size, size))
