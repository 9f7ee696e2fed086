"""Paint a sheet on a matplotlib figure; nothing else in the package knows matplotlib's shapes."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import (
    PT_PER_MM,
    Area,
    Dot,
    Drawing,
    Frame,
    Hatch,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)
from hgmap.report.hatching import hatch_dots, hatch_lines
from hgmap.report.typeset import font_file, printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LOWEST: Final = 0.9
"""Of the order in which axes draw: whatever a person adds to them lies higher."""

_MARKERS: Final = {
    "circle": "o",
    "square": "s",
    "triangle": "^",
    "diamond": "D",
    "cross": "x",
    "plus": "+",
}


def figure(sheet: Sheet) -> Figure:
    """Return a figure that holds the sheet, on one axes in millimetres as large as the page."""
    from matplotlib.figure import Figure

    page = Figure(figsize=(sheet.width_mm / 25.4, sheet.height_mm / 25.4), facecolor="white")
    axes = page.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set(xlim=(0.0, sheet.width_mm), ylim=(0.0, sheet.height_mm))
    axes.set_autoscale_on(False)
    painter = _Painter(axes)
    for frame in sheet.frames:
        painter.frame(frame)
    painter.page(sheet)
    return page


def paint_in_metres(axes: Axes, drawing: Drawing, mm_per_m: float) -> None:
    """Paint a drawing in metres on axes in metres; below whatever else is drawn on them.

    ``mm_per_m`` is how large (mm) the axes show a metre: what is in points has its size at that.
    """
    painter = _Painter(axes, pt_per_unit=mm_per_m * PT_PER_MM, step=1e-5)
    painter.cut = axes.bbox
    # above what was painted so before
    ours = (one.get_zorder() for one in axes.get_children())
    painter.order = max((order for order in ours if 0.0 < order < _LOWEST), default=0.0)
    painter.paint(drawing)


def paint_in_mm(axes: Axes, drawing: Drawing, left_mm: float = 0.0, bottom_mm: float = 0.0) -> None:
    """Paint a drawing of a page (mm) on axes in millimetres, moved right and up by so many."""
    painter = _Painter(axes)
    painter.left, painter.bottom = left_mm, bottom_mm
    painter.paint(drawing)


class _Painter:
    """Put items on the axes in order; the state is where the drawing lies and what cuts it.

    The axes are in millimetres of paper, unless ``pt_per_unit`` says otherwise.
    """

    def __init__(self, axes: Axes, pt_per_unit: float = PT_PER_MM, step: float = 1.0) -> None:
        self.axes = axes
        self.order, self.step = 0.0, step
        self.scale, self.left, self.bottom = 1.0, 0.0, 0.0
        self.cut: Any = None
        self.unit = pt_per_unit

    def frame(self, frame: Frame) -> None:
        from matplotlib.transforms import Bbox, TransformedBbox

        self.scale = frame.mm_per_m
        self.left = frame.left_mm - frame.west_m * frame.mm_per_m
        self.bottom = frame.bottom_mm - frame.south_m * frame.mm_per_m
        rectangle = Bbox.from_bounds(
            frame.left_mm, frame.bottom_mm, frame.width_mm, frame.height_mm
        )
        self.cut = TransformedBbox(rectangle, self.axes.transData)
        self.paint(frame.drawing)

    def page(self, sheet: Sheet) -> None:
        self.scale, self.left, self.bottom, self.cut = 1.0, 0.0, 0.0, None
        self.paint(sheet.page)

    def paint(self, drawing: Drawing) -> None:
        """Paint items, each on top of those before it."""
        for key, run in groupby(drawing, key=_look):
            items = list(run)
            if isinstance(key, tuple):
                self._dots([item for item in items if isinstance(item, Dot)])
                continue
            for item in items:
                self._item(item)

    def _item(self, item: Item) -> None:
        if isinstance(item, Area):
            self._area(item)
        elif isinstance(item, Path):
            self._lines(self._on_page(item.shape), item.pen)
        elif isinstance(item, Stroke):
            x, y = self._place(item.x, item.y, (0.0, 0.0))
            ends = np.array([item.start_pt, item.end_pt]) / self.unit + (x, y)
            self._lines(shapely.LineString(ends), item.pen)
        elif isinstance(item, Label):
            self._label(item)
        elif isinstance(item, Picture):
            self._picture(item)

    def _on_page(self, shape: BaseGeometry) -> BaseGeometry:
        return affinity.affine_transform(
            shape, (self.scale, 0.0, 0.0, self.scale, self.left, self.bottom)
        )

    def _place(self, x: float, y: float, offset_pt: tuple[float, float]) -> tuple[float, float]:
        return (
            self.left + x * self.scale + offset_pt[0] / self.unit,
            self.bottom + y * self.scale + offset_pt[1] / self.unit,
        )

    def _add(self, artist: Any) -> None:
        self.order += self.step
        artist.set_zorder(self.order)
        clipped = artist.get_clip_path() is not None
        self.axes.add_artist(artist)
        if clipped:
            return
        # only now: adding it made the axes its limit
        artist.set_clip_path(None)
        artist.set_clip_box(self.cut)

    def _area(self, area: Area) -> None:
        from matplotlib.patches import PathPatch

        shape = self._on_page(area.shape)
        outline = _path(shape)
        if outline is None:
            return
        if area.fill is not None:
            self._add(PathPatch(outline, facecolor=area.fill, edgecolor="none", linewidth=0.0))
        if area.hatch is not None:
            self._hatch(shape, area.hatch)
        if area.pen is not None:
            self._add(PathPatch(outline, facecolor="none", **_stroke(area.pen)))

    def _hatch(self, shape: BaseGeometry, hatch: Hatch) -> None:
        from matplotlib.lines import Line2D

        area = affinity.scale(shape, self.unit, self.unit, origin=(0.0, 0.0))
        if hatch.name != "dots":
            lines = affinity.scale(
                hatch_lines(area, hatch), 1.0 / self.unit, 1.0 / self.unit, origin=(0.0, 0.0)
            )
            self._lines(lines, Pen(hatch.colour, hatch.width_pt))
            return
        dots = hatch_dots(area, hatch) / self.unit
        if len(dots):
            look: dict[str, Any] = {
                "markersize": hatch.width_pt,
                "color": hatch.colour,
                "markeredgewidth": 0.0,
            }
            self._add(Line2D(dots[:, 0], dots[:, 1], marker="o", linestyle="none", **look))

    def _lines(self, shape: BaseGeometry, pen: Pen) -> None:
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path as Outline

        lines = [
            Outline(shapely.get_coordinates(part))
            for part in shapely.get_parts(shape)
            if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
        ]
        if lines:
            together = Outline.make_compound_path(*lines)
            self._add(PathPatch(together, facecolor="none", **_stroke(pen)))

    def _dots(self, dots: list[Dot]) -> None:
        from matplotlib.lines import Line2D

        places = np.array([self._place(dot.x, dot.y, dot.offset_pt) for dot in dots])
        one = dots[0]
        edge = one.edge
        self._add(
            Line2D(
                places[:, 0],
                places[:, 1],
                linestyle="none",
                marker=_MARKERS[one.shape],
                markersize=one.size_pt,
                markerfacecolor=one.fill or "none",
                markeredgecolor=edge.colour if edge else "none",
                markeredgewidth=edge.width_pt if edge else 0.0,
            )
        )

    def _label(self, label: Label) -> None:
        from matplotlib.font_manager import FontProperties
        from matplotlib.patheffects import Stroke as Rim
        from matplotlib.text import Text

        from hgmap.report.painted_line import PaintedLine

        shift = (label.offset_pt[0], label.offset_pt[1] + label.baseline_shift_pt)
        x, y = self._place(label.x, label.y, shift)
        look: dict[str, Any] = {
            "fontproperties": FontProperties(fname=str(font_file(label.bold)), size=label.size_pt),
            "horizontalalignment": "center" if label.across == "centre" else label.across,
            "verticalalignment": "baseline",
            "parse_math": False,
            "usetex": False,
        }
        text = printable(label.text)
        if label.halo is not None:
            # a text of its own: a rim turns letters into outlines, and the text must stay text
            rim = Rim(linewidth=0.32 * label.size_pt, foreground=label.halo, joinstyle="round")
            self._add(Text(x, y, text, color=label.halo, path_effects=[rim], **look))
        self._add(PaintedLine(x, y, text, color=label.colour, **look))

    def _picture(self, picture: Picture) -> None:
        from matplotlib.image import AxesImage
        from matplotlib.transforms import TransformedPath

        west, south = self._place(*picture.bounds[:2], (0.0, 0.0))
        east, north = self._place(*picture.bounds[2:], (0.0, 0.0))
        image = AxesImage(
            self.axes, interpolation="none", origin="upper", extent=(west, east, south, north)
        )
        image.set_data(picture.rgba)
        outline = None if picture.clip is None else _path(self._on_page(picture.clip))
        if picture.clip is not None and outline is None:
            return
        if outline is not None:
            image.set_clip_path(TransformedPath(outline, self.axes.transData))
        self._add(image)


def _look(item: Item) -> object:
    """Return what consecutive dots share to be drawn in one go; other items stand alone."""
    return (item.shape, item.size_pt, item.fill, item.edge) if isinstance(item, Dot) else None


def _stroke(pen: Pen) -> dict[str, Any]:
    return {
        "edgecolor": pen.colour,
        "linewidth": pen.width_pt,
        "linestyle": (0.0, pen.dashes or None),
        "capstyle": "butt",
        "joinstyle": "round",
    }


def _path(shape: BaseGeometry) -> Any:
    """Polygons as one compound path; holes run the other way round, which both fill rules see."""
    from matplotlib.path import Path as Outline

    parts = [
        shapely.geometry.polygon.orient(part)
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and not part.is_empty
    ]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    if not rings:
        return None
    return Outline.make_compound_path(
        *(Outline(shapely.get_coordinates(ring), closed=True) for ring in rings)
    )
