"""Paint a drawing with Qt as the sheets' painter puts it on paper.

A drawing is prepared once (:class:`Prepared`) and painted as often as the view changes. Pixels here
are those of what is painted on; a window of device ratio 2 asks for twice the pixels per metre and
per point. No other library of pictures is loaded, so that a window opens quickly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from PySide6.QtCore import QPoint, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QTransform

from hgmap.desktop.hatches import fill_lines
from hgmap.desktop.outlines import path_of
from hgmap.desktop.pictures import paint_picture
from hgmap.desktop.prepared import Prepared
from hgmap.desktop.stamps import PHASES, Stamp, colour, dot_stamp, label_stamp, qt_pen, stroke
from hgmap.desktop.whole_dots import dots_stamp
from hgmap.report.drawing import (
    PT_PER_MM,
    Area,
    Dot,
    Hatch,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)

__all__ = ["PX_PER_PT", "PaintStopped", "Place", "Prepared", "paint", "paint_sheet"]

PX_PER_PT: Final = 96.0 / 72.0
"""Of a window of device ratio 1, which has 96 px to the inch."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a drawing lies: ``x_px = left + x * scale`` and ``y_px = top - y * scale``.

    Attributes
    ----------
    scale : float
        Pixels per unit of the drawing.
    left, top : float
        The pixel of the drawing's (0, 0).
    px_per_pt : float
        For pens, marks and text.
    anchor : tuple of float or None
        The pixel that hatches go through; None for the drawing's (0, 0).
    """

    scale: float
    left: float
    top: float
    px_per_pt: float = PX_PER_PT
    anchor: tuple[float, float] | None = None


class PaintStopped(Exception):  # noqa: N818
    """Raised between two items when nobody waits for the picture any more."""


def paint(
    painter: QPainter,
    prepared: Prepared,
    place: Place,
    window: QRect,
    stale: Callable[[], bool] | None = None,
) -> None:
    """Paint what of a drawing falls into a window (px), and nothing outside it.

    Parameters
    ----------
    painter : QPainter
        Its transform is whole pixels, or none.
    prepared : Prepared
    place : Place
    window : QRect
        The part of the picture that is wanted (px).
    stale : callable, optional
        Tells, between two items, whether nobody waits for the picture any more.

    Raises
    ------
    PaintStopped
        If that is so; what is painted then is a part.
    """
    painter.save()
    painter.setClipRect(window, Qt.ClipOperation.IntersectClip)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        _Brush(painter, prepared, place, window).paint(stale)
    finally:
        painter.restore()


def paint_sheet(painter: QPainter, sheet: Sheet, px_per_mm: float) -> None:
    """Paint a whole page, its upper left corner at (0, 0), at any scale (px per mm)."""
    width, height = round(sheet.width_mm * px_per_mm), round(sheet.height_mm * px_per_mm)
    bottom = sheet.height_mm * px_per_mm
    page = QRect(0, 0, width, height)
    painter.fillRect(page, QColor("white"))
    px_per_pt = px_per_mm / PT_PER_MM
    for frame in sheet.frames:
        edge = QRectF(
            frame.left_mm * px_per_mm,
            bottom - (frame.bottom_mm + frame.height_mm) * px_per_mm,
            frame.width_mm * px_per_mm,
            frame.height_mm * px_per_mm,
        )
        place = Place(
            frame.mm_per_m * px_per_mm,
            (frame.left_mm - frame.west_m * frame.mm_per_m) * px_per_mm,
            bottom - (frame.bottom_mm - frame.south_m * frame.mm_per_m) * px_per_mm,
            px_per_pt,
            (0.0, bottom),
        )
        painter.save()
        painter.setClipRect(edge, Qt.ClipOperation.IntersectClip)
        paint(painter, Prepared(frame.drawing), place, edge.toAlignedRect() & page)
        painter.restore()
    paint(painter, Prepared(sheet.page), Place(px_per_mm, 0.0, bottom, px_per_pt), page)


class _Brush:
    """One painting: the state is where the drawing lies and on what it is painted."""

    def __init__(self, painter: QPainter, prepared: Prepared, place: Place, window: QRect) -> None:
        self.painter, self.prepared, self.place = painter, prepared, place
        self.window = window
        self.to_px = QTransform(place.scale, 0.0, 0.0, -place.scale, place.left, place.top)
        self.anchor = place.anchor or (place.left, place.top)
        west, north = self._to_unit(window.left(), window.top())
        east, south = self._to_unit(window.right() + 1, window.bottom() + 1)
        self.seen = (west, south, east, north)

    def _to_unit(self, x_px: float, y_px: float) -> tuple[float, float]:
        place = self.place
        return (x_px - place.left) / place.scale, (place.top - y_px) / place.scale

    def paint(self, stale: Callable[[], bool] | None) -> None:
        place, prepared = self.place, self.prepared
        numbers = prepared.within(self.seen, place.px_per_pt / place.scale)
        spots = prepared.spots[numbers]
        x = place.left + spots[:, 0] * place.scale + spots[:, 2] * place.px_per_pt
        y = place.top - spots[:, 1] * place.scale - spots[:, 3] * place.px_per_pt
        for number, x_px, y_px in zip(numbers.tolist(), x.tolist(), y.tolist(), strict=True):
            if stale is not None and stale():
                raise PaintStopped
            item = prepared.drawing[number]
            if isinstance(item, Label):
                self._label(item, x_px, y_px)
            elif isinstance(item, Dot):
                self._dot(item, x_px, y_px)
            elif isinstance(item, Area):
                self._area(item, number)
            elif isinstance(item, Path):
                self._lines(number, item.pen)
            elif isinstance(item, Stroke):
                self._stroke(item, x_px, y_px)
            elif isinstance(item, Picture):
                self._picture(item, number)

    def _area(self, area: Area, number: int) -> None:
        place = self.place
        hatch = area.hatch
        if area.fill is not None or (hatch is not None and hatch.name != "dots"):
            path = self.to_px.map(self.prepared.path(number, place.scale, self.seen))
            if area.fill is not None:
                self.painter.fillPath(path, colour(area.fill))
            if hatch is not None and hatch.name != "dots":
                fill_lines(self.painter, path, hatch, place.px_per_pt, self.anchor)
        if hatch is not None and hatch.name == "dots":
            self._whole_dots(number, hatch)
        if area.pen is not None:
            self._lines(number, area.pen)

    def _lines(self, number: int, pen: Pen) -> None:
        place = self.place
        lines = self.prepared.pieces(number, place.scale, self.seen)
        west, south, east, north = self.seen
        reach = pen.width_pt * place.px_per_pt / place.scale
        bounds = lines.bounds
        held = (
            (bounds[:, 0] - reach <= east)
            & (bounds[:, 2] + reach >= west)
            & (bounds[:, 1] - reach <= north)
            & (bounds[:, 3] + reach >= south)
        )
        made = qt_pen(pen, place.px_per_pt)
        width_px = pen.width_pt * place.px_per_pt
        for piece in np.nonzero(held)[0].tolist():
            if pen.dashes and width_px > 0.0:
                made.setDashOffset(lines.starts[piece] * place.scale / width_px)
            stroke(self.painter, self.to_px.map(lines.paths[piece]), made)

    def _whole_dots(self, number: int, hatch: Hatch) -> None:
        place = self.place
        origin = (place.left, place.top)
        fixed = (hatch, place.scale, place.px_per_pt, _shift(origin, self.anchor))
        made, stamp = self.prepared.kept.get(number, (None, None))
        if stamp is None or made != fixed:
            shape = self.prepared.shape(number, place.scale, self.seen)
            stamp = dots_stamp(shape, hatch, place.scale, place.px_per_pt, origin, self.anchor)
            if not self.prepared.is_wide(number, place.scale):
                self.prepared.kept[number] = (fixed, stamp)
        column, row = math.floor(self.anchor[0]), math.floor(self.anchor[1])
        self._put(stamp, column, row)

    def _picture(self, picture: Picture, number: int) -> None:
        clip = None
        if picture.clip is not None:
            clip = self.to_px.map(self.prepared.path(number, self.place.scale, self.seen))
        west, south, east, north = picture.bounds
        place = self.place
        target = QRectF(
            place.left + west * place.scale,
            place.top - north * place.scale,
            (east - west) * place.scale,
            (north - south) * place.scale,
        )
        paint_picture(self.painter, self.prepared.image(number), target, clip, self.window)

    def _stroke(self, leader: Stroke, x_px: float, y_px: float) -> None:
        ends = np.array([leader.start_pt, leader.end_pt]) * (1.0, -1.0) * self.place.px_per_pt
        path = path_of(ends + np.array([x_px, y_px]), np.array([True, False]))
        stroke(self.painter, path, qt_pen(leader.pen, self.place.px_per_pt))

    def _dot(self, dot: Dot, x_px: float, y_px: float) -> None:
        column, x_phase = divmod(round(x_px * PHASES), PHASES)
        row, y_phase = divmod(round(y_px * PHASES), PHASES)
        self._put(dot_stamp(dot, self.place.px_per_pt, x_phase, y_phase), column, row)

    def _label(self, label: Label, x_px: float, y_px: float) -> None:
        size = label.size_pt * self.place.px_per_pt
        stamp = label_stamp(label.text, size, label.bold, label.across, label.colour, label.halo)
        self._put(stamp, round(x_px), round(y_px))

    def _put(self, stamp: Stamp, column: int, row: int) -> None:
        self.painter.drawImage(QPoint(column + stamp.left, row + stamp.top), stamp.image)


def _shift(origin: tuple[float, float], anchor: tuple[float, float]) -> tuple[float, ...]:
    """Return what of the anchor a picture of dots depends on: less than a pixel, and roughly."""
    return (
        round(origin[0] - anchor[0], 3),
        round(origin[1] - anchor[1], 3),
        round(anchor[0] % 1.0 * PHASES) % PHASES,
        round(anchor[1] % 1.0 * PHASES) % PHASES,
    )
