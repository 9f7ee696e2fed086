"""A line of text for the painter: drawn where it begins, not laid out as a block first.

A report has thousands of short lines; laying each out as a block of lines takes as long as drawing
it. What is written into the file is the same, byte for byte (a test holds both side by side).
"""

from __future__ import annotations

from typing import Any

from matplotlib.colors import to_rgba
from matplotlib.text import Text


class PaintedLine(Text):
    """One line on its baseline, not turned; only one that begins at its place is drawn so."""

    def draw(self, renderer: Any) -> None:
        """Draw it; as matplotlib does where it is anything but plain."""
        plain = (
            self.get_horizontalalignment() == "left"
            and not self.get_path_effects()
            and "\n" not in self.get_text()
        )
        if not plain or not self.get_visible():
            super().draw(renderer)
            return
        x, y = self.get_transform().transform(self.get_unitless_position())
        if renderer.flipy():
            y = renderer.get_canvas_width_height()[1] - y
        look = renderer.new_gc()
        look.set_foreground(to_rgba(self.get_color()), isRGBA=True)
        look.set_alpha(self.get_alpha())
        look.set_snap(self.get_snap())
        look.set_antialiased(self.get_antialiased())
        self._set_gc_clip(look)  # type: ignore[attr-defined]
        renderer.draw_text(
            look, x, y, self.get_text(), self.get_fontproperties(), 0.0, ismath=False, mtext=self
        )
        look.restore()
        self.stale = False
