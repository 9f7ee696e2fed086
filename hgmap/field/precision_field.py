"""The sparse matrices of :mod:`hgmap.field.precision`: what readings and ranges need made once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.bordered import BorderedFactor
from hgmap.field.graph import CellGraph
from hgmap.field.layout import Layout, best_layout, borders_of
from hgmap.field.pattern import on_pattern, pattern_of
from hgmap.field.walls import WallKernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_SHIFT: Final = 1e-9
"""Least kappa² a: a range of some 90,000 cells, past which doubles no longer hold K."""


@dataclass
class PrecisionField:
    """Readings on a graph; what all ranges and shares have in common is made once.

    Parameters
    ----------
    graph : CellGraph
    weights : sparse array of shape (n, m)
        How the readings read the cells (:meth:`CellGraph.interpolation`).
    values : array of shape (n,)
        Working scale.
    trend : array of shape (n, p)
        1 where a reading belongs to a part of the floor.
    target_trend : array of shape (m, p)
        1 where a cell does; a row of zeros where no reading reaches.
    error_weight : array of shape (n,)
        Relative variance of each reading's error (1 for one reading, 1/k for the mean of k).

    Attributes
    ----------
    cells : array of shape (c,)
        Those that readings reach; all below is over these.
    reads : sparse array of shape (n, c)
        The weights.
    parts : array of shape (c, p)
        The target trend.
    laplacian : sparse array of shape (c, c)
    pattern : sparse array of shape (c, c)
        Where any of the matrices has an entry.
    data : dict
        Entries on the pattern of G G, G, the identity and W' W weighed by the readings' errors.
    diagonal : array of shape (c,)
        Where the pattern's diagonal lies in the data.
    layout : Layout
        Of the pattern.
    """

    graph: CellGraph
    weights: sp.csr_array
    values: Floats
    trend: Floats
    target_trend: Floats
    error_weight: Floats
    cells: Ints = field(init=False)
    reads: sp.csr_array = field(init=False)
    parts: Floats = field(init=False)
    laplacian: sp.csr_array = field(init=False)
    diagonal: Ints = field(init=False)
    layout: Layout = field(init=False)
    data: dict[str, Floats] = field(init=False)
    pattern: sp.csr_array = field(init=False)

    def __post_init__(self) -> None:
        known = np.asarray(self.target_trend.any(axis=1))
        self.cells = np.flatnonzero(known)
        self.parts = self.target_trend[self.cells]
        self.reads = sp.csr_array(self.weights[:, self.cells])
        laplacian = sp.csr_array(self.graph.laplacian())[self.cells][:, self.cells]
        self.laplacian = sp.csr_array(laplacian)
        squared = sp.csr_array(laplacian @ laplacian)
        identity = sp.eye_array(len(self.cells), format="csr")
        # readings of the same cells add up; on the pattern even where two of them cancel
        root = sp.diags_array(1.0 / np.sqrt(self.error_weight))
        read = sp.csr_array((root @ self.reads).T @ (root @ self.reads))
        parts = {"squared": squared, "laplacian": laplacian, "identity": identity, "read": read}
        self.pattern = pattern_of(tuple(parts.values()))
        self.data = {name: on_pattern(self.pattern, one) for name, one in parts.items()}
        self.diagonal = np.flatnonzero(self.data["identity"])
        position = np.column_stack(np.nonzero(self.graph.raster.inside))[self.cells]
        new = np.full(len(known), -1, dtype=np.int64)
        new[self.cells] = np.arange(len(self.cells))
        borders = tuple(new[border][new[border] >= 0] for border in borders_of(self.graph))
        self.layout = best_layout(self.pattern, position, borders)


class OneRange:
    """A range, over the readings of a :class:`PrecisionField`.

    Attributes
    ----------
    prior : array
        Entries of Q on the pattern.
    read : array
        Entries of D W' W D on the pattern, weighed by the readings' errors.
    scale : array of shape (c,)
        D.
    area : float
        Of a cell (m²).
    prior_determinant : float
        log|Q|.

    Raises
    ------
    EstimateError
        If the range is too long for the cells (:data:`LEAST_SHIFT`).
    """

    def __init__(self, common: PrecisionField, kernel: WallKernel) -> None:
        self.common, self.kernel = common, kernel
        data, self.area = common.data, kernel.area
        shift = 8.0 / kernel.range_m**2 * kernel.area
        if shift < LEAST_SHIFT:
            raise EstimateError(
                f"a range of {kernel.range_m:g} m is too long for cells of {self.area**0.5:g} m",
                todo="use a shorter range or larger cells",
            )
        self.prior = (
            data["squared"] + 2.0 * shift * data["laplacian"] + shift**2 * data["identity"]
        ) / kernel.area
        self.scale = kernel.scale[common.cells]
        pattern = common.pattern
        row = np.repeat(np.arange(len(self.scale)), np.diff(pattern.indptr))
        self.read = self.scale[row] * data["read"] * self.scale[pattern.indices]
        # K's own factor knows its determinant, unless it holds parts that no reading reaches
        whole = len(common.cells) == len(kernel.scale)
        single = (
            kernel.factor
            if whole
            else BorderedFactor(common.layout, data["laplacian"] + shift * data["identity"])
        )
        cells = len(self.scale)
        self.prior_determinant = 2.0 * single.log_determinant - cells * float(np.log(kernel.area))
        self._shift = shift

    def times_k(self, v: Floats) -> Floats:
        """Return K v."""
        return np.asarray(self.common.laplacian @ v + self._shift * v)
