"""The probability of being above the level, as a shade of its own: paper is 0, dark violet is 1."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.decide.exceedance import probability_above
from hgmap.field.surface import Surface
from hgmap.report.drawing import Picture
from hgmap.report.shades import painted_rooms
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel

STOPS: Final = (0.0, 0.05, 0.5, 1.0)
INKS: Final = ((255, 255, 255), (236, 228, 240), (176, 148, 190), (112, 72, 132))
"""From white to violet: no hue of the estimate or of a zone; darker is more probable."""


def probability_of(surface: Surface, level: ActionLevel) -> NDArray[np.float64]:
    """Return the probability of each cell; NaN where no reading reaches."""
    return probability_above(surface, level.concentration)


def probability_rgba(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return RGBA (one more axis of length 4) of probabilities; NaN is transparent."""
    inks = np.array(INKS, dtype=np.float64)
    known = np.nan_to_num(share)
    rgba = np.empty((*share.shape, 4))
    for channel in range(3):
        rgba[..., channel] = np.interp(known, STOPS, inks[:, channel])
    rgba[..., 3] = 255.0 * np.isfinite(share)
    return np.asarray(np.round(rgba), dtype=np.uint8)


def probability_pictures(
    surface: Surface,
    floor: Floor,
    level: ActionLevel,
    mm_per_m: float,
    unknown: BaseGeometry | None = None,
) -> tuple[Picture, ...]:
    """Paint the probability room by room, nothing over ``unknown`` ground."""
    values = probability_of(surface, level)
    return painted_rooms(surface.raster, values, floor, probability_rgba, mm_per_m, unknown)
