"""Views on matplotlib's axes in metres: the user's own, or a new figure with a key beside the plan.

No pyplot and no figure that anybody has to close. New axes show themselves in a notebook as a PNG,
so that ``thing.plot()`` at the end of a cell is a picture.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Drawing
from hgmap.report.painter import paint_in_metres, paint_in_mm
from hgmap.report.palette import INK, SOFT
from hgmap.report.typeset import printable, wrap
from hgmap.scene.key import TALL_MM
from hgmap.scene.screen import PAD_MM
from hgmap.showing.view import View

DPI: Final = 110.0
_WIDE_MM: Final = 196.0
_HIGH_MM: Final = 150.0
_KEY_MM: Final = 64.0
_LARGEST: Final = 20.0
"""Millimetres for a metre, at most: a small room need not fill the screen."""
_LEFT_MM, _BOTTOM_MM, _GAP_MM, _EDGE_MM = 13.0, 10.5, 6.0, 3.0
_TITLE_PT: Final = 9.5
_HATCHES: Final = {"diagonal": "////", "dots": "...", "cross": "xxx"}


class PictureAxes(Axes):
    """Axes that show the figure they are on where a notebook asks for a picture."""

    name = "hgmap"

    def _repr_png_(self) -> bytes:
        """Return the whole figure as a PNG."""
        return png_of(self)


def png_of(axes: Axes) -> bytes:
    """Return the figure of some axes as a PNG, without a window or pyplot."""
    figure = axes.get_figure(root=True)
    assert figure is not None, "axes are on a figure"
    stream = io.BytesIO()
    canvas: Any = FigureCanvasAgg(figure)
    canvas.print_png(stream)
    return stream.getvalue()


def paint_views(views: Sequence[View], ax: Axes | None) -> Axes:
    """Paint the views of one or several floors; return the axes they are on."""
    if ax is None:
        return _on_a_new_figure(views)
    if len(views) == 1:
        _on_given(views[0], ax)
        return ax
    ax.set_axis_off()
    high = 1.0 / len(views)
    for number, view in enumerate(views):
        # room between them for a title above and the metres below
        part = ax.inset_axes((0.0, 1.0 - high * (number + 0.82), 1.0, high * 0.66))
        _on_given(view, part, signs=number == len(views) - 1)
    return ax


def _on_given(view: View, ax: Axes, *, signs: bool = True) -> None:
    """Paint a view on the user's axes, as large as they are now, with a short key below."""
    taken = not view.alone and bool(ax.patches or ax.lines or ax.images)
    west, south, east, north = view.bounds
    if not taken:
        wide, high = _size_mm(ax)
        fits = min((wide - 2.0 * PAD_MM) / (east - west), (high - 2.0 * PAD_MM) / (north - south))
        pad = PAD_MM / fits if fits > 0.0 else 0.1 * max(east - west, north - south)
        _in_metres(ax, (west - pad, south - pad, east + pad, north + pad))
    left, right = ax.get_xlim()
    mm_per_m = _size_mm(ax)[0] / abs(right - left)
    paint_in_metres(ax, view.draw(mm_per_m)[0], mm_per_m)
    if taken:
        return
    room = _size_mm(ax)[0]
    said = [one for line in view.lines for one in wrap(line, 7.0, room, most_lines=2)]
    ax.set_title("\n".join([printable(view.title), *said]), loc="left", fontsize=7.5,
                 parse_math=False)  # fmt: skip
    if view.signs and signs:
        handles = [
            Patch(facecolor="white", edgecolor=one.pen.colour, label=one.word,
                  linewidth=one.pen.width_pt, hatch=_HATCHES[one.hatch.name] if one.hatch else None)
            for one in view.signs
        ]  # fmt: skip
        ax.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.5, -0.16),
                  ncols=len(handles), frameon=False, fontsize=7.0)  # fmt: skip


def _in_metres(ax: Axes, seen: tuple[float, float, float, float]) -> None:
    west, south, east, north = seen
    ax.set_aspect("equal")
    ax.set(xlim=(west, east), ylim=(south, north))
    ax.set_xlabel("x, m", fontsize=7.0, labelpad=1.5)
    ax.set_ylabel("y, m", fontsize=7.0, labelpad=1.5)
    ax.tick_params(labelsize=6.5, length=2.5, pad=2.0)
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_locator(MaxNLocator(nbins=7, steps=[1, 2, 5, 10]))
    for spine in ax.spines.values():
        spine.set_color("#a9adb1")
        spine.set_linewidth(0.6)


