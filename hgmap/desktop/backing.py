"""The painted plan kept in memory, wider than the window: a pan only moves it."""

from __future__ import annotations

import time
from typing import Final, NamedTuple

from PySide6.QtCore import QPoint, QRect, QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QTransform

from hgmap.desktop.painter import PX_PER_PT, Place, Prepared, paint
from hgmap.desktop.view import View
from hgmap.report.palette import PAPER

MARGIN_PX: Final = 160
"""Painted beyond each side of the window (logical px)."""

_AHEAD_PX: Final = 48

Affine = tuple[float, float, float, float, float, float]
"""``x = a*column + b*row + c`` and ``y = d*column + e*row + f`` (m), as (a, b, c, d, e, f)."""


class Underlay(NamedTuple):
    """An image below the plan; (0, 0) of its pixels is its upper left corner."""

    image: QImage
    transform: Affine
    opacity: float = 1.0


def place_of(view: View, ratio: float) -> Place:
    """Return where the plan lies on the window, in device pixels."""
    left, top = view.to_widget(0.0, 0.0)
    return Place(view.px_per_m * ratio, left * ratio, top * ratio, PX_PER_PT * ratio)


def paint_ground(
    painter: QPainter, prepared: Prepared, underlay: Underlay | None, place: Place, window: QRect
) -> None:
    """Paint white paper, the image below the plan, and the plan."""
    painter.fillRect(window, QColor(PAPER))
    if underlay is not None:
        a, b, c, d, e, f = underlay.transform
        painter.save()
        painter.setClipRect(window)
        painter.setOpacity(underlay.opacity)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        to_px = QTransform(place.scale, 0.0, 0.0, -place.scale, place.left, place.top)
        painter.setTransform(QTransform(a, d, b, e, c, f) * to_px, True)
        painter.drawImage(QPoint(0, 0), underlay.image)
        painter.restore()
    paint(painter, prepared, place, window)


class Backing:
    """What was painted last: the picture, where the plan lies on it, and how long it took."""

    def __init__(self) -> None:
        self.prepared = Prepared()
        self.underlay: Underlay | None = None
        self.took_s = 0.0
        """How long the last whole picture took."""
        self._image = QImage()
        self._place = Place(1.0, 0.0, 0.0)
        self._held = QRect()
        """What of the picture is painted."""
        self._valid = False

    def drop(self) -> None:
        """Say that the picture is out of date."""
        self._valid = False
        self.took_s = 0.0

    def is_crisp(self, view: View, ratio: float) -> bool:
        """Tell whether the picture is of this scale and up to date."""
        place = place_of(view, ratio)
        return (
            self._valid
            and self._place.scale == place.scale
            and self._place.px_per_pt == place.px_per_pt
        )

    def refresh(self, view: View, ratio: float) -> None:
        """Make the picture right for a view: nothing, the strips that came in, or all of it."""
        place = place_of(view, ratio)
        window = self._window(view, ratio)
        if not self.is_crisp(view, ratio):
            self._paint_all(place, window, ratio)
            return
        shown = window.translated(self._offset(place))
        if self._held.contains(shown):
            return
        if not self._image.rect().contains(shown):
            shown = self._scroll(place, window, ratio)
        # some more than is wanted: the next steps of the pan find it there
        more = round(_AHEAD_PX * ratio)
        self._fill(self._held | (shown.adjusted(-more, -more, more, more) & self._image.rect()))

    def widen(self, view: View, ratio: float) -> None:
        """Paint what lies beyond the window, while nobody waits for it."""
        if self.is_crisp(view, ratio):
            self._fill(self._image.rect())

    def show(self, painter: QPainter, view: View, ratio: float) -> None:
        """Lay the picture down on the window (device px), enlarged if it is of another scale."""
        place = place_of(view, ratio)
        window = self._window(view, ratio)
        if self._image.isNull():
            painter.fillRect(window, QColor(PAPER))
            return
        if self._place.scale == place.scale:
            # blitting pixel for pixel, so copy rather than mix
            painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
            painter.drawImage(window, self._image, window.translated(self._offset(place)))
            painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_SourceOver)
            return
        painter.fillRect(window, QColor(PAPER))
        factor = place.scale / self._place.scale
        target = QRectF(
            place.left + (self._held.left() - self._place.left) * factor,
            place.top + (self._held.top() - self._place.top) * factor,
            self._held.width() * factor,
            self._held.height() * factor,
        )
        held = target & QRectF(window)
        source = QRectF(
            self._held.left() + (held.left() - target.left()) / factor,
            self._held.top() + (held.top() - target.top()) / factor,
            held.width() / factor,
            held.height() / factor,
        )
        painter.drawImage(held, self._image, source)

    def _window(self, view: View, ratio: float) -> QRect:
        return QRect(0, 0, round(view.width_px * ratio), round(view.height_px * ratio))

    def _offset(self, place: Place) -> QPoint:
        """Return what takes a pixel of the window to one of the picture."""
        return QPoint(round(self._place.left - place.left), round(self._place.top - place.top))

    def _blank(self, window: QRect, ratio: float) -> tuple[QImage, int]:
        margin = round(MARGIN_PX * ratio)
        size = window.adjusted(-margin, -margin, margin, margin).size()
        return QImage(size, QImage.Format.Format_RGB32), margin

    def _paint_all(self, place: Place, window: QRect, ratio: float) -> None:
        start = time.perf_counter()
        self._image, margin = self._blank(window, ratio)
        self._place = Place(place.scale, place.left + margin, place.top + margin, place.px_per_pt)
        self._held = QRect()
        self._valid = True
        self._fill(window.translated(margin, margin))
        self.took_s = time.perf_counter() - start

    def _scroll(self, place: Place, window: QRect, ratio: float) -> QRect:
        """Move the picture so that the window lies in its middle; return where it lies."""
        image, margin = self._blank(window, ratio)
        offset = self._offset(place)
        shift = QPoint(margin - offset.x(), margin - offset.y())
        old = self._place
        self._place = Place(old.scale, old.left + shift.x(), old.top + shift.y(), old.px_per_pt)
        painter = QPainter(image)
        painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
        painter.drawImage(shift, self._image)
        painter.end()
        self._image = image
        self._held = self._held.translated(shift) & image.rect()
        shown = window.translated(margin, margin)
        if not self._held.intersects(shown):
            self._held = QRect()
        return shown

    def _fill(self, wanted: QRect) -> None:
        """Paint what is wanted and not held yet."""
        painter = QPainter(self._image)
        for strip in _around(self._held, wanted):
            paint_ground(painter, self.prepared, self.underlay, self._place, strip)
        painter.end()
        self._held = wanted


def _around(held: QRect, whole: QRect) -> list[QRect]:
    """Return the rectangles that fill a whole round what is held of it."""
    held = held & whole
    if held.isEmpty():
        return [whole]
    below = held.bottom() + 1
    strips = [
        QRect(whole.left(), whole.top(), whole.width(), held.top() - whole.top()),
        QRect(whole.left(), below, whole.width(), whole.bottom() + 1 - below),
        QRect(whole.left(), held.top(), held.left() - whole.left(), held.height()),
        QRect(held.right() + 1, held.top(), whole.right() - held.right(), held.height()),
    ]
    return [strip for strip in strips if not strip.isEmpty()]


def paint_over(painter: QPainter, overlay: Prepared, view: View, ratio: float) -> None:
    """Paint what lies on top, on the window (device px)."""
    window = QRect(0, 0, round(view.width_px * ratio), round(view.height_px * ratio))
    paint(painter, overlay, place_of(view, ratio), window)
