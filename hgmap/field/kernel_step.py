"""How fine the cells are that carry a covariance."""

from __future__ import annotations

from typing import Final

from hgmap.field.raster import fitting_cell
from hgmap.site.model import Floor

KERNEL_STEP_M: Final = 0.2
COARSEST_STEP_M: Final = 0.5
MOST_KERNEL_CELLS: Final = 40_000
"""Cells of the kernel, inside and out, above which its step grows."""


def kernel_step(floor: Floor, cell_m: float) -> float:
    """Return the step (m) of the cells that carry the covariance.

    0.2 m; up to 0.5 m where coarser cells are asked for; or what fits.
    """
    wanted = min(max(KERNEL_STEP_M, cell_m), COARSEST_STEP_M)
    return max(wanted, fitting_cell(floor, MOST_KERNEL_CELLS))
