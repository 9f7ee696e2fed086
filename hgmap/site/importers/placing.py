"""From a file's coordinates to the floor's own metres, in the one map frame of its site."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pyproj
from numpy.typing import NDArray

from hgmap.errors import PlanError, SiteError
from hgmap.site.georef import (
    TRUE_SCALE,
    WGS84,
    check_map_crs,
    into_frame,
    local_frame_at,
    looks_like_degrees,
    stretch_at,
)
from hgmap.site.map_frame import MapFrame

Units = Literal["lonlat", "metres"]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Placing:
    """How coordinates become local metres.

    Attributes
    ----------
    convert : callable
        From an array of shape (n, 2) in the file's units to one in local metres.
    frame : MapFrame or None
        The map frame of those metres; None where nobody has said where the plan lies.
    """

    convert: Callable[[NDArray[np.float64]], NDArray[np.float64]]
    frame: MapFrame | None


def choose_placing(
    bounds: Bounds,
    source: pyproj.CRS | None,
    *,
    site_frame: MapFrame | None,
    other_floors: bool,
    file: str,
) -> Placing:
    """Choose the frame, and how to get there.

    Parameters
    ----------
    bounds : tuple of 4 float
        West, south, east, north of the rooms as written in the file.
    source : pyproj.CRS or None
        What :func:`source_crs` found.
    site_frame : MapFrame or None
        The frame that the site has already.
    other_floors : bool
        Whether the site has floors that would get a place on the map through a new frame.

    Raises
    ------
    PlanError
        If a new frame would put the site's other floors at a wrong place, the site's frame is not
        true to scale here, or the coordinates lie outside the named system.
    """
    if source is None:
        return Placing(_as_metres, site_frame)
    west, south, east, north = bounds
    to_degrees = pyproj.Transformer.from_crs(source, WGS84, always_xy=True)
    lon, lat = to_degrees.transform((west + east) / 2, (south + north) / 2)
    if not math.isfinite(lon) or not math.isfinite(lat):
        raise PlanError(
            f"its coordinates lie outside {_crs_text(source)}", where=file, todo="check --crs"
        )
    if site_frame is not None:
        stretch = stretch_at(pyproj.CRS.from_user_input(site_frame.crs), lon, lat)
        if not abs(stretch - 1) <= TRUE_SCALE:
            raise PlanError(
                f"the site's [map_frame] {site_frame.crs} makes 1 m here {stretch:.3f} m long",
                where=file,
                todo="give the site a frame that is true to scale where the building stands",
            )
        frame = site_frame
    elif other_floors:
        raise PlanError(
            "it has a place on the map and the site's other floors have none",
            where=file,
            todo="import it into a new site, or write [map_frame] into site.toml first",
        )
    elif source.is_projected and abs(stretch_at(source, lon, lat) - 1) <= TRUE_SCALE:
        frame = MapFrame(_crs_text(source), float(math.floor(west)), float(math.floor(south)))
    else:
        frame = local_frame_at(round(lon, 5), round(lat, 5))
    return Placing(into_frame(frame, source), frame)


def source_crs(
    bounds: Bounds, *, units: Units | None, crs: str | None, member: object, file: str
) -> pyproj.CRS | None:
    """Tell what the file's coordinates are: a CRS, or None for metres of nobody's map.

    An argument outweighs the file's own ``crs`` member, and that outweighs the looks of the
    coordinates; but a member that says degrees is only believed where they look so, since many
    programs write it into every file.

    Raises
    ------
    PlanError
        If what is said contradicts itself or the coordinates.
    SiteError
        If a system named is unknown or not in metres.
    """
    if units not in (None, "lonlat", "metres"):
        raise PlanError(f"{units!r} is not lonlat or metres", where="--units")
    west, south, east, north = bounds
    on_globe = max(-west, east) <= 180 and max(-south, north) <= 90
    if units == "lonlat" and not on_globe:
        raise PlanError(
            f"its coordinates are no degrees: x from {west:g} to {east:g}, y from {south:g} to "
            f"{north:g}",
            where=file,
            todo="leave --units lonlat out, or say --units metres",
        )
    said = crs if crs is not None else (None if units else _member_name(member))
    named = _parse_crs(said, where="--crs" if crs is not None else f"{file}, crs")
    if named is not None and named.is_geographic and crs is not None:
        if units == "metres" or not on_globe:
            raise PlanError(f"{crs} is in degrees and the coordinates are in metres", where=file)
        return named
    if named is not None and not named.is_geographic:
        assert said is not None
        check_map_crs(said, where="--crs" if crs is not None else f"{file}, crs")
        if units == "lonlat" or (units is None and on_globe and _is_degrees(bounds)):
            raise PlanError(
                f"its coordinates are in degrees and {said} is in metres",
                where=file,
                todo="leave --crs out for longitude and latitude",
            )
        return named
    if units is None and not looks_like_degrees(bounds, where=file):
        return None
    if units == "metres":
        return _projected_or_none(_member_name(member))
    return named if named is not None else WGS84


def _as_metres(coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
    return coordinates


def _is_degrees(bounds: Bounds) -> bool:
    try:
        return looks_like_degrees(bounds, where="")
    except PlanError:
        return False


def _member_name(member: Any) -> str | None:
    """Return the name in the ``crs`` member that GeoJSON had before 2016."""
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    return name if isinstance(name, str) and name.strip() else None


def _parse_crs(text: str | None, *, where: str) -> pyproj.CRS | None:
    if text is None:
        return None
    try:
        return pyproj.CRS.from_user_input(text)
    except pyproj.exceptions.CRSError:
        raise SiteError(
            f"{text[:60]!r} is not a coordinate reference system",
            where=where,
            todo="name the right one: --crs EPSG:25832, or --units lonlat or metres",
        ) from None


def _projected_or_none(name: str | None) -> pyproj.CRS | None:
    try:
        return check_map_crs(name, where="") if name else None
    except SiteError:
        return None


def _crs_text(crs: pyproj.CRS) -> str:
    authority = crs.to_authority()
    return ":".join(authority) if authority else str(crs.to_string())
