"""The floor's own metres and the map: one projected frame through pyproj, kept with the site."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pyproj
from numpy.typing import NDArray

from hgmap.errors import PlanError, SiteError
from hgmap.site.map_frame import MapFrame

WGS84 = pyproj.CRS.from_epsg(4326)

LONGEST_BUILDING_DEG = 0.1
"""A plan in degrees spans less than this (about 11 km); one in metres spans more."""

TRUE_SCALE = 0.002
"""A map frame may stretch lengths by this share; the usual grids stay below 0.001, while a world
map's metres are 1.4 times too long at 45 degrees of latitude."""


def check_map_crs(text: str, *, where: str) -> pyproj.CRS:
    """Return a projected CRS in metres.

    Raises
    ------
    SiteError
        If pyproj does not know it, or it is in degrees or another unit than the metre.
    """
    try:
        crs = pyproj.CRS.from_user_input(text)
    except pyproj.exceptions.CRSError:
        raise SiteError(
            f"{text!r} is not a coordinate reference system",
            where=where,
            todo="write an EPSG code such as EPSG:25832",
        ) from None
    if not crs.is_projected or any(
        abs(axis.unit_conversion_factor - 1.0) > 1e-12 for axis in crs.axis_info[:2]
    ):
        raise SiteError(
            f"{text!r} is not a projected system in metres",
            where=where,
            todo="choose one; distances in degrees or feet are never mixed with metres",
        )
    return crs


def local_frame_at(lon_deg: float, lat_deg: float) -> MapFrame:
    """Return a transverse Mercator frame (WGS 84, scale 1) centred on a building.

    Within 5 km of its centre the scale is true to 3e-7, so metres on the plan are metres.
    """
    return MapFrame(
        f"+proj=tmerc +lat_0={lat_deg:.7f} +lon_0={lon_deg:.7f} +k=1 +x_0=0 +y_0=0 "
        "+datum=WGS84 +units=m +no_defs +type=crs"
    )


def lonlat_to_local(frame: MapFrame) -> Callable[..., tuple[NDArray[np.float64], ...]]:
    """Return a function from longitude, latitude (degrees, WGS 84) to local x, y (m)."""
    into = into_frame(frame, WGS84)

    def convert(
        lon: NDArray[np.float64], lat: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        x, y = into(np.column_stack([lon, lat])).T
        return x, y

    return convert


def into_frame(
    frame: MapFrame, source: pyproj.CRS
) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Return a function from coordinates in ``source`` (x or longitude first) to local x, y (m).

    It takes and gives arrays of shape (n, 2).
    """
    target = pyproj.CRS.from_user_input(frame.crs)
    if target == source:
        return frame.to_plan
    transformer = pyproj.Transformer.from_crs(source, target, always_xy=True)

    def convert(coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = transformer.transform(coordinates[:, 0], coordinates[:, 1])
        return frame.to_plan(np.column_stack([x, y]))

    return convert


def map_to_lonlat(frame: MapFrame) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Return a function from map coordinates (m, shape (n, 2)) to longitude, latitude (WGS 84).

    The function raises a SiteError where the map's system does not reach.
    """
    source = pyproj.CRS.from_user_input(frame.crs)
    transformer = pyproj.Transformer.from_crs(source, WGS84, always_xy=True)

    def convert(coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        lon, lat = transformer.transform(coordinates[:, 0], coordinates[:, 1])
        turned: NDArray[np.float64] = np.column_stack([lon, lat])
        if not np.isfinite(turned).all():
            raise SiteError(
                f"the plan lies where {frame.crs} has no longitude and latitude",
                where="site.toml, [map_frame]",
                todo="check origin_x_m and origin_y_m",
            )
        return turned

    return convert


def stretch_at(crs: pyproj.CRS, lon: float, lat: float) -> float:
    """Return how long 1 m on the ground is in a projected system, the worse of east and north."""
    geod = pyproj.Geod(ellps="WGS84")
    transformer = pyproj.Transformer.from_crs(WGS84, crs, always_xy=True)
    x, y = transformer.transform(lon, lat)
    lengths = []
    for azimuth_deg in (0.0, 90.0):
        lon_there, lat_there, _ = geod.fwd(lon, lat, azimuth_deg, 100.0)
        x_there, y_there = transformer.transform(lon_there, lat_there)
        lengths.append(math.hypot(x_there - x, y_there - y) / 100.0)
    return max(lengths, key=lambda length: abs(length - 1))


def looks_like_degrees(bounds: tuple[float, float, float, float], *, where: str) -> bool:
    """Tell whether plan coordinates are longitude and latitude, from their span.

    Raises
    ------
    PlanError
        If they could be either: a plan whose span fits neither a building in degrees nor one in
        metres.
    """
    west, south, east, north = bounds
    span = max(east - west, north - south)
    on_globe = west >= -180 and east <= 180 and south >= -90 and north <= 90
    if on_globe and span < LONGEST_BUILDING_DEG:
        return True
    if not on_globe or span >= 1.0:
        return False
    raise PlanError(
        f"the plan spans {span:.3g}: degrees or metres?",
        where=where,
        todo="say --units lonlat or --units metres",
    )
