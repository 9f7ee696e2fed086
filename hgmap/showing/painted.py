"""A drawing of ours on somebody's axes: painted as on a sheet, at the size that the axes have."""

from __future__ import annotations

from typing import Any, Final

from matplotlib.artist import Artist
from matplotlib.axes import Axes

from hgmap.report.drawing import Drawing
from hgmap.report.painter import paint_drawing

ORDER: Final = 0.5
"""In which axes draw: whatever a person adds to them lies higher, pictures of his lie lower."""

_PT_PER_INCH: Final = 72.0
_MM_PER_INCH: Final = 25.4


class Painted(Artist):
    """A drawing in the unit of its axes, moved right and up by so many of them.

    What is in points keeps its size, wherever the figure is drawn or written.
    """

    def __init__(self, drawing: Drawing, left: float = 0.0, bottom: float = 0.0) -> None:
        super().__init__()
        self.drawing, self.left, self.bottom = tuple(drawing), left, bottom
        self.set_zorder(ORDER)

    def draw(self, renderer: Any) -> None:
        """Paint it; matplotlib calls this."""
        axes = self.axes
        if axes is None or not self.get_visible():
            return
        px_per_mm = renderer.points_to_pixels(_PT_PER_INCH) / _MM_PER_INCH
        (x, y), (right, _) = axes.transData.transform(
            [(self.left, self.bottom), (self.left + 1.0, self.bottom)]
        )
        paint_drawing(
            self.drawing, renderer, px_per_mm, scale=(right - x) / px_per_mm,
            at_mm=(x / px_per_mm, y / px_per_mm),
            cut_mm=tuple(one / px_per_mm for one in axes.bbox.bounds),
        )  # fmt: skip
        self.stale = False

    def get_window_extent(self, renderer: Any = None) -> Any:
        """Return the place of its axes: it is cut at them."""
        return None if self.axes is None else self.axes.bbox


def paint_on(axes: Axes, drawing: Drawing, left: float = 0.0, bottom: float = 0.0) -> None:
    """Put a drawing on axes, on top of those that were put there before."""
    axes.add_artist(Painted(drawing, left, bottom))
