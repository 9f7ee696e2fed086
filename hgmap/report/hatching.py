"""Hatches as geometry, so that every backend draws the same lines."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import Hatch


def hatch_lines(area: BaseGeometry, hatch: Hatch) -> BaseGeometry:
    """Return the hatch lines inside an area.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        In points, on the page: lines of neighbouring areas with one hatch meet.
    hatch : Hatch
        ``"diagonal"`` (rising to the right) or ``"cross"`` (both ways).

    Returns
    -------
    LineString, MultiLineString or an empty geometry
        In points.
    """
    area = _sound(area)
    if area.is_empty:
        return shapely.MultiLineString()
    west, south, east, north = area.bounds
    step = hatch.spacing_pt * math.sqrt(2.0)
    families = [_family(west, south, east, north, step)]
    if hatch.name == "cross":
        falling = _family(west, -north, east, -south, step)
        falling[:, :, 1] *= -1.0
        families.append(falling)
    # one direction at a time: crossing lines would be broken at every crossing
    parts = [
        part
        for family in families
        for part in shapely.get_parts(
            shapely.intersection(shapely.multilinestrings(shapely.linestrings(family)), area)
        )
        if part.geom_type == "LineString" and not part.is_empty
    ]
    return shapely.MultiLineString(parts)


def hatch_dots(area: BaseGeometry, hatch: Hatch) -> NDArray[np.float64]:
    """Return the centres of the dots inside an area (pt), shape (n, 2); rows are staggered."""
    area = _sound(area)
    if area.is_empty:
        return np.empty((0, 2))
    west, south, east, north = area.bounds
    step, rise = hatch.spacing_pt, hatch.spacing_pt * math.sqrt(3.0) / 2.0
    row = np.arange(math.floor(south / rise), math.ceil(north / rise) + 1)
    column = np.arange(math.floor(west / step) - 1, math.ceil(east / step) + 1)
    x = column[None, :] * step + (row[:, None] % 2) * step / 2.0
    y = np.broadcast_to(row[:, None] * rise, x.shape)
    # whole dots only: a dot cut by the edge reads as a speck
    inner = area.buffer(-hatch.width_pt / 2.0, quad_segs=2)
    shapely.prepare(inner)
    held = shapely.intersects_xy(inner, x, y)
    return np.column_stack([x[held], y[held]])


def _sound(area: BaseGeometry) -> BaseGeometry:
    """Keep what is polygon, and mend it.

    A sliver can lose its validity when it is scaled, and an invalid polygon does not cut: its
    hatch would run over the whole page.
    """
    if not area.is_valid:
        area = shapely.make_valid(area, method="structure", keep_collapsed=False)
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts)


def _family(
    west: float, south: float, east: float, north: float, step: float
) -> NDArray[np.float64]:
    """Lines y = x + c over a box, c a multiple of ``step``; shape (n, 2, 2)."""
    first = math.ceil((south - east) / step)
    last = math.floor((north - west) / step)
    shift = np.arange(first, last + 1) * step
    ends = np.empty((len(shift), 2, 2))
    ends[:, 0, 0], ends[:, 1, 0] = west, east
    ends[:, 0, 1], ends[:, 1, 1] = west + shift, east + shift
    return ends
