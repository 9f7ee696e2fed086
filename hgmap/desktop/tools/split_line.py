"""The line between two rounds: dragged, or moved with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from hgmap.desktop.tools.tool import PointerEvent, Tool

NEAR_PX: Final = 14.0
STEP: Final = 0.02
"""Of the width of the floor, for one press of an arrow key; ten times less with Shift."""


class SplitLine(Tool):
    """Holds the place of the line (m), between ``west`` and ``east``."""

    cursor = Qt.CursorShape.SplitHCursor

    def __init__(self, west: float, east: float, moved: Callable[[float], object]) -> None:
        self.west, self.east = west, east
        self.x = (west + east) / 2.0
        self._moved = moved
        self._held = False

    def move_to(self, x: float) -> None:
        """Move the line, no farther than the floor goes."""
        x = min(self.east, max(self.west, x))
        if x != self.x:
            self.x = x
            self._moved(x)

    def press(self, event: PointerEvent) -> bool:
        """Take hold of the line where the pointer is near it."""
        near = abs(event.x_m - self.x) <= NEAR_PX * event.m_per_px
        self._held = near and event.button == Qt.MouseButton.LeftButton
        return self._held

    def move(self, event: PointerEvent) -> bool:
        """Pull it along."""
        if self._held:
            self.move_to(event.x_m)
        return self._held

    def release(self, event: PointerEvent) -> bool:
        """Let it go."""
        held, self._held = self._held, False
        return held

    def key(self, event: QKeyEvent) -> bool:
        """Move it by a step."""
        way = {Qt.Key.Key_Left: -1.0, Qt.Key.Key_Right: 1.0}.get(Qt.Key(event.key()))
        if way is None:
            return False
        fine = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        step = STEP * (0.1 if fine else 1.0) * (self.east - self.west)
        self.move_to(self.x + way * step)
        return True

    def cancel(self) -> None:
        """Let it go where it is."""
        self._held = False
