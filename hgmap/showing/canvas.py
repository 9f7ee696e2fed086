"""Views on matplotlib's axes in metres: the user's own, or a new figure with a key beside the plan.

No pyplot and no figure that anybody has to close. New axes show themselves in a notebook as a PNG,
so that ``thing.plot()`` at the end of a cell is a picture.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Final

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Drawing
from hgmap.report.palette import INK, SOFT
from hgmap.report.typeset import wrap
from hgmap.scene.key import TALL_MM
from hgmap.scene.screen import PAD_MM
from hgmap.showing.painted import paint_on
from hgmap.showing.view import Scale, View

DPI: Final = 110.0
_WIDE_MM: Final = 196.0
_HIGH_MM: Final = 150.0
_KEY_MM: Final = 64.0
_LARGEST: Final = 20.0
"""Millimetres for a metre, at most: a small room need not fill the screen."""
_LEFT_MM, _BOTTOM_MM, _GAP_MM, _EDGE_MM = 13.0, 11.5, 6.0, 4.0
_TITLE_PT: Final = 9.5
_MOST_NOTES: Final = 6
_TALLEST_MM: Final = 400.0
_SLACK: Final = 0.96
"""Of a line's length: a notebook's own drawing of letters is a little wider than measured."""
_SMALL_TITLE_PT: Final = 7.5
_PADDED: Final = 0.07
"""Of the user's own axes, left free beside the floor: less than on a figure of ours."""
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
    # letters as wide as they were measured: else lines run over the edge
    with matplotlib.rc_context({"text.hinting": "none", "text.usetex": False}):
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
        part = ax.inset_axes((0.0, 1.0 - high * (number + 0.86), 1.0, high * 0.7))
        _on_given(view, part, lines=number == 0, signs=number == len(views) - 1)
    return ax


def _on_given(view: View, ax: Axes, *, lines: bool = True, signs: bool = True) -> None:
    """Paint a view on the user's axes, as large as they are now, with a short key below."""
    taken = not view.alone and bool(ax.artists or ax.patches or ax.lines or ax.images)
    west, south, east, north = view.bounds
    if not taken:
        wide, high = _size_mm(ax)
        free = min(PAD_MM, _PADDED * min(wide, high))
        fits = min((wide - 2.0 * free) / (east - west), (high - 2.0 * free) / (north - south))
        pad = free / fits
        _in_metres(ax, (west - pad, south - pad, east + pad, north + pad))
    left, right = ax.get_xlim()
    room = _size_mm(ax)[0]
    mm_per_m = room / abs(right - left)
    pad_mm = (west - left) * mm_per_m
    paint_on(ax, view.draw(mm_per_m, pad_mm)[0])
    if taken:
        return
    said = list(wrap(view.title, _SMALL_TITLE_PT, _SLACK * room, most_lines=2))
    for line in view.lines if lines else ():
        said += wrap(line, _SMALL_TITLE_PT, _SLACK * room, most_lines=2)
    ax.set_title("\n".join(said), loc="left", fontsize=_SMALL_TITLE_PT, parse_math=False)
    if view.scale is not None:
        _scale_beside(ax, view.scale)
    if view.signs and signs:
        handles = [
            Patch(facecolor="white", edgecolor=one.pen.colour, label=one.word,
                  linewidth=one.pen.width_pt, hatch=_HATCHES[one.hatch.name] if one.hatch else None)
            for one in view.signs
        ]  # fmt: skip
        below = -13.0 / max(13.0, _size_mm(ax)[1])
        ax.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.5, below),
                  ncols=len(handles), frameon=False, fontsize=7.0)  # fmt: skip


def _scale_beside(ax: Axes, scale: Scale) -> None:
    """Draw a scale of shades on the right of the user's axes."""
    bar = ax.inset_axes((1.02, 0.0, 0.025, 1.0))
    bar.imshow(scale.ramp[:, None, :], origin="lower", aspect="auto", extent=(0.0, 1.0, 0.0, 1.0))
    bar.set_xticks([])
    bar.yaxis.tick_right()
    bar.yaxis.set_label_position("right")
    bar.set_yticks([place for place, _ in scale.ticks], [text for _, text in scale.ticks])
    bar.tick_params(labelsize=6.5, length=2.0, pad=2.0)
    bar.set_ylabel(scale.label, fontsize=7.0, parse_math=False)


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
        locator: Any = ax.get_axes_locator()
        ax.apply_aspect(None if locator is None else locator(ax, None))
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
        paint_on(axes, part.drawing)
        paint_on(page, part.words(top), plan=False)
        paint_on(page, part.key, *part.key_at(top), plan=False)
        paint_on(page, part.notes, *part.notes_at(top), plan=False)
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
        self.drawing, key = view.draw(self.mm_per_m, PAD_MM)
        self.key, self.key_mm = key(_KEY_MM)
        self.wide_mm = _LEFT_MM + self.plan_mm[0] + _GAP_MM + _KEY_MM + _EDGE_MM
        self.lines = [
            one for line in view.lines
            for one in wrap(line, SMALL_PT, _SLACK * (self.wide_mm - _LEFT_MM), most_lines=2)
        ]  # fmt: skip
        self.head_mm = line_mm(_TITLE_PT) + len(self.lines) * line_mm(SMALL_PT) + 4.0
        notes = Column(0.0, 0.0, self.plan_mm[0], -_TALLEST_MM)
        if view.beware:
            notes.heading("Beware")
            notes.entries(view.beware[:_MOST_NOTES], "", most_lines=2)
            if len(view.beware) > _MOST_NOTES:
                notes.line(f"and {len(view.beware) - _MOST_NOTES} more", SMALL_PT, colour=SOFT)
        self.notes = notes.done()
        below_mm = self.plan_mm[1] + _BOTTOM_MM - notes.top_mm
        self.high_mm = self.head_mm + max(below_mm, self.key_mm) + _EDGE_MM

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

    def notes_at(self, top: float) -> tuple[float, float]:
        """Return where the notes begin, below the plan."""
        return _LEFT_MM, top - self.head_mm - self.plan_mm[1] - _BOTTOM_MM

    def key_at(self, top: float) -> tuple[float, float]:
        """Return where the lower left corner of the key's own page lies."""
        return _LEFT_MM + self.plan_mm[0] + _GAP_MM, top - self.head_mm - TALL_MM
