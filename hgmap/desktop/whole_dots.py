"""Hatches of dots: whole dots only, as on paper, and thousands of them in one picture."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.desktop.stamps import PHASES, Stamp, colour
from hgmap.report.drawing import Hatch
from hgmap.report.hatching import hatch_dots

_FINE: Final = 8
"""Each pixel of a dot is sampled so often, each way."""


def dots_stamp(
    shape: BaseGeometry,
    hatch: Hatch,
    scale: float,
    px_per_pt: float,
    origin: tuple[float, float],
    anchor: tuple[float, float],
) -> Stamp:
    """Return the dots of a shape as a picture that lies at the whole pixel of the anchor.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
        In the unit of the drawing.
    hatch : Hatch
    scale, px_per_pt : float
        Pixels per unit of the drawing, and per point.
    origin, anchor : tuple of float
        The pixels of the drawing's (0, 0), and of a dot of the pattern.
    """
    to_pt = scale / px_per_pt
    shift = ((origin[0] - anchor[0]) / px_per_pt, (anchor[1] - origin[1]) / px_per_pt)
    area = affinity.affine_transform(shape, (to_pt, 0.0, 0.0, to_pt, *shift))
    dots = hatch_dots(area, hatch) * (px_per_pt, -px_per_pt)
    if not len(dots):
        return Stamp(QImage(), 0, 0)
    dots += np.array(anchor) - np.floor(anchor)
    return _scattered(dots, hatch, px_per_pt)


def _scattered(dots: NDArray[np.float64], hatch: Hatch, px_per_pt: float) -> Stamp:
    masks = _masks(hatch.width_pt * px_per_pt)
    side = masks.shape[-1]
    fine = np.round(dots * PHASES).astype(np.int64)
    whole, phase = fine // PHASES, fine % PHASES
    reach = side // 2
    left, top = (whole.min(axis=0) - reach).tolist()
    wide, high = (whole.max(axis=0) - (left, top) + side - reach).tolist()
    corner = (whole[:, 1] - reach - top) * wide + (whole[:, 0] - reach - left)
    inside = np.arange(side)[:, None] * wide + np.arange(side)
    places = corner[:, None, None] + inside
    weights = masks[phase[:, 1], phase[:, 0]].ravel()
    ink = colour(hatch.colour)
    cover = np.minimum(np.bincount(places.ravel(), weights, wide * high), 1.0)
    # in memory a pixel is blue, green, red, alpha: little-endian, as every machine of today
    full = np.array([ink.blue(), ink.green(), ink.red(), 255.0]) * ink.alphaF()
    table = np.round(np.arange(256)[:, None] / 255.0 * full).astype(np.uint8).view(np.uint32)
    pixels = table[(cover * 255.0 + 0.5).astype(np.uint8), 0]
    image = QImage(
        pixels.data, wide, high, 4 * wide, QImage.Format.Format_ARGB32_Premultiplied
    ).copy()
    return Stamp(image, left, top)


@lru_cache(maxsize=64)
def _masks(across: float) -> NDArray[np.float64]:
    """Return how much of each pixel a dot covers, shape (phases down, phases right, side, side)."""
    reach = math.ceil(across / 2.0) + 1
    side = 2 * reach + 1
    samples = (np.arange(side * _FINE) + 0.5) / _FINE - reach
    masks = np.empty((PHASES, PHASES, side, side))
    for down in range(PHASES):
        for right in range(PHASES):
            distance = np.hypot(samples[:, None] - down / PHASES, samples - right / PHASES)
            held = distance <= across / 2.0
            masks[down, right] = held.reshape(side, _FINE, side, _FINE).mean(axis=(1, 3))
    return masks
