"""Many GeoJSON geometries to shapes and back, by columns: a large plan has a hundred thousand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import mapping

Floats = NDArray[np.float64]


class _OddError(Exception):
    """Something that only a look at each geometry tells."""


def geometries_at_once(
    features: Sequence[Any], *, farthest_m: float
) -> list[shapely.Geometry] | None:
    """Return the geometry of each feature, where all are plain lines and polygons.

    Parameters
    ----------
    features : sequence of object
        As JSON gave them.
    farthest_m : float
        No coordinate of a plain geometry is farther from zero (m).

    Returns
    -------
    list of shapely.Geometry or None
        None where any of them is not plain: of another type, in three dimensions, not closed,
        with a coordinate that is no number. Each is then looked at by itself, and complained of.

    Examples
    --------
    >>> line = {"geometry": {"type": "LineString", "coordinates": [[0, 0], [2, 0.5]]}}
    >>> geometries_at_once([line], farthest_m=1e8)
    [<LINESTRING (0 0, 2 0.5)>]
    >>> print(geometries_at_once([line, {"geometry": None}], farthest_m=1e8))
    None
    """
    lines: list[Any] = []
    rings: list[Any] = []
    ring_of: list[int] = []
    polygons: list[int] = []
    try:
        for number, feature in enumerate(features):
            drawn = feature["geometry"]
            coordinates = drawn["coordinates"]
            if drawn["type"] == "LineString":
                lines.append(coordinates)
            elif drawn["type"] == "Polygon" and coordinates:
                ring_of += [len(polygons)] * len(coordinates)
                rings += coordinates
                polygons.append(number)
            else:
                return None
        made = np.empty(len(features), dtype=object)
        is_line = np.ones(len(features), dtype=bool)
        is_line[polygons] = False
        made[is_line] = _lines(lines, farthest_m)
        made[polygons] = _polygons(rings, np.array(ring_of, dtype=np.intp), farthest_m)
    except (KeyError, TypeError, ValueError, OverflowError, _OddError, shapely.errors.ShapelyError):
        return None
    return list(made.tolist())


def geojson_of(shapes: Iterable[shapely.Geometry], *, decimals: int) -> list[dict[str, Any]]:
    """Return shapes as GeoJSON geometries in two dimensions, rounded.

    Examples
    --------
    >>> geojson_of([shapely.LineString([(-0.001, 0), (2, 0.26)])], decimals=1)
    [{'type': 'LineString', 'coordinates': [[0.0, 0.0], [2.0, 0.3]]}]
    """
    drawn = np.array(list(shapes), dtype=object)
    drawn = shapely.transform(drawn, lambda xy: np.round(xy, decimals) + 0.0)  # no -0.0
    kind = np.where(shapely.is_empty(drawn), -1, shapely.get_type_id(drawn))
    is_line = kind == shapely.GeometryType.LINESTRING
    of_lines = iter(_by_owner(*shapely.get_coordinates(drawn[is_line], return_index=True)))
    is_polygon = kind == shapely.GeometryType.POLYGON
    rings, owner = shapely.get_rings(drawn[is_polygon], return_index=True)
    of_rings = _by_owner(*shapely.get_coordinates(rings, return_index=True))
    of_polygons = iter(_by_owner(of_rings, owner))
    found: list[dict[str, Any]] = []
    for shape, line, polygon in zip(drawn, is_line.tolist(), is_polygon.tolist(), strict=True):
        if line:
            found.append({"type": "LineString", "coordinates": next(of_lines)})
        elif polygon:
            found.append({"type": "Polygon", "coordinates": next(of_polygons)})
        else:
            found.append(mapping(shape))
    return found


def _by_owner(rows: Floats | list[Any], owner: NDArray[np.intp]) -> list[Any]:
    """Split rows where their owner changes."""
    starts = np.flatnonzero(np.diff(owner, prepend=-1)).tolist()
    rows = rows if isinstance(rows, list) else rows.tolist()
    ends = [*starts, len(rows)][1:]
    return [rows[a:b] for a, b in zip(starts, ends, strict=True)]


def _lines(lines: Sequence[Any], farthest_m: float) -> NDArray[np.object_]:
    if not lines:
        return np.empty(0, dtype=object)
    coordinates, owner, _ = _rows(lines, farthest_m)
    found: NDArray[np.object_] = shapely.linestrings(coordinates, indices=owner)
    return found


def _polygons(
    rings: Sequence[Any], ring_of: NDArray[np.intp], farthest_m: float
) -> NDArray[np.object_]:
    if not rings:
        return np.empty(0, dtype=object)
    coordinates, owner, starts = _rows(rings, farthest_m)
    ends = np.append(starts[1:], len(coordinates)) - 1
    if (coordinates[starts] != coordinates[ends]).any():
        raise _OddError
    found: NDArray[np.object_] = shapely.polygons(
        shapely.linearrings(coordinates, indices=owner), indices=ring_of
    )
    return found


def _rows(parts: Sequence[Any], farthest_m: float) -> tuple[Floats, NDArray[np.intp], Any]:
    """Return all coordinates, the part of each, and where each part begins."""
    lengths = np.array([len(part) for part in parts], dtype=np.intp)
    coordinates = np.array([place for part in parts for place in part])
    plain = coordinates.ndim == 2 and coordinates.shape[1] == 2 and coordinates.dtype.kind in "fi"
    # what is not finite is not less either
    if not plain or not lengths.all() or not (np.abs(coordinates) <= farthest_m).all():
        raise _OddError
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    owner = np.repeat(np.arange(len(parts)), lengths)
    return coordinates.astype(np.float64), owner, starts
