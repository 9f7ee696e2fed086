"""A small drawing of our own (mm) as a picture for a label or a table."""

from __future__ import annotations

import math
from typing import Final

import shapely
from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPixmap

from hgmap.desktop.painter import Place, Prepared, paint
from hgmap.report.drawing import PT_PER_MM, Area, Drawing, Item

PX_PER_MM: Final = 96.0 / 25.4


def pixmap_of(drawing: Drawing, width_mm: float, height_mm: float, ratio: float) -> QPixmap:
    """Paint a drawing (mm, up from the lower left corner) on white paper."""
    scale = PX_PER_MM * ratio
    size = QSize(math.ceil(width_mm * scale), math.ceil(height_mm * scale))
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    paint(painter, Prepared(drawing), Place(scale, 0.0, height_mm * scale, scale / PT_PER_MM),
          QRect(QPoint(0, 0), size))  # fmt: skip
    painter.end()
    image.setDevicePixelRatio(ratio)
    return QPixmap.fromImage(image)


def zone_sign(name: str, ratio: float) -> QPixmap:
    """Paint the hatch and outline of a zone as a small piece of it."""
    from hgmap.report.palette import ZONE_LOOKS

    look = ZONE_LOOKS[name]  # type: ignore[index]
    box = shapely.box(0.6, 0.6, 6.4, 3.4)
    items: list[Item] = [] if look.hatch is None else [Area(box, hatch=look.hatch)]
    items.append(Area(box, pen=look.pen))
    return pixmap_of(tuple(items), 7.0, 4.0, ratio)
