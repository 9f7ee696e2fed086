"""Texts and marks of a fixed size, painted once and then only laid down."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath, QPainterPathStroker, QPen

from hgmap.desktop.fonts import text_outline, text_width
from hgmap.report.drawing import Across, Dot, DotShape, Pen

PHASES: Final = 4
"""Marks are kept for this many places within a pixel, each way."""
_RIM: Final = 0.32
"""Width of a halo's stroke, as a fraction of the text's size; the sheets' painter has the same."""
_DOTS: Final = {"circle", "square", "triangle", "diamond"}


class Stamp(NamedTuple):
    """A small picture and where its upper left corner lies from the place (whole px)."""

    image: QImage
    left: int
    top: int


def colour(name: str) -> QColor:
    """Return ``#rrggbb`` or ``#rrggbbaa`` as a colour of Qt, which reads the alpha in front."""
    if len(name) == 9:
        return QColor(f"#{name[7:]}{name[1:7]}")
    return QColor(name)


def qt_pen(pen: Pen, px_per_pt: float) -> QPen:
    """Return a pen of Qt, in pixels."""
    width = pen.width_pt * px_per_pt
    made = QPen(colour(pen.colour), width)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if pen.dashes and width > 0.0:
        made.setDashPattern([length / pen.width_pt for length in pen.dashes])
    return made


def stroke(painter: QPainter, path: QPainterPath, pen: QPen) -> None:
    """Stroke a path in its true width: a line thinner than a pixel is a fainter one.

    Qt's own quick way for thin lines draws them now strong, now weak.
    """
    if pen.widthF() > 1.0:
        painter.strokePath(path, pen)
        return
    stroker = QPainterPathStroker(pen)
    stroker.setDashOffset(pen.dashOffset())
    painter.fillPath(stroker.createStroke(path), pen.brush())


@lru_cache(maxsize=8192)
def label_stamp(
    text: str, size: float, bold: bool, across: Across, ink: str, halo: str | None
) -> Stamp:
    """Return a line of text of a size (px); its place is on the baseline."""
    outline = text_outline(text, size, bold)
    share = {"left": 0.0, "centre": 0.5, "right": 1.0}[across]
    outline.translate(-share * text_width(text, size, bold), 0.0)
    if halo is None:
        return _stamp(outline, colour(ink), None)
    rim = QPen(colour(halo), _RIM * size)
    rim.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return _stamp(outline, colour(ink), rim)


def dot_stamp(dot: Dot, px_per_pt: float, x_phase: int, y_phase: int) -> Stamp:
    """Return a mark; its place is ``phase / PHASES`` px right of, and below, a pixel's corner."""
    return _dot(dot.shape, dot.size_pt, dot.fill, dot.edge, px_per_pt, x_phase, y_phase)


@lru_cache(maxsize=4096)
def _dot(
    shape: DotShape,
    size_pt: float,
    fill: str | None,
    edge: Pen | None,
    px_per_pt: float,
    x_phase: int,
    y_phase: int,
) -> Stamp:
    outline = dot_outline(shape, size_pt * px_per_pt)
    outline.translate(x_phase / PHASES, y_phase / PHASES)
    pen = None if edge is None else qt_pen(edge, px_per_pt)
    if pen is not None and shape in ("square", "triangle", "diamond"):
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    inner = colour(fill) if fill is not None and shape in _DOTS else None
    return _stamp(outline, inner, pen, pen_on_top=True)


def dot_outline(shape: DotShape, size: float) -> QPainterPath:
    """Return the outline of a mark of a size, its middle at (0, 0), y down."""
    path = QPainterPath()
    half = size / 2.0
    if shape == "circle":
        path.addEllipse(QPointF(0.0, 0.0), half, half)
    elif shape == "square":
        path.addRect(QRectF(-half, -half, size, size))
    elif shape == "cross":
        _lines(path, ((-half, -half), (half, half)), ((-half, half), (half, -half)))
    elif shape == "plus":
        _lines(path, ((-half, 0.0), (half, 0.0)), ((0.0, -half), (0.0, half)))
    else:
        tip = half * math.sqrt(2.0)
        corners = (
            ((0.0, -half), (-half, half), (half, half))
            if shape == "triangle"
            else ((0.0, -tip), (-tip, 0.0), (0.0, tip), (tip, 0.0))
        )
        path.moveTo(*corners[0])
        for corner in corners[1:]:
            path.lineTo(*corner)
        path.closeSubpath()
    return path


def _lines(path: QPainterPath, *lines: tuple[tuple[float, float], tuple[float, float]]) -> None:
    for start, end in lines:
        path.moveTo(*start)
        path.lineTo(*end)


def _stamp(
    outline: QPainterPath, fill: QColor | None, pen: QPen | None, *, pen_on_top: bool = False
) -> Stamp:
    reach = 1.0 if pen is None else 1.0 + 2.0 * pen.widthF()
    box = outline.boundingRect().adjusted(-reach, -reach, reach, reach)
    left, top = math.floor(box.left()), math.floor(box.top())
    width, height = math.ceil(box.right()) - left, math.ceil(box.bottom()) - top
    image = QImage(max(1, width), max(1, height), QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(-left, -top)
    if pen is not None and not pen_on_top:
        stroke(painter, outline, pen)
    if fill is not None:
        painter.fillPath(outline, fill)
    if pen is not None and pen_on_top:
        stroke(painter, outline, pen)
    painter.end()
    return Stamp(image, left, top)
