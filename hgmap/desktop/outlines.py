"""Shapes as Qt's paths, a whole path in one read instead of a call for each corner."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from PySide6.QtCore import QByteArray, QDataStream
from PySide6.QtGui import QPainterPath
from shapely.geometry.base import BaseGeometry

_ELEMENT: Final = np.dtype([("kind", ">i4"), ("x", ">f8"), ("y", ">f8")])
"""How Qt's data stream writes one corner of a path: 0 moves there, 1 draws a line there."""
PIECE: Final = 32
"""Segments stroked in one go: Qt's time grows with the square of what one row of pixels meets."""


class Pieces(NamedTuple):
    """Lines cut into short pieces, for stroking.

    Attributes
    ----------
    paths : list of QPainterPath
    starts : list of float
        Length of the line before each piece, for the phase of its dashes.
    bounds : array of shape (n, 4)
    """

    paths: list[QPainterPath]
    starts: list[float]
    bounds: NDArray[np.float64]


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
    # an array, not a number: numpy drops the byte order of a single number
    head = np.array([count], dtype=">i4").tobytes()
    tail = np.array([0, 0], dtype=">i4").tobytes()
    stream = QDataStream(QByteArray(head + body.tobytes() + tail))
    stream.setVersion(QDataStream.Version.Qt_6_0)
    stream >> path
    return path


def rings_of(shape: BaseGeometry) -> NDArray[np.object_]:
    """Return the rings of polygons; what is no polygon is left out."""
    parts = shapely.get_parts(shape)
    polygons = parts[(shapely.get_type_id(parts) == 3) & ~shapely.is_empty(parts)]
    # the way of the printed sheet's rings, so that dashes begin and run alike
    return np.asarray(shapely.get_rings(shapely.orient_polygons(polygons)))


def lines_of(shape: BaseGeometry) -> NDArray[np.object_]:
    """Return lines and rings; what is neither is left out."""
    parts = shapely.get_parts(shape)
    kinds = shapely.get_type_id(parts)
    return np.asarray(parts[((kinds == 1) | (kinds == 2)) & ~shapely.is_empty(parts)])


def whole_path(lines: NDArray[np.object_]) -> QPainterPath:
    """Return lines as one path, for filling."""
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    first = np.ones(len(owner), dtype=bool)
    first[1:] = owner[1:] != owner[:-1]
    return path_of(corners, first)


def pieces(lines: NDArray[np.object_]) -> Pieces:
    """Return lines in pieces that overlap by a segment, so that every corner is joined."""
    paths: list[QPainterPath] = []
    starts: list[float] = []
    bounds: list[NDArray[np.float64]] = []
    for line in lines:
        corners = shapely.get_coordinates(line)
        if len(corners) < 2:
            continue
        long = len(corners) - 1 > PIECE
        if long and (corners[0] == corners[-1]).all():
            corners = np.vstack([corners, corners[1:2]])
        length = np.zeros(len(corners))
        if long:
            np.cumsum(np.hypot(*np.diff(corners, axis=0).T), out=length[1:])
        for begin in range(0, len(corners) - 1, PIECE):
            part = corners[max(0, begin - 1) : begin + PIECE + 1] if long else corners
            first = np.zeros(len(part), dtype=bool)
            paths.append(path_of(part, first))
            starts.append(float(length[max(0, begin - 1)]))
            bounds.append(np.concatenate([part.min(axis=0), part.max(axis=0)]))
            if not long:
                break
    return Pieces(paths, starts, np.array(bounds).reshape(-1, 4))
