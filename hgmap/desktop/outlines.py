"""Shapes as Qt's paths, a whole path in one read instead of a call for each corner."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from PySide6.QtCore import QByteArray, QDataStream
from PySide6.QtGui import QPainterPath
from shapely.geometry.base import BaseGeometry

_ELEMENT: Final = np.dtype([("kind", ">i4"), ("x", ">f8"), ("y", ">f8")])
"""How Qt's data stream writes one corner of a path: 0 moves there, 1 draws a line there."""


def path_of(corners: NDArray[np.float64], first: NDArray[np.bool_]) -> QPainterPath:
    """Return a path through corners.

    Parameters
    ----------
    corners : array of shape (n, 2)
    first : array of shape (n,)
        True where a new part begins.

    Returns
    -------
    QPainterPath
        Filled by the odd-even rule.
    """
    path = QPainterPath()
    count = len(corners)
    if count == 0:
        return path
    body = np.empty(count, dtype=_ELEMENT)
    body["kind"] = np.where(first, 0, 1)
    body["kind"][0] = 0
    body["x"], body["y"] = corners[:, 0], corners[:, 1]
    head = np.array([count], dtype=">i4").tobytes()
    tail = np.array([0, 0], dtype=">i4").tobytes()
    stream = QDataStream(QByteArray(head + body.tobytes() + tail))
    stream.setVersion(QDataStream.Version.Qt_6_0)
    stream >> path
    return path


def area_path(shape: BaseGeometry) -> QPainterPath:
    """Return the rings of polygons; what is no polygon is left out."""
    parts = shapely.get_parts(shape)
    polygons = parts[(shapely.get_type_id(parts) == 3) & ~shapely.is_empty(parts)]
    # the way of the printed sheet's rings, so that dashes begin and run alike
    return _path(shapely.get_rings(shapely.orient_polygons(polygons)))


def line_path(shape: BaseGeometry) -> QPainterPath:
    """Return lines and rings; what is neither is left out."""
    parts = shapely.get_parts(shape)
    kinds = shapely.get_type_id(parts)
    return _path(parts[((kinds == 1) | (kinds == 2)) & ~shapely.is_empty(parts)])


def _path(lines: NDArray[np.object_]) -> QPainterPath:
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    first = np.ones(len(owner), dtype=bool)
    first[1:] = owner[1:] != owner[:-1]
    return path_of(corners, first)
