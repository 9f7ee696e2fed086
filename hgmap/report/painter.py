"""Paint a sheet with a renderer of matplotlib's: pixels, or an SVG; nothing else knows its shapes.

The renderer is spoken to straight. A figure full of artists would draw the same and take twice as
long; letters of a picture are outlines, which takes a tenth of laying out and drawing each.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import groupby
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import (
    PT_PER_MM,
    Area,
    Dot,
    Drawing,
    Hatch,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)
from hgmap.report.glyphs import left_end, outline, set_line
from hgmap.report.hatching import hatch_dots, hatch_lines
from hgmap.report.rings import rings_of
from hgmap.report.typeset import font_file, printable

_MARKERS: Final = {
    "circle": "o",
    "square": "s",
    "triangle": "^",
    "diamond": "D",
    "cross": "x",
    "plus": "+",
}
_RIM: Final = 0.32
"""Width of a rim about letters, as a part of the size."""
_EM: Final = 100.0
"""Units of an outline to the size."""


def paint(sheet: Sheet, renderer: Any, px_per_mm: float) -> None:
    """Paint a sheet.

    Parameters
    ----------
    sheet : Sheet
    renderer : matplotlib.backends.backend_agg.RendererAgg or ...backend_svg.RendererSVG
    px_per_mm : float
        Of the renderer's own coordinates.
    """
    painter = _Painter(renderer, px_per_mm)
    painter.background(sheet)
    for frame in sheet.frames:
        painter.scale = frame.mm_per_m
        painter.left = frame.left_mm - frame.west_m * frame.mm_per_m
        painter.bottom = frame.bottom_mm - frame.south_m * frame.mm_per_m
        painter.cut(frame.left_mm, frame.bottom_mm, frame.width_mm, frame.height_mm)
        painter.drawing(frame.drawing)
    painter.scale, painter.left, painter.bottom = 1.0, 0.0, 0.0
    painter.cut(0.0, 0.0, sheet.width_mm, sheet.height_mm)
    painter.drawing(sheet.page)


def paint_drawing(
    drawing: Drawing,
    renderer: Any,
    px_per_mm: float,
    *,
    scale: float,
    at_mm: tuple[float, float],
    cut_mm: tuple[float, float, float, float],
) -> None:
    """Paint one drawing with any renderer of matplotlib's.

    Parameters
    ----------
    scale : float
        Millimetres for a unit of the drawing.
    at_mm : tuple of float
        Where its origin lies.
    cut_mm : tuple of float
        Left, bottom, width and height of what is seen of it.
    """
    painter = _Painter(renderer, px_per_mm)
    painter.scale, (painter.left, painter.bottom) = scale, at_mm
    painter.cut(*cut_mm)
    painter.drawing(drawing)


class _Painter:
    """Put items on the renderer in order; the state is where the drawing lies and what cuts it."""

    def __init__(self, renderer: Any, px_per_mm: float) -> None:
        from matplotlib.transforms import Affine2D

        self.renderer, self.px_per_mm = renderer, px_per_mm
        self.vector = bool(renderer.option_scale_image())
        self.to_pixels = Affine2D().scale(px_per_mm)
        self.scale, self.left, self.bottom = 1.0, 0.0, 0.0
        self.edge: Any = None
        self.outlines: list[Any] = []

    def cut(self, left: float, bottom: float, width: float, height: float) -> None:
        """Cut what follows at a rectangle of the page (mm)."""
        from matplotlib.transforms import Bbox

        corner = np.multiply((left, bottom, width, height), self.px_per_mm)
        self.edge = Bbox.from_bounds(*corner)

    def background(self, sheet: Sheet) -> None:
        self.cut(0.0, 0.0, sheet.width_mm, sheet.height_mm)
        self._filled(shapely.box(0.0, 0.0, sheet.width_mm, sheet.height_mm), "#ffffff")

    def drawing(self, drawing: Drawing) -> None:
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
            ends = np.array([item.start_pt, item.end_pt]) / PT_PER_MM + (x, y)
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
            self.left + x * self.scale + offset_pt[0] / PT_PER_MM,
            self.bottom + y * self.scale + offset_pt[1] / PT_PER_MM,
        )

    def _look(self, pen: Pen | None = None) -> Any:
        """Return how a renderer is to draw: a pen, and what cuts it."""
        from matplotlib.colors import to_rgba

        look = self.renderer.new_gc()
        look.set_clip_rectangle(self.edge)
        look.set_snap(None)
        look.set_linewidth(pen.width_pt if pen else 0.0)
        if pen is not None:
            look.set_foreground(to_rgba(pen.colour), isRGBA=True)
            look.set_capstyle("butt")
            look.set_joinstyle("round")
            if pen.dashes:
                look.set_dashes(0.0, list(pen.dashes))
        return look

    def _drawn(self, path: Any, fill: str | None, pen: Pen | None) -> None:
        from matplotlib.colors import to_rgba

        if path is None:
            return
        look = self._look(pen)
        colour = None if fill is None else to_rgba(fill)
        self.renderer.draw_path(look, path, self.to_pixels, colour)
        look.restore()

    def _filled(self, shape: BaseGeometry, fill: str) -> None:
        self._drawn(_path(shape), fill, None)

    def _area(self, area: Area) -> None:
        shape = self._on_page(area.shape)
        path = _path(shape)
        if path is None:
            return
        if area.fill is not None:
            self._drawn(path, area.fill, None)
        if area.hatch is not None:
            self._hatch(shape, area.hatch)
        if area.pen is not None:
            self._drawn(path, None, area.pen)

    def _hatch(self, shape: BaseGeometry, hatch: Hatch) -> None:
        area = affinity.scale(shape, PT_PER_MM, PT_PER_MM, origin=(0.0, 0.0))
        if hatch.name != "dots":
            lines = affinity.scale(
                hatch_lines(area, hatch), 1.0 / PT_PER_MM, 1.0 / PT_PER_MM, origin=(0.0, 0.0)
            )
            self._lines(lines, Pen(hatch.colour, hatch.width_pt))
            return
        dots = hatch_dots(area, hatch) / PT_PER_MM
        if len(dots):
            self._marks(dots, "circle", hatch.width_pt, hatch.colour, None)

    def _lines(self, shape: BaseGeometry, pen: Pen) -> None:
        from matplotlib.path import Path as Outline

        lines = [
            Outline(shapely.get_coordinates(part))
            for part in shapely.get_parts(shape)
            if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
        ]
        if lines:
            self._drawn(Outline.make_compound_path(*lines), None, pen)

    def _dots(self, dots: list[Dot]) -> None:
        places = np.array([self._place(dot.x, dot.y, dot.offset_pt) for dot in dots])
        one = dots[0]
        self._marks(places, one.shape, one.size_pt, one.fill, one.edge)

    def _marks(
        self, places: NDArray[np.float64], shape: str, size: float, fill: str | None,
        edge: Pen | None,
    ) -> None:  # fmt: skip
        from matplotlib.colors import to_rgba
        from matplotlib.markers import MarkerStyle
        from matplotlib.path import Path as Outline

        mark: Any = MarkerStyle(_MARKERS[shape])
        look = self._look(edge)
        wide = self.renderer.points_to_pixels(size)
        least = mark.get_snap_threshold()
        look.set_snap(None if least is None else wide >= least)
        look.set_joinstyle(mark.get_joinstyle())
        look.set_capstyle(mark.get_capstyle())
        self.renderer.draw_markers(
            look, mark.get_path(), mark.get_transform().scale(wide), Outline(places),
            self.to_pixels, None if fill is None else to_rgba(fill),
        )  # fmt: skip
        look.restore()

    def _label(self, label: Label) -> None:
        text = printable(label.text)
        if not text.strip():
            return
        start = left_end(text, label.across, label.size_pt, label.bold)
        shift = (label.offset_pt[0] + start, label.offset_pt[1] + label.baseline_shift_pt)
        x, y = self._place(label.x, label.y, shift)
        if label.halo is not None:
            rim = Pen(label.halo, _RIM * label.size_pt)
            self._outlined(text, x, y, label, label.halo, rim)
        if self.vector:
            self._written(text, x, y, label)
        else:
            self._outlined(text, x, y, label, label.colour, None)

    def _written(self, text: str, x: float, y: float, label: Label) -> None:
        """Let the renderer write a line: in an SVG a letter's outline stands once."""
        from matplotlib.colors import to_rgba
        from matplotlib.font_manager import FontProperties

        look = self._look()
        look.set_foreground(to_rgba(label.colour), isRGBA=True)
        font = FontProperties(fname=str(font_file(label.bold)), size=label.size_pt)
        down = y * self.px_per_mm
        if self.renderer.flipy():
            down = self.renderer.height - down
        self.renderer.draw_text(look, x * self.px_per_mm, down, text, font, 0.0)
        look.restore()

    def _outlined(
        self, text: str, x: float, y: float, label: Label, fill: str, pen: Pen | None
    ) -> None:
        from matplotlib.colors import to_rgba
        from matplotlib.transforms import Affine2D

        path = _letters(text, label.bold)
        if path is None:
            return
        look = self._look(pen)
        look.set_snap(False)
        size = label.size_pt / PT_PER_MM * self.px_per_mm / _EM
        place = Affine2D().scale(size).translate(x * self.px_per_mm, y * self.px_per_mm)
        self.renderer.draw_path(look, path, place, to_rgba(fill))
        look.restore()

    def _picture(self, picture: Picture) -> None:
        from matplotlib.transforms import TransformedPath

        shape = None if picture.clip is None else _path(self._on_page(picture.clip))
        if picture.clip is not None and shape is None:
            return
        look = self._look()
        if shape is not None:
            # a renderer knows the last outline by its address: another one must not get that
            self.outlines.append(shape)
            look.set_clip_path(TransformedPath(shape, self.to_pixels))
        west, south = np.multiply(self._place(*picture.bounds[:2], (0.0, 0.0)), self.px_per_mm)
        east, north = np.multiply(self._place(*picture.bounds[2:], (0.0, 0.0)), self.px_per_mm)
        if self.vector:
            from matplotlib.transforms import Affine2D

            rgba = np.ascontiguousarray(picture.rgba[::-1])
            place = Affine2D().scale(east - west, north - south)
            self.renderer.draw_image(look, west, south, rgba, place)
        else:
            self._pixels(look, picture.rgba, (west, south, east, north))
        look.restore()

    def _pixels(
        self, look: Any, rgba: NDArray[np.uint8], bounds: tuple[float, float, float, float]
    ) -> None:
        """Draw a picture where the renderer has pixels, each in the colour of its middle."""
        west, south, east, north = bounds
        left, bottom = max(int(np.floor(west)), 0), max(int(np.floor(south)), 0)
        right = min(int(np.ceil(east)), int(np.ceil(self.renderer.width)))
        top = min(int(np.ceil(north)), int(np.ceil(self.renderer.height)))
        if right <= left or top <= bottom:
            return
        across = (np.arange(left, right) + 0.5 - west) / (east - west)
        up = (np.arange(bottom, top) + 0.5 - south) / (north - south)
        column = np.floor(across * rgba.shape[1]).astype(int)
        row = rgba.shape[0] - 1 - np.floor(up * rgba.shape[0]).astype(int)
        seen = ((up >= 0) & (up < 1))[:, None] & ((across >= 0) & (across < 1))[None, :]
        shown = rgba[np.clip(row, 0, len(rgba) - 1)][:, np.clip(column, 0, rgba.shape[1] - 1)]
        shown[~seen] = 0
        self.renderer.draw_image(look, left, bottom, np.ascontiguousarray(shown))


def _look(item: Item) -> object:
    """Return what consecutive dots share to be drawn in one go; other items stand alone."""
    return (item.shape, item.size_pt, item.fill, item.edge) if isinstance(item, Dot) else None


@lru_cache(maxsize=512)
def _letters(text: str, bold: bool) -> Any:
    """Return a line of text as one path, on its baseline; None for a line of gaps."""
    from matplotlib.path import Path as Outline

    places, codes = [], []
    for glyph in set_line(text, bold):
        ring, steps = outline(glyph.number, bold)
        if len(steps):
            places.append(np.add(ring, (_EM * glyph.x, _EM * glyph.y)))
            codes.append(steps)
    return Outline(np.concatenate(places), np.concatenate(codes)) if places else None


def _path(shape: BaseGeometry) -> Any:
    """Polygons as one compound path; holes run the other way round, which both fill rules see."""
    from matplotlib.path import Path as Outline

    rings = [Outline(ring, closed=True) for ring in rings_of(shape)]
    return Outline.make_compound_path(*rings) if rings else None
