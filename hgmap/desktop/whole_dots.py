"""Hatches of dots: whole dots only, as on paper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPen
from shapely import affinity

from hgmap.desktop.outlines import path_of
from hgmap.desktop.prepared import Prepared, Seen
from hgmap.desktop.stamps import colour
from hgmap.report.drawing import Hatch
from hgmap.report.hatching import hatch_dots


def paint_dots(
    painter: QPainter,
    prepared: Prepared,
    number: int,
    hatch: Hatch,
    scale: float,
    origin: tuple[float, float],
    anchor: tuple[float, float],
    px_per_pt: float,
    seen: Seen,
) -> None:
    """Fill the shape of an item with dots; ``origin`` is the pixel of the drawing's (0, 0)."""
    shift = (origin[0] - anchor[0], origin[1] - anchor[1])
    dots = _dots(prepared, number, hatch, scale, shift, px_per_pt, seen) + anchor
    pen = QPen(colour(hatch.colour), hatch.width_pt * px_per_pt)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    # a point is a line of no length with round ends
    ends = np.repeat(dots, 2, axis=0)
    ends[1::2, 0] += 1e-3
    painter.strokePath(path_of(ends, np.arange(len(ends)) % 2 == 0), pen)


def _dots(
    prepared: Prepared,
    number: int,
    hatch: Hatch,
    scale: float,
    shift: tuple[float, float],
    px_per_pt: float,
    seen: Seen,
) -> NDArray[np.float64]:
    """Return the dots' pixels from the anchor, shape (n, 2)."""
    shape = prepared.shape(number, scale, seen)
    to_pt = scale / px_per_pt
    area = affinity.affine_transform(
        shape, (to_pt, 0.0, 0.0, to_pt, shift[0] / px_per_pt, -shift[1] / px_per_pt)
    )
    return hatch_dots(area, hatch) * (px_per_pt, -px_per_pt)
