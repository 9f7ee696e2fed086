"""Whether a map reaches to where the control points say they are, and is true to scale there."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pyproj

from hgmap.errors import SiteError
from hgmap.site.control.points import ControlPoint, places_of
from hgmap.site.georef import TRUE_SCALE, WGS84, stretch_at


def grid_scale_at(
    crs: pyproj.CRS, points: Sequence[ControlPoint], *, where: str
) -> tuple[float, str]:
    """Return how long a metre on the ground is on the map here, and what speaks against the map.

    Raises
    ------
    SiteError
        If the points lie outside the map's system, or it is not true to scale there.
    """
    _, on_map = places_of(points)
    to_degrees = pyproj.Transformer.from_crs(crs, WGS84, always_xy=True)
    lon, lat = to_degrees.transform(*on_map.mean(axis=0))
    inside = math.isfinite(lon) and math.isfinite(lat)
    stretch = stretch_at(crs, lon, lat) if inside else math.nan
    if not math.isfinite(stretch):
        raise SiteError(
            f"the points lie outside {crs.name}",
            where=where,
            todo="check the map's system, and which column is east",
        )
    if abs(stretch - 1.0) > TRUE_SCALE:
        raise SiteError(
            f"{crs.name} makes 1 m here {stretch:.3f} m long",
            where=where,
            todo="choose a system that is true to scale where the building stands, and check "
            "which column is east",
        )
    area = crs.area_of_use
    if area is None or (
        area.south <= lat <= area.north
        and (lon - area.west) % 360.0 <= (area.east - area.west) % 360.0
    ):
        return stretch, ""
    return stretch, (
        f"the points lie at latitude {lat:.4f}°, longitude {lon:.4f}°, outside the area that "
        f"{crs.name} is for"
    )
