"""How fine the cells are that carry a covariance."""

from __future__ import annotations

from typing import Final

from hgmap.field.raster import fitting_cell
from hgmap.site.building import Floor

KERNEL_STEP_M: Final = 0.2
COARSEST_STEP_M: Final = 0.5
MOST_KERNEL_CELLS: Final = 40_000
"""Cells of the kernel, inside and out, above which its step grows."""

MOST_KERNEL_ENTRIES: Final = 20_000_000
"""Cells times places of the kernel above which its step grows (160 MB an array, of which about
eight are held at once)."""


def kernel_step(floor: Floor, cell_m: float, places: int = 0) -> float:
    """Return the step (m) of the cells that carry the covariance.

    0.2 m; up to 0.5 m where coarser cells are asked for; or what fits, with so many places where
    their covariances with the cells are held.
    """
    wanted = min(max(KERNEL_STEP_M, cell_m), COARSEST_STEP_M)
    most = min(MOST_KERNEL_CELLS, MOST_KERNEL_ENTRIES // max(places, 1))
    return max(wanted, fitting_cell(floor, most))
