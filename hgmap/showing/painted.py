"""A drawing of ours on somebody's axes: painted as on a sheet, at the size that the axes have."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.text import Text

from hgmap.report.drawing import Drawing
from hgmap.report.painter import paint_drawing

if TYPE_CHECKING:
    from matplotlib.axes._base import _AxesBase

ORDER: Final = 0.5
"""In which axes draw: whatever a person adds to them lies higher, pictures of his lie lower."""

_PT_PER_INCH: Final = 72.0
_MM_PER_INCH: Final = 25.4
_STRETCH: Final = 0.01
"""By how much a metre up may differ from one to the right: rounding of layouts."""
_NOT_DRAWN: Final = (
    "Not drawn: these axes are turned round, stretched\nor not linear, and places would be wrong.\n"
    'ax.set_aspect("equal"), and limits from low to high.'
)


class Painted(Artist):
    """A drawing in the unit of its axes, moved right and up by so many of them.

    What is in points keeps its size, wherever the figure is drawn or written. A ``plan`` is not
    drawn on axes where its places would be wrong; a key and words are.
    """

    def __init__(
        self, drawing: Drawing, left: float = 0.0, bottom: float = 0.0, *, plan: bool = True
    ) -> None:
        super().__init__()
        self.plan = plan
        self.drawing, self.left, self.bottom = tuple(drawing), left, bottom
        self.set_zorder(ORDER)

    def draw(self, renderer: Any) -> None:
        """Paint it; matplotlib calls this."""
        axes = self.axes
        if axes is None or not self.get_visible():
            return
        px_per_mm = renderer.points_to_pixels(_PT_PER_INCH) / _MM_PER_INCH
        if self.plan and not _as_on_a_plan(axes):
            _say_why_not(axes, renderer)
            return
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


def _as_on_a_plan(axes: _AxesBase) -> bool:
    """Tell whether a metre is as long to the right as it is up, as it is on paper.

    On others the picture would lie beside what their ticks say.
    """
    if {axes.get_xscale(), axes.get_yscale()} != {"linear"}:
        return False
    west, east = axes.get_xlim()
    south, north = axes.get_ylim()
    if west >= east or south >= north:
        return False
    box = axes.bbox
    across, up = box.width / (east - west), box.height / (north - south)
    return bool(abs(across - up) <= _STRETCH * up)


def _say_why_not(axes: _AxesBase, renderer: Any) -> None:
    """Say in the axes why there is no picture."""
    said = Text(0.5, 0.5, _NOT_DRAWN, transform=axes.transAxes, ha="center", va="center",
                fontsize=8.0, zorder=ORDER)  # fmt: skip
    figure = axes.figure
    if figure is not None:
        said.set_figure(figure)
    said.draw(renderer)


def paint_on(
    axes: Axes, drawing: Drawing, left: float = 0.0, bottom: float = 0.0, *, plan: bool = True
) -> None:
    """Put a drawing on axes, on top of those that were put there before."""
    axes.add_artist(Painted(drawing, left, bottom, plan=plan))
