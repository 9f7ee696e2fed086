"""What the pointer does on the plan: a tool takes presses, moves and keys before the canvas."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from hgmap.report.drawing import Drawing


@dataclass(frozen=True, slots=True)
class PointerEvent:
    """Where the pointer is and what it holds.

    Attributes
    ----------
    x_m, y_m : float
        On the plan (m).
    x_px, y_px : float
        On the widget (logical px).
    button : Qt.MouseButton
        The button that changed; ``NoButton`` for a move.
    modifiers : Qt.KeyboardModifier
    m_per_px : float
        Length on the plan of one logical pixel (m): to say how near is near.
    """

    x_m: float
    y_m: float
    x_px: float
    y_px: float
    button: Qt.MouseButton
    modifiers: Qt.KeyboardModifier
    m_per_px: float


class Tool:
    """A tool that does nothing; each method says whether the event was the tool's.

    What a tool does not take, the canvas does: a drag pans, a key pans and zooms.
    """

    cursor: Qt.CursorShape = Qt.CursorShape.CrossCursor
    hint: str = ""
    """One line on what to do next, shown to the user."""

    def press(self, event: PointerEvent) -> bool:
        """Take a button that went down."""
        return False

    def move(self, event: PointerEvent) -> bool:
        """Take a move of the pointer, with or without a button."""
        return False

    def release(self, event: PointerEvent) -> bool:
        """Take a button that came up; only asked where the press was taken."""
        return False

    def key(self, event: QKeyEvent) -> bool:
        """Take a key that went down."""
        return False

    def cancel(self) -> None:
        """Give up what is half done; the tool stays in hand."""

    def overlay(self) -> Drawing:
        """Return what lies over the plan while the tool is in hand (m)."""
        return ()