def _size_mm(ax: Axes) -> tuple[float, float]:
    """Return how large axes are now (mm), once the figure's own layout has placed them."""
    figure = ax.get_figure(root=True)
    assert figure is not None, "axes are on a figure"
    if figure.get_layout_engine() is not None:
        figure.draw_without_rendering()
    else:
        ax.apply_aspect()
    box = ax.get_window_extent()
    return max(1.0, box.width * 25.4 / figure.dpi), max(1.0, box.height * 25.4 / figure.dpi)


def _on_a_new_figure(views: Sequence[View]) -> Axes:
    """Lay the views out below one another, each with its key, on a figure as large as that."""
    parts = [_Part(view) for view in views]
    wide = max(part.wide_mm for part in parts)
    high = sum(part.high_mm for part in parts)
    figure = Figure(figsize=(wide / 25.4, high / 25.4), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    page = figure.add_axes((0.0, 0.0, 1.0, 1.0), label="key")
    page.set_axis_off()
    page.set(xlim=(0.0, wide), ylim=(0.0, high))
    whole: Any = None
    if len(parts) > 1:
        whole = figure.add_axes((0.0, 0.0, 1.0, 1.0), axes_class=PictureAxes)
        whole.set_axis_off()
    top = high
    for part in parts:
        left, bottom, width, height = part.place(top)
        rect = (left / wide, bottom / high, width / wide, height / high)
        axes: Any = (
            figure.add_axes(rect, axes_class=PictureAxes)
            if whole is None
            else whole.inset_axes(rect)
        )
        _in_metres(axes, part.seen)
        paint_in_metres(axes, part.drawing, part.mm_per_m)
        paint_in_mm(page, part.words(top))
        paint_in_mm(page, part.key, *part.key_at(top))
        top -= part.high_mm
        whole = axes if len(parts) == 1 else whole
    done: Axes = whole
    return done


class _Part:
    """One view with its place on a new figure; all but ``mm_per_m`` and ``seen`` in millimetres."""

    def __init__(self, view: View) -> None:
        west, south, east, north = view.bounds
        across, up = max(east - west, 0.5), max(north - south, 0.5)
        self.view = view
        self.mm_per_m = min((_WIDE_MM - 2.0 * PAD_MM) / across, (_HIGH_MM - 2.0 * PAD_MM) / up,
                            _LARGEST)  # fmt: skip
        pad = PAD_MM / self.mm_per_m
        self.seen = (west - pad, south - pad, east + pad, north + pad)
        self.plan_mm = (across * self.mm_per_m + 2.0 * PAD_MM, up * self.mm_per_m + 2.0 * PAD_MM)
        self.drawing, key = view.draw(self.mm_per_m)
        self.key, self.key_mm = _with_notes(*key(_KEY_MM), view.beware)
        self.wide_mm = _LEFT_MM + self.plan_mm[0] + _GAP_MM + _KEY_MM + _EDGE_MM
        self.lines = [
            one for line in view.lines
            for one in wrap(line, SMALL_PT, self.wide_mm - _LEFT_MM - _EDGE_MM, most_lines=2)
        ]  # fmt: skip
        self.head_mm = line_mm(_TITLE_PT) + len(self.lines) * line_mm(SMALL_PT) + 4.0
        self.high_mm = self.head_mm + max(self.plan_mm[1] + _BOTTOM_MM, self.key_mm) + _EDGE_MM

    def place(self, top: float) -> tuple[float, float, float, float]:
        """Return left, bottom, width and height of the plan."""
        return (_LEFT_MM, top - self.head_mm - self.plan_mm[1], *self.plan_mm)

    def words(self, top: float) -> Drawing:
        """Return title and level on the page."""
        column = Column(_LEFT_MM, top - 2.0, self.wide_mm - _LEFT_MM - _EDGE_MM, 0.0)
        column.line(self.view.title, _TITLE_PT, bold=True, colour=INK)
        for one in self.lines:
            column.line(one, SMALL_PT, colour=SOFT)
        return column.done()

    def key_at(self, top: float) -> tuple[float, float]:
        """Return where the lower left corner of the key's own page lies."""
        return _LEFT_MM + self.plan_mm[0] + _GAP_MM, top - self.head_mm - TALL_MM


def _with_notes(key: Drawing, high_mm: float, beware: tuple[str, ...]) -> tuple[Drawing, float]:
    """Set what to beware of under a key."""
    column = Column(0.0, TALL_MM - high_mm - 1.0, _KEY_MM, 0.0)
    if beware:
        column.heading("Beware")
        column.entries(beware[:8], "and {n} more", most_lines=4)
        if len(beware) > 8:
            column.line(f"and {len(beware) - 8} more", SMALL_PT, colour=SOFT)
    return (*key, *column.done()), TALL_MM - column.top_mm
