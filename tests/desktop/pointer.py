"""A pointer whose moves arrive at once; those of QTest go by the window system and may wait."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QWidget


def move(widget: QWidget, place: QPoint, buttons: Qt.MouseButton = Qt.MouseButton.NoButton) -> None:
    """Move the pointer to a place of a widget, with buttons held down or none."""
    at = QPointF(place)
    event = QMouseEvent(
        QEvent.Type.MouseMove, at, widget.mapToGlobal(at), Qt.MouseButton.NoButton, buttons,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)
