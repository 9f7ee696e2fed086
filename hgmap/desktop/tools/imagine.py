"""A click on the plan puts an imaginary reading there."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt

from hgmap.desktop.tools.tool import PointerEvent, Tool


class ImagineTool(Tool):
    """Tells where the plan was clicked; a drag pans as ever."""

    def __init__(self, put: Callable[[float, float], object], hint: str) -> None:
        self._put = put
        self.hint = hint

    def press(self, event: PointerEvent) -> bool:
        """Take a left click."""
        return event.button == Qt.MouseButton.LeftButton

    def release(self, event: PointerEvent) -> bool:
        """Put the reading where the button came up."""
        self._put(event.x_m, event.y_m)
        return True
