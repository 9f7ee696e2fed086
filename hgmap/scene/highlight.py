"""Signs that point at something on the plan: the reading, room or place that a table names."""

from __future__ import annotations

from typing import Final

from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import Area, Dot, Drawing, Path, Pen
from hgmap.report.palette import PAPER

POINTER: Final = "#00508a"


def place_sign(x: float, y: float) -> Drawing:
    """Draw a double ring round a place (m)."""
    return (
        Dot(x, y, 18.0, "circle", None, Pen(PAPER, 4.6)),
        Dot(x, y, 18.0, "circle", None, Pen(POINTER, 2.2)),
        Dot(x, y, 24.0, "circle", None, Pen(POINTER, 0.9, (2.0, 2.0))),
    )


def shape_sign(shape: BaseGeometry) -> Drawing:
    """Draw a broad line along a room, an opening or a wall."""
    if shape.is_empty:
        return ()
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return (Area(shape, fill=POINTER + "22", pen=Pen(POINTER, 2.4)),)
    if shape.geom_type in ("Point", "MultiPoint"):
        x, y = shape.representative_point().coords[0]
        return place_sign(float(x), float(y))
    return (Path(shape, Pen(PAPER, 6.0)), Path(shape, Pen(POINTER, 3.4)))
