"""Hatches as tiles that repeat, so that a zone is filled in one go at any scale."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QBrush, QImage, QPainter, QPainterPath, QPen

from hgmap.desktop.stamps import colour
from hgmap.report.drawing import Hatch

_LONGEST_TILE: Final = 512


class Tile(NamedTuple):
    """A brush that repeats every ``size`` px, and the period of its lines (px)."""

    brush: QBrush
    size: int
    period: float


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
    # lines run along x + y and y - x, each modulo the period
    falls = (anchor[0] + anchor[1]) % tile.period
    rises = (anchor[1] - anchor[0]) % tile.period
    painter.setBrushOrigin(QPointF(round((falls - rises) / 2.0), round((falls + rises) / 2.0)))
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
    painter.setPen(QPen(colour(hatch.colour), hatch.width_pt * px_per_pt))
    reach = 2.0 * size
    for number in range(-count, 2 * count + 1):
        along = number * period
        painter.drawLine(QLineF(along - reach, reach, along + reach, -reach))
        if hatch.name == "cross":
            painter.drawLine(QLineF(-reach, along - reach, reach, along + reach))
    painter.end()
    return Tile(QBrush(image), size, period)


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
