"""Which form of the wall-aware estimate costs less: that by covariance, or that by precision."""

from __future__ import annotations

from typing import Final

from hgmap.field.walls import WallField

FACTORS_PER_RANGE: Final = 11
"""Nuggets that the precision form tries for a range, as measured (9 to 13)."""

FACTORS_TO_MIX: Final = 15
"""What mixing the candidates that count costs, in factors."""

SECONDS_PER_CELL: Final = 1e-6
SECONDS_PER_COST: Final = 5e-10
SECONDS_PER_CUBE: Final = 8e-10
SECONDS_PER_COLUMN_CELL: Final = 3e-8
"""Measured on one core: a factor's seconds per cell and per unit of the layout's cost; those of the
covariance form for each range and flux, per cubed reading and per reading and cell. Only their
ratio matters."""


def precision_pays(walls: WallField, readings: int, *, ranges: int, fluxes: int) -> bool:
    """Tell whether the precision form weighs ranges and fluxes sooner than the covariance form.

    Both give the same numbers. On a floor of 25,000 cells in 13 rooms the forms cost the same at
    some 500 readings, on one without rooms at some 800.

    Parameters
    ----------
    walls : WallField
    readings : int
        Places read.
    ranges, fluxes : int
        How many of each are tried.
    """
    cells = len(walls.graph.xy)
    factor = SECONDS_PER_CELL * cells + SECONDS_PER_COST * walls.cost
    by_precision = factor * (FACTORS_PER_RANGE * ranges + FACTORS_TO_MIX)
    column = SECONDS_PER_CUBE * readings**2 + SECONDS_PER_COLUMN_CELL * cells
    return by_precision < ranges * fluxes * readings * column
