"""What a person types while drawing: a length, or a place as two numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from hgmap.desktop.words import tr
from hgmap.errors import PlanError

DIRECTIONS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}
_LONGEST = 24


@dataclass
class Typed:
    """Digits as they come; a comma is a decimal point, a space parts two numbers."""

    text: str = field(default="")

    def take(self, event: QKeyEvent) -> bool:
        """Take a key that belongs to a number; tell whether it did."""
        if event.modifiers() & ~(
            Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.ShiftModifier
        ):
            return False
        key = event.text()
        if key.isascii() and key.isdigit():
            pass
        elif key in (".", ","):
            key = "."
        elif key == " " and self.text:
            key = "" if self.text.endswith(" ") or " " in self.text.strip() else " "
        elif key == "-" and (not self.text or self.text.endswith(" ")):
            pass
        else:
            return False
        if len(self.text) < _LONGEST:
            self.text += key
        return True

    def back(self) -> bool:
        """Take the last character away; tell whether there was one."""
        there, self.text = bool(self.text), self.text[:-1]
        return there

    def numbers(self) -> list[float]:
        """Return one number or two.

        Raises
        ------
        PlanError
            If that is not what stands there.
        """
        try:
            found = [float(one) for one in self.text.split()]
        except ValueError:
            found = []
        if not 1 <= len(found) <= 2 or not all(map(math.isfinite, found)):
            raise PlanError(
                tr("{text!r} is no length", text=self.text), todo=tr("type metres, such as 3.25")
            )
        return found

    def length(self) -> float | None:
        """Return the one number above 0 that stands there, if that is so by now."""
        try:
            found = self.numbers()
        except PlanError:
            return None
        return found[0] if len(found) == 1 and found[0] > 0 else None
