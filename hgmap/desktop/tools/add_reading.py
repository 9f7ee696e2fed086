"""A reading that was taken and not written down: click where, then say what was read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import Qt

from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.desktop.words import tr
from hgmap.report.drawing import Dot, Drawing, Pen
from hgmap.report.palette import PAPER
from hgmap.scene.highlight import POINTER

_SIZE_PT: Final = 11.0


class AddReading(Tool):
    """Takes one click and tells where it was (m); the sign stays until it is answered."""

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, ask: Callable[[float, float], object]) -> None:
        self.hint = tr("Click on the plan where the reading was taken.")
        self._ask = ask
        self._drawing: Drawing = ()

    def press(self, event: PointerEvent) -> bool:
        """Take the place of the reading."""
        if event.button != Qt.MouseButton.LeftButton:
            return False
        self.put_sign(event.x_m, event.y_m)
        self._ask(event.x_m, event.y_m)
        return True

    def put_sign(self, x: float, y: float) -> None:
        """Show where it will stand (m)."""
        self._drawing = (
            Dot(x, y, _SIZE_PT, "circle", PAPER, Pen(POINTER, 2.0)),
            Dot(x, y, _SIZE_PT * 0.6, "plus", None, Pen(POINTER, 1.6)),
        )

    def cancel(self) -> None:
        """Forget the place."""
        self._drawing = ()

    def overlay(self) -> Drawing:
        """Return the sign."""
        return self._drawing
