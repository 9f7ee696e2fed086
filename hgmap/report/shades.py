"""The estimate as colour: a logarithmic scale of concentration, painted room by room."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface
from hgmap.report.drawing import Picture
from hgmap.report.words import published_per_computed
from hgmap.site.building import Floor

PIXEL_MM: Final = 0.35
"""Size of a printed pixel (mm); between cell centres the estimate is interpolated linearly,
as the contours are."""

_WHITE: Final = 0.6
_GREY: Final = 0.15
"""Shares of white and of the shade's own grey mixed in, so that hatches, outlines and text stand
out from the darkest shade and from the strongest."""

_WIDEST: Final = 1e5
"""Widest ratio of highest to lowest shade; below it everything has the lowest."""


@dataclass(frozen=True, slots=True)
class Shades:
    """Lowest and highest concentration of the scale, in the unit of the level as published."""

    low: float
    high: float

    def place(self, value: float) -> float:
        """Return where a value lies on the scale, 0 to 1."""
        span = math.log(self.high / self.low)
        return min(1.0, max(0.0, math.log(max(value, self.low) / self.low) / span))

    def rgba(self, logarithm: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Paint natural logarithms of concentration (published unit); NaN is transparent.

        Returns an array with one more axis of length 4.
        """
        from matplotlib import colormaps

        share = (logarithm - math.log(self.low)) / math.log(self.high / self.low)
        colours = colormaps["cividis"](np.clip(np.nan_to_num(share), 0.0, 1.0))
        grey = colours[..., :3] @ np.array([0.299, 0.587, 0.114])
        colours[..., :3] += _GREY * (grey[..., None] - colours[..., :3])
        colours[..., :3] = _WHITE + (1.0 - _WHITE) * colours[..., :3]
        colours[..., 3] = np.isfinite(logarithm)
        return np.asarray(np.round(255.0 * colours), dtype=np.uint8)

    def ticks(self, most: int) -> tuple[float, ...]:
        """Return round values on the scale, at most about ``most``."""
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        held: tuple[float, ...] = ()
        for digits in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
            for step in (1, 2, 3):
                held = tuple(
                    value
                    for power in range(first, last + 1, step)
                    for digit in digits
                    if self.low * 0.999 <= (value := digit * 10.0**power) <= self.high * 1.001
                )
                if len(held) <= most or len(digits) > 1:
                    break
            if len(held) <= most:
                break
        return held if len(held) >= 2 else (self.low, self.high)


def shades_of(surface: Surface, evidence: FloorEvidence) -> Shades:
    """Choose the scale: it holds the estimate and, always, the level."""
    factor = published_per_computed(evidence.level)
    held = surface.concentration()[np.isfinite(surface.mean)] * factor
    held = held[held > 0.0]
    level = evidence.level.value
    low = min(float(held.min()) if held.size else level, level / 1.5)
    high = max(float(held.max()) if held.size else level, level * 1.5)
    return Shades(max(low, high / _WIDEST), high)


def pictures(
    surface: Surface,
    floor: Floor,
    shades: Shades,
    factor: float,
    mm_per_m: float,
    unknown: BaseGeometry | None = None,
    seen: BaseGeometry | None = None,
) -> tuple[Picture, ...]:
    """Paint the estimate, each room from its own cells and cut at its own walls.

    Nothing is painted over ``unknown``: a shade there would look like knowledge. ``factor`` takes
    the computing unit to the published one; ``mm_per_m`` is the printed scale. Nothing is
    painted outside ``seen``.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        logarithm = np.log(np.maximum(surface.concentration() * factor, shades.low))
    return painted_rooms(surface.raster, logarithm, floor, shades.rgba, mm_per_m, unknown, seen)


def painted_rooms(
    raster: Raster,
    values: NDArray[np.float64],
    floor: Floor,
    colour: Callable[[NDArray[np.float64]], NDArray[np.uint8]],
    mm_per_m: float,
    unknown: BaseGeometry | None = None,
    seen: BaseGeometry | None = None,
) -> tuple[Picture, ...]:
    """Paint cell values, each room from its own cells and cut at its own walls.

    Parameters
    ----------
    values : array of shape (rows, columns)
        Of the raster's cells; what is not finite is not painted.
    colour : callable
        From values to RGBA, one more axis of length 4.
    mm_per_m : float
        The printed scale.
    unknown : Polygon or MultiPolygon, optional
        Nothing is painted over it.
    seen : Polygon, optional
        Nothing is painted outside it.
    """
    painted = []
    for index, room in enumerate(floor.rooms):
        held = (raster.room_index == index) & np.isfinite(values)
        if not held.any() or (seen is not None and seen.intersection(room.polygon).area <= 0.0):
            continue
        if unknown is not None and unknown.covers(room.polygon):
            continue
        rows, columns = ndimage.find_objects(held.astype(np.uint8))[0]
        window = _filled(values[rows, columns], held[rows, columns])
        shown = room.polygon
        if seen is not None and not seen.covers(shown):
            shown = shown.intersection(seen)
        west, south, east, north = shown.bounds
        shape = [
            int(min(1600, max(2, math.ceil(side * mm_per_m / PIXEL_MM))))
            for side in (north - south, east - west)
        ]
        y = north - (np.arange(shape[0]) + 0.5) * (north - south) / shape[0]
        x = west + (np.arange(shape[1]) + 0.5) * (east - west) / shape[1]
        row = (y - raster.y[rows][0]) / raster.cell_m
        column = (x - raster.x[columns][0]) / raster.cell_m
        grid = np.meshgrid(row, column, indexing="ij")
        between = ndimage.map_coordinates(window, grid, order=1, mode="nearest")
        clip = shown if unknown is None else shown.difference(unknown)
        painted.append(Picture(colour(between), (west, south, east, north), clip))
    return tuple(painted)


def _filled(values: NDArray[np.float64], held: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Carry the nearest cell of the room into the cells that are not the room's."""
    if held.all():
        return values
    row, column = ndimage.distance_transform_edt(~held, return_distances=False, return_indices=True)
    filled: NDArray[np.float64] = values[row, column]
    return filled
