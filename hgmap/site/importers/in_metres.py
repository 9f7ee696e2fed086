"""The parts of a drawing in the metres of a floor's own frame."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import FARTHEST_DRAWN_M, Drawing, Part
from hgmap.site.importers.placing import Bounds, choose_placing
from hgmap.site.map_frame import MapFrame
from hgmap.site.plan import FARTHEST_M, LONGEST_BUILDING_M, check_span

Shift = tuple[float, float]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Placed:
    """Drawings in metres.

    Attributes
    ----------
    parts : tuple of (tuple of Part)
        Of each drawing.
    frame : MapFrame or None
        The map frame of those metres.
    shift_m : tuple of float or None
        What was taken off every x and y (m); None where nothing was.
    """

    parts: tuple[tuple[Part, ...], ...]
    frame: MapFrame | None
    shift_m: Shift | None = None


def place_drawings(
    drawings: Sequence[Drawing],
    *,
    site_frame: MapFrame | None,
    other_floors: bool,
    shift_m: Shift | None = None,
    any_span: bool = False,
) -> Placed:
    """Bring the storeys of one file into one frame.

    Parameters
    ----------
    drawings : sequence of Drawing
        Storeys of one file, in the same system.
    site_frame : MapFrame or None
        The frame that the site has already.
    other_floors : bool
        Whether the site has other floors.
    shift_m : tuple of float, optional
        What was taken off the other floors' coordinates, where these were far out.
    any_span : bool
        Whether it may be larger than a building, because somebody has said what the units are.

    Raises
    ------
    PlanError
        If the coordinates are out of every map, or span more than a building.
    """
    first = drawings[0]
    placing = choose_placing(
        bounds_of(drawings), first.crs, site_frame=site_frame, other_floors=other_floors,
        file=first.file,
    )  # fmt: skip
    shift = None
    if first.crs is None:
        west, south, east, north = (one * first.metres_per_unit for one in bounds_of(drawings))
        shift = _shift((west, south, east, north), shift_m, file=first.file)
    off = np.array(shift or (0.0, 0.0))

    def placed(one: Drawing) -> tuple[Part, ...]:
        return _moved(one, lambda xy: placing.convert(xy) * one.metres_per_unit - off)

    parts = tuple(placed(one) for one in drawings)
    if not any_span:
        for one in parts:
            west, south, east, north = _bounds(one)
            check_span(max(east - west, north - south), where=first.file)
    return Placed(parts, placing.frame, shift)


def _moved(drawing: Drawing, convert: Callable[[Floats], Floats]) -> tuple[Part, ...]:
    """Return the parts of a drawing, all of their coordinates converted at once."""
    drawn = np.array([one.geometry for one in drawing.parts], dtype=object)
    shapes = shapely.transform(drawn, convert)
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    outside = owner[~np.isfinite(coordinates).all(axis=1)]
    if len(outside):
        raise PlanError(
            f"{drawing.parts[outside[0]].label}: a corner lies outside the map",
            where=drawing.file, todo="check --crs",
        )  # fmt: skip
    return tuple(
        replace(one, geometry=shape)
        for one, shape in zip(drawing.parts, shapes.tolist(), strict=True)
    )


def bounds_of(drawings: Sequence[Drawing]) -> Bounds:
    """Return west, south, east, north of the rooms, or of all that is drawn where there is none."""
    return _bounds([part for one in drawings for part in one.parts])


def _bounds(parts: Sequence[Part]) -> Bounds:
    rooms = [one for one in parts if one.role == "room"]
    drawn = rooms or [one for one in parts if one.role != "text"] or parts
    west, south, east, north = shapely.total_bounds([one.geometry for one in drawn])
    return float(west), float(south), float(east), float(north)


def _shift(bounds: Bounds, before: Shift | None, *, file: str) -> Shift | None:
    """Return what to take off where it lies farther out than a plan may; whole hundreds of metres.

    It is the same as was taken off the site's other floors, where that brings it near.
    """
    west, south, east, north = bounds
    farthest = max(map(abs, bounds))
    if farthest <= FARTHEST_M:  # as given: readings may be written in the same coordinates
        return None
    if not farthest <= FARTHEST_DRAWN_M:
        raise PlanError(
            f"it lies {farthest:g} m from its origin",
            where=file,
            todo="move the drawing nearer to it, or check its unit",
        )
    if before is not None:
        x, y = before
        off = (abs(west - x), abs(south - y), abs(east - x), abs(north - y))
        if max(off) <= LONGEST_BUILDING_M:
            return before
    return math.floor(west / 100) * 100.0, math.floor(south / 100) * 100.0


def said_crs(drawing: Drawing, crs: str | None) -> Drawing:
    """Return a drawing whose metres are those of a named system, where the file names none.

    Raises
    ------
    PlanError
        If the file says another.
    SiteError
        If it is not a projected system in metres.
    """
    from hgmap.site.georef import check_map_crs

    if crs is None or drawing.crs is not None:
        if crs is not None and drawing.crs != pyproj.CRS.from_user_input(crs):
            raise PlanError(
                f"the file says {drawing.crs.name if drawing.crs else ''}, not {crs}",
                where=f"{drawing.file}, --crs", todo="leave --crs out",
            )  # fmt: skip
        return drawing
    named = check_map_crs(crs, where="--crs")
    metres = drawing.metres_per_unit
    parts = _moved(drawing, lambda xy: xy * metres)
    return replace(drawing, parts=parts, crs=named, metres_per_unit=1.0)
