"""Hatches as tiles that repeat, so that a zone is filled in one go at any scale."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPainter, QPainterPath, QPolygonF

from hgmap.desktop.stamps import colour
from hgmap.report.drawing import Hatch

_LONGEST_TILE: Final = 384


class Tile(NamedTuple):
    """A brush that repeats every ``size`` px, a line through its corners."""

    brush: QBrush
    size: int


def fill_lines(
    painter: QPainter,
    outline: QPainterPath,
    hatch: Hatch,
    px_per_pt: float,
    anchor: tuple[float, float],
) -> None:
    """Hatch an outline (px) with lines, diagonal or crossed.

    ``anchor`` is the pixel that a line goes through: hatches of neighbours meet, and a hatch moves
    with the plan. The lines lie within half a pixel of where paper has them.
    """
    tile = _tile(hatch, px_per_pt)
    column, row = (math.floor(part + 0.5) % tile.size for part in anchor)
    painter.setBrushOrigin(QPointF(column, row))
    painter.fillPath(outline, tile.brush)


@lru_cache(maxsize=256)
def _tile(hatch: Hatch, px_per_pt: float) -> Tile:
    wanted = hatch.spacing_pt * px_per_pt * math.sqrt(2.0)
    size, count = _whole(wanted)
    period = size / count
    image = QImage(size, size, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    # filled, not drawn: Qt draws a line thinner than a pixel now strong, now weak
    ink = colour(hatch.colour)
    half = hatch.width_pt * px_per_pt / math.sqrt(2.0)
    reach = 2.0 * size
    for number in range(-count - 1, 2 * count + 2):
        along = number * period
        _fill_band(painter, ink, along, half, reach, -1.0)
        if hatch.name == "cross":
            _fill_band(painter, ink, along, half, reach, 1.0)
    painter.end()
    return Tile(QBrush(image), size)


def _fill_band(
    painter: QPainter, ink: QColor, along: float, half: float, reach: float, fall: float
) -> None:
    """Fill a band round a line through (along, 0); ``half`` is half its width along x."""
    band = QPainterPath()
    ends = ((-half, -reach), (half, -reach), (half, reach), (-half, reach))
    band.addPolygon(QPolygonF([QPointF(along + side + end, fall * end) for side, end in ends]))
    painter.fillPath(band, ink)


def _whole(period: float) -> tuple[int, int]:
    """Return a number of pixels that is nearly a whole number of periods, and that number."""
    if period >= _LONGEST_TILE / 2:
        return max(1, round(period)), 1
    counts = np.arange(1, int(_LONGEST_TILE / period) + 1)
    lengths = counts * period
    # a tile of some size, or its corners cost more than its fill
    off = np.abs(lengths - np.round(lengths)) / counts + np.where(lengths < 32.0, 1.0, 0.0)
    best = int(np.argmin(off))
    return max(1, round(float(lengths[best]))), int(counts[best])
