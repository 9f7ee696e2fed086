"""Traces a room corner by corner; the outline stays until its name is known."""

from __future__ import annotations

from typing import ClassVar

from hgmap.desktop.tools.places_tool import PlacesTool
from hgmap.desktop.words import tr


class TraceRoom(PlacesTool):
    """Click its corners; the first one, or Enter, closes it."""

    closes: ClassVar[bool] = True
    waits: ClassVar[bool] = True
    least: ClassVar[int] = 3

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr(
            "Click corners, or type a length and an arrow key. Enter closes; Backspace takes back; "
            "Ctrl: free; Esc: give up."
        )
