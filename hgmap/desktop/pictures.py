"""Pixels of a drawing as Qt's images, painted cell by cell: no shade is mixed that nobody made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QPainterPath


def image_of(rgba: NDArray[np.uint8]) -> QImage:
    """Return pixels of shape (rows, columns, 4), row 0 at the top, as an image of its own."""
    rows, columns = rgba.shape[:2]
    pixels = np.ascontiguousarray(rgba, dtype=np.uint8)
    image = QImage(pixels.data, columns, rows, 4 * columns, QImage.Format.Format_RGBA8888)
    return image.convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)


def paint_picture(
    painter: QPainter,
    image: QImage,
    target: QRectF,
    clip: QPainterPath | None,
    window: QRect,
) -> None:
    """Paint an image into a rectangle (px), nothing outside ``clip``; only what shows is scaled."""
    shown = target & QRectF(window)
    if shown.isEmpty() or image.isNull():
        return
    across, down = image.width() / target.width(), image.height() / target.height()
    source = QRectF(
        (shown.left() - target.left()) * across,
        (shown.top() - target.top()) * down,
        shown.width() * across,
        shown.height() * down,
    )
    if clip is None:
        painter.drawImage(shown, image, source)
        return
    painter.save()
    painter.setClipPath(clip, Qt.ClipOperation.IntersectClip)
    painter.drawImage(shown, image, source)
    painter.restore()
