"""The plan in the window, moved, enlarged and pointed at; nothing is decided here."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import (
    QEnterEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from hgmap.desktop.plan_widget import PlanWidget
from hgmap.desktop.prepared import Prepared
from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.desktop.words import tr

STEP: Final = 1.25
"""Factor of one step of zoom."""
_PAN_PX: Final = 64.0
_CLICK_PX: Final = 4.0
_ARROWS: Final = {
    Qt.Key.Key_Left: (1.0, 0.0),
    Qt.Key.Key_Right: (-1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}


class Canvas(PlanWidget):
    """A plan that takes pointer and keys, and gives them first to the tool in hand."""

    cursor_moved = Signal(float, float)
    """Where the pointer is on the plan (m)."""
    cursor_left = Signal()
    clicked = Signal(float, float)
    """A click that no tool took (m)."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Plan"))
        self.setAccessibleDescription(tr(
            "The plan of the floor. Arrow keys move it, plus and minus change its size, 0 shows "
            "all of it. The tables beside it say the same in words."
        ))  # fmt: skip
        self._tool: Tool | None = None
        self._tool_overlay = Prepared()
        self._pressed: QPointF | None = None
        self._pan_from: QPointF | None = None
        self._taken = False
        self._space = False
        self._show_cursor()

    def set_tool(self, tool: Tool | None) -> None:
        """Take a tool in hand; what the last one had half done is given up."""
        if self._tool is not None and tool is not self._tool:
            self._tool.cancel()
        self._tool = tool
        self._taken = False
        self._show_cursor()
        self.update()

    @property
    def tool(self) -> Tool | None:
        """The tool in hand."""
        return self._tool

    def _tops(self) -> tuple[Prepared, ...]:
        if self._tool is None:
            return super()._tops()
        drawing = self._tool.overlay()
        if drawing is not self._tool_overlay.drawing:
            self._tool_overlay = Prepared(drawing)
        return (*super()._tops(), self._tool_overlay)

    # pointer and keys

    def _pointer(self, event: QMouseEvent) -> PointerEvent:
        place = event.position()
        x, y = self.to_plan(place)
        return PointerEvent(
            x, y, place.x(), place.y(), event.button(), event.modifiers(), 1.0 / self.px_per_m
        )

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Let the tool take it; else begin to pan."""
        self._pressed = event.position()
        middle = event.button() == Qt.MouseButton.MiddleButton
        left = event.button() == Qt.MouseButton.LeftButton
        if middle or (left and self._space):
            self._begin_pan(event)
        elif self._tool is not None and self._tool.press(self._pointer(event)):
            self._taken = True
            self.update()
        elif left:
            self._begin_pan(event)

    def _begin_pan(self, event: QMouseEvent) -> None:
        self._pan_from = event.position()
        self._show_cursor()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Pan, or tell the tool; say where the pointer is."""
        place = event.position()
        if self._pan_from is not None:
            self._drag(place)
        elif self._tool is not None and self._tool.move(self._pointer(event)):
            self.update()
        self.cursor_moved.emit(*self.to_plan(place))

    def _drag(self, place: QPointF) -> None:
        start = self._pan_from
        if start is None:
            return
        if self._pressed is not None:
            if (place - self._pressed).manhattanLength() < _CLICK_PX:
                return
            self._pressed = None
        # what is rounded off stays to be moved next time
        before = self.to_widget(0.0, 0.0)
        self.pan_by(place.x() - start.x(), place.y() - start.y())
        self._pan_from = start + (self.to_widget(0.0, 0.0) - before)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """End the pan, or tell the tool; a press that went nowhere is a click."""
        still, self._pressed = self._pressed is not None, None
        if self._taken:
            self._taken = False
            if self._tool is not None:
                self._tool.release(self._pointer(event))
            self.update()
        elif self._pan_from is not None:
            self._pan_from = None
            self._show_cursor()
            if still and event.button() == Qt.MouseButton.LeftButton and not self._space:
                self.clicked.emit(*self.to_plan(event.position()))

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        """Enlarge about the pointer."""
        steps = event.angleDelta().y() / 120.0
        if steps:
            self.zoom_by(STEP**steps, event.position())
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Enlarge by a pinch on a touch pad; all else as ever."""
        if (
            isinstance(event, QNativeGestureEvent)
            and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture
        ):
            self.zoom_by(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Let the tool take it; else pan, enlarge, show all, give up."""
        if self._tool is not None and self._tool.key(event):
            self.update()
            return
        key = event.key()
        if key in _ARROWS:
            across, down = _ARROWS[Qt.Key(key)]
            self.pan_by(across * _PAN_PX, down * _PAN_PX)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_by(STEP)
        elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore):
            self.zoom_by(1.0 / STEP)
        elif key in (Qt.Key.Key_0, Qt.Key.Key_Home):
            self.fit()
        elif key == Qt.Key.Key_Space:
            self._space = True
            self._show_cursor()
        elif key == Qt.Key.Key_Escape and self._tool is not None:
            self._taken = False
            self._tool.cancel()
            self.update()
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Space is up: a drag is the tool's again."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._show_cursor()
        else:
            super().keyReleaseEvent(event)

    def _show_cursor(self) -> None:
        if self._pan_from is not None:
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        elif self._space or self._tool is None:
            self.setCursor(Qt.CursorShape.OpenHandCursor)
        else:
            self.setCursor(self._tool.cursor)

    def enterEvent(self, event: QEnterEvent) -> None:  # noqa: N802
        """Say where the pointer came in."""
        self.cursor_moved.emit(*self.to_plan(event.position()))

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802
        """Say that the pointer points at nothing any more."""
        self.cursor_left.emit()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """Draw the ring."""
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        """Take the ring away; nobody will tell when space comes up."""
        self._space = False
        self._show_cursor()
        self.update()
