"""Covariance through the doors: a no-flux Whittle-Matern field on the cell graph.

The field u solves (kappa² - Laplacian) u = white noise on the floor with no flux through walls
(Lindgren, Rue and Lindstrom 2011, J. R. Statist. Soc. B 73, doi:10.1111/j.1467-9868.2011.00777.x,
alpha = 2, nu = 1; that walls are left out of the domain: Bakka et al. 2019,
doi:10.1016/j.spasta.2019.01.002). On the graph, with a the area of a cell and G its Laplacian:

    K = G + kappa² a I,   covariance  S = K⁻¹ (a I) K⁻¹,   range = sqrt(8) / kappa

Reflecting walls raise the variance near them, so S is divided by its own standard deviations:
every cell then has variance 1. It is a covariance whatever the plan, and zero between cells that
no air joins.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.bordered import BorderedFactor
from hgmap.field.graph import CellGraph
from hgmap.field.kept_columns import KeptColumns
from hgmap.field.layout import Layout, best_layout, borders_of
from hgmap.field.pattern import on_pattern, pattern_of
from hgmap.field.points import Check, never
from hgmap.field.raster import Raster
from hgmap.field.threads import one_thread

Floats = NDArray[np.float64]


@dataclass
class WallField:
    """The unit-variance field of one floor; what is costly is kept for the next use.

    Parameters
    ----------
    graph : CellGraph
    """

    graph: CellGraph
    _system: _System | None = None
    _kernels: dict[float, WallKernel] = field(default_factory=dict)
    _columns: dict[float, KeptColumns] = field(default_factory=dict)
    _onto: tuple[Raster, sp.csr_array] | None = None

    def kernel(self, range_m: float, check: Check = never) -> WallKernel:
        """Return the kernel of a range (m); made once."""
        if range_m not in self._kernels:
            self._kernels[range_m] = _make(self.graph, self._made(), range_m, check)
        return self._kernels[range_m]

    def columns(self, range_m: float) -> KeptColumns:
        """Return the covariances of a range (m) with places, kept from estimate to estimate."""
        if range_m not in self._columns:
            self._columns[range_m] = KeptColumns(self.kernel(range_m))
        return self._columns[range_m]

    def onto(self, raster: Raster) -> sp.csr_array:
        """Return weights that read the cells at the inside cells of a raster; the last is kept."""
        if self._onto is None or self._onto[0] is not raster:
            room = raster.room_index[raster.inside].astype(np.int64)
            self._onto = raster, self.graph.interpolation(raster.points(), room)
        return self._onto[1]

    @property
    def cost(self) -> float:
        """Estimate of what a factor of K costs, see :class:`hgmap.field.layout.Layout`."""
        return self._made().layout.cost

    def _made(self) -> _System:
        if self._system is None:
            self._system = _system(self.graph)
        return self._system


@dataclass(frozen=True)
class _System:
    """What K has in common over all ranges: its layout, and G and the identity on its pattern."""

    layout: Layout
    laplacian: Floats
    identity: Floats


def _system(graph: CellGraph) -> _System:
    laplacian = sp.csr_array(graph.laplacian())
    identity = sp.eye_array(len(graph.xy), format="csr")
    pattern = pattern_of((laplacian, identity))
    position = np.column_stack(np.nonzero(graph.raster.inside))
    layout = best_layout(pattern, position, borders_of(graph))
    return _System(layout, on_pattern(pattern, laplacian), on_pattern(pattern, identity))


@dataclass(frozen=True)
class WallKernel:
    """The field's covariance for one range.

    Attributes
    ----------
    range_m : float
        sqrt(8) / kappa (m): the correlation there is 0.14 in open space.
    factor : BorderedFactor
        Of K.
    area : float
        Of a cell (m²).
    scale : array of shape (m,)
        One over the standard deviation of K⁻¹ (a I) K⁻¹.
    wall_flux : array of shape (m,)
        What an even flux out of (or into) the walls of each connected part would add: the solution
        of K w = wall faces, its mean taken off, over its standard deviation, in each part.
    """

    range_m: float
    factor: BorderedFactor
    area: float
    scale: Floats
    wall_flux: Floats

    def half(self, weights: sp.csr_array) -> Floats:
        """Return H of shape (m, n) with H' H the covariance of the points that weights read."""
        with one_thread():
            solved = self.factor.solve((weights * self.scale).T.toarray())
        return np.asarray(solved * float(np.sqrt(self.area)))

    def columns(self, half: Floats) -> Floats:
        """Return the covariance between all cells and the points of a half, shape (m, n)."""
        with one_thread():
            return np.asarray(self.scale[:, None] * self.factor.solve(half * np.sqrt(self.area)))

    def simulate(self, count: int, random: np.random.Generator) -> Floats:
        """Draw fields of variance 1 over all cells, shape (m, count): D K⁻¹ sqrt(a) white noise."""
        noise = random.normal(size=(len(self.scale), count)) * np.sqrt(self.area)
        return np.asarray(self.scale[:, None] * self.factor.solve(noise))


def _make(graph: CellGraph, system: _System, range_m: float, check: Check) -> WallKernel:
    area = graph.cell_area_m2
    shift = 8.0 / range_m**2 * area
    with one_thread():
        factor = BorderedFactor(system.layout, system.laplacian + shift * system.identity, check)
        variance = area * factor.squared_inverse(check)
        flux = factor.solve(graph.wall_faces)
    count = np.bincount(graph.component)
    mean = np.bincount(graph.component, weights=flux) / count
    flux = flux - mean[graph.component]
    sd = np.sqrt(np.bincount(graph.component, weights=flux**2) / count)
    flux = np.divide(flux, sd[graph.component], out=np.zeros_like(flux),
                     where=sd[graph.component] > 1e-12)  # fmt: skip
    return WallKernel(range_m, factor, area, 1.0 / np.sqrt(variance), flux)
