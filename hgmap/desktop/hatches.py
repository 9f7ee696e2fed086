"""Hatches as tiles that repeat, so that a zone is filled in one go at any scale."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QBrush, QImage, QPainter, QPainterPath

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
    half = hatch.width_pt * px_per_pt / math.sqrt(2.0)
    middles = np.arange(-count - 1.0, 2.0 * count + 2.0) * period
    across = np.arange(size)[None, :]
    down = np.arange(size)[:, None]
    # a pixel's share under the bands depends on x + y of its corner only (x - y the other way)
    rising = _share(np.arange(2 * size - 1), middles, half)[across + down]
    ink = colour(hatch.colour)
    cover = rising * ink.alphaF()
    if hatch.name == "cross":
        falling = _share(np.arange(-size, size - 1), middles, half)[across - down + size - 1]
        cover = 1.0 - (1.0 - cover) * (1.0 - falling * ink.alphaF())
    # in memory a pixel is blue, green, red, alpha: little-endian, as every machine of today
    full = np.array([ink.blue(), ink.green(), ink.red(), 255.0])
    pixels = np.round(cover[:, :, None] * full).astype(np.uint8)
    image = QImage(
        pixels.data, size, size, 4 * size, QImage.Format.Format_ARGB32_Premultiplied
    ).copy()
    return Tile(QBrush(image), size)


def _share(
    corners: NDArray[np.int_], middles: NDArray[np.floating], half: float
) -> NDArray[np.float64]:
    """Return how much of pixels lies in slanted bands.

    Parameters
    ----------
    corners : array of shape (n,)
        The least x + y of each pixel.
    middles : array of shape (m,)
        x + y of the middle of each band; ``half`` is half of its width along x.
    """

    def below(limit: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return the part of a unit square where x + y is below a limit."""
        cut = np.clip(limit, 0.0, 2.0)
        return np.asarray(np.where(cut < 1.0, cut**2 / 2.0, 1.0 - (2.0 - cut) ** 2 / 2.0))

    from_corner = middles[None, :] - corners[:, None]
    held: NDArray[np.floating] = (below(from_corner + half) - below(from_corner - half)).sum(axis=1)
    return np.asarray(np.minimum(held, 1.0))


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
