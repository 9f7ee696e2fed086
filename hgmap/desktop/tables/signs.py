"""The signs beside a cell: a square where it holds the reading, a triangle where it cautions."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QGuiApplication, QIcon, QPainter, QPalette, QPixmap, QPolygonF
from PySide6.QtWidgets import QApplication

SIDE_PX = 9


def sign(held: bool) -> QIcon:
    """Return the sign, in the inks of the look that is on: of a cell, and of a chosen one."""
    palette = QGuiApplication.palette()
    icon = QIcon(_picture(held, palette.color(QPalette.ColorRole.BrightText)))
    chosen = _picture(held, palette.color(QPalette.ColorRole.HighlightedText))
    icon.addPixmap(chosen, QIcon.Mode.Selected)
    return icon


def _picture(held: bool, ink: QColor) -> QPixmap:
    app = QGuiApplication.instance()
    ratio = app.devicePixelRatio() if isinstance(app, QApplication) else 1.0
    picture = QPixmap(round(SIDE_PX * ratio), round(SIDE_PX * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _draw(painter, held, ink)
    painter.end()
    return picture


def _draw(painter: QPainter, held: bool, ink: QColor) -> None:
    painter.setPen(ink)
    if held:
        painter.setBrush(ink)
        painter.drawRect(QRectF(1, 1, SIDE_PX - 3, SIDE_PX - 3))
        return
    corners = QPolygonF([QPointF(SIDE_PX / 2, 1), QPointF(SIDE_PX - 1, SIDE_PX - 1),
                         QPointF(1, SIDE_PX - 1)])  # fmt: skip
    painter.drawPolygon(corners)
