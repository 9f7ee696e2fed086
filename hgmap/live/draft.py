"""A first look at a floor while a reading is dragged; it rules on nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.exceedance import exceedance_probability, standardised_excess, working_level
from hgmap.decide.model import FloorEvidence
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface

Floats = NDArray[np.float64]

LABEL: Final = "draft: range and nugget as of the last map; nothing is ruled on"

_AT: Final = np.sinh(np.linspace(-np.arcsinh(1e3), np.arcsinh(1e3), 2001))
"""Standardised excesses of a table, closest where most of the probability is."""


@dataclass(frozen=True)
class Draft:
    """The field with the parameters of the last map; it has no zones, so that nothing is clear.

    Attributes
    ----------
    evidence : FloorEvidence
        What it is made of.
    raster : Raster
    mean, sd : arrays of shape (ny, nx)
        Working scale, as of :class:`hgmap.field.surface.Surface`; NaN where nothing is known.
    probability : array of shape (ny, nx)
        Of being above the level, by this estimate alone.
    scale : str
    surface : Surface
        The estimate itself, for a picture of it; it explains nothing.
    label : str
        To be shown with it.
    """

    evidence: FloorEvidence
    raster: Raster
    mean: Floats
    sd: Floats
    probability: Floats
    scale: Literal["log", "linear"]
    surface: Surface
    label: str = LABEL

    @classmethod
    def of(cls, evidence: FloorEvidence, surface: Surface) -> Draft:
        """Take what may be shown of an estimate that was not weighed."""
        level = working_level(surface, evidence.level.concentration)
        inside = surface.raster.inside
        mean, sd = surface.mean[inside], surface.sd[inside]
        above = exceedance_probability(
            _AT, np.ones(len(_AT)), 0.0, degrees_of_freedom=surface.degrees_of_freedom
        )
        # from a table: to 1e-4, in a tenth of the time
        found = np.interp(standardised_excess(mean, sd, level), _AT, above)
        probability = surface.raster.spread(found)
        light = replace(surface, estimate=None, posterior=None)  # tens of megabytes for a picture
        return cls(
            evidence, surface.raster, surface.mean, surface.sd, probability, surface.scale, light
        )  # fmt: skip
