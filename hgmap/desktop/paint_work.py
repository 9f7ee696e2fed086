"""Painting beside the window: one thread of a canvas paints what is ordered, the newest first.

Qt keeps Python's lock through most of its calls, so no single call may be long: items are painted
one by one, and between two of them the thread looks whether anybody still waits.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from PySide6.QtCore import QObject, QPoint, QRect, QSize, Signal
from PySide6.QtGui import QColor, QImage, QPainter, QTransform

from hgmap.desktop.hands import Hands
from hgmap.desktop.painter import PX_PER_PT, PaintStopped, Place, Prepared, paint
from hgmap.desktop.view import View
from hgmap.desktop.work import SWITCH_S
from hgmap.report.drawing import Drawing
from hgmap.report.palette import PAPER

Affine = tuple[float, float, float, float, float, float]
"""``x = a*column + b*row + c`` and ``y = d*column + e*row + f`` (m), as (a, b, c, d, e, f)."""

_BAND_PX: Final = 1 << 18
"""Pixels of an image under the plan that are laid down in one call."""


class Underlay(NamedTuple):
    """An image below the plan; (0, 0) of its pixels is its upper left corner."""

    image: QImage
    transform: Affine
    opacity: float = 1.0


class Ground:
    """A drawing on an image below it: one state of the plan, known by being itself.

    What is prepared of it belongs to the thread that paints.
    """

    def __init__(self, drawing: Drawing = (), underlay: Underlay | None = None) -> None:
        self.drawing, self.underlay = drawing, underlay
        self._prepared: Prepared | None = None

    def on(self, underlay: Underlay | None) -> Ground:
        """Return the same drawing on another image."""
        return Ground(self.drawing, underlay)

    def prepared(self) -> Prepared:
        """Return the drawing as the painter wants it; to be asked for by one thread at a time."""
        if self._prepared is None:
            self._prepared = Prepared(self.drawing)
        return self._prepared


class Order:
    """What is to be painted.

    Attributes
    ----------
    kind : str
        "whole" for a picture that takes the place of the old one; "strips" and "wide" for pieces
        that are laid into it, wanted now or later.
    place : Place
        Where the plan lies on the picture.
    size : QSize
        Of the whole picture (px).
    strips : tuple of QRect
        What of the picture is to be painted.
    held : QRect
        What of the picture is painted once this is done.
    """

    def __init__(
        self,
        kind: str,
        ground: Ground,
        place: Place,
        size: QSize,
        strips: tuple[QRect, ...],
        held: QRect,
    ) -> None:
        self.kind, self.ground, self.place, self.size = kind, ground, place, size
        self.strips, self.held = strips, held
        self._stopped = False

    def stop(self) -> None:
        """Say that nobody waits for it any more."""
        self._stopped = True

    def is_stale(self) -> bool:
        """Tell whether nobody waits for it any more."""
        return self._stopped


class Made(NamedTuple):
    """What came of an order: the whole picture, or an image for each strip."""

    order: Order
    images: tuple[QImage, ...] = ()
    took_s: float = 0.0
    error: Exception | None = None


def place_of(view: View, ratio: float) -> Place:
    """Return where the plan lies on the window, in device pixels."""
    left, top = view.to_widget(0.0, 0.0)
    return Place(view.px_per_m * ratio, left * ratio, top * ratio, PX_PER_PT * ratio)


def blank(size: QSize) -> QImage:
    """Return a picture on which nothing is painted yet, not even paper."""
    return QImage(size, QImage.Format.Format_RGB32)


def paint_ground(
    painter: QPainter,
    ground: Ground,
    place: Place,
    window: QRect,
    stale: Callable[[], bool] | None = None,
) -> None:
    """Paint white paper, the image below the plan, and the plan."""
    painter.fillRect(window, QColor(PAPER))
    if ground.underlay is not None:
        _paint_underlay(painter, ground.underlay, place, window)
    paint(painter, ground.prepared(), place, window, stale)


def _paint_underlay(painter: QPainter, underlay: Underlay, place: Place, window: QRect) -> None:
    a, b, c, d, e, f = underlay.transform
    to_px = QTransform(place.scale, 0.0, 0.0, -place.scale, place.left, place.top)
    high = max(1, _BAND_PX // max(1, window.width()))
    for top in range(window.top(), window.bottom() + 1, high):
        painter.save()
        painter.setClipRect(QRect(window.left(), top, window.width(), high) & window)
        painter.setOpacity(underlay.opacity)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.setTransform(QTransform(a, d, b, e, c, f) * to_px, True)
        painter.drawImage(QPoint(0, 0), underlay.image)
        painter.restore()


def carry_out(order: Order) -> Made:
    """Paint an order, in any thread that nobody else paints this ground in.

    Raises
    ------
    PaintStopped
        If it has become stale.
    """
    begin = time.perf_counter()
    if order.kind == "whole":
        image = blank(order.size)
        for strip in order.strips:
            _paint_strip(image, order, strip, QPoint(0, 0))
        return Made(order, (image,), time.perf_counter() - begin)
    images = []
    for strip in order.strips:
        image = blank(strip.size())
        _paint_strip(image, order, strip, strip.topLeft())
        images.append(image)
    return Made(order, tuple(images), time.perf_counter() - begin)


def _paint_strip(image: QImage, order: Order, strip: QRect, corner: QPoint) -> None:
    painter = QPainter(image)
    try:
        # by whole pixels, so that strips fit and every stamp lies as it would in one picture
        painter.translate(-corner)
        paint_ground(painter, order.ground, order.place, strip, order.is_stale)
    finally:
        painter.end()


class _Back(QObject):
    """Carries what was painted to the window's thread."""

    painted = Signal(object)


@dataclass(frozen=True)
class _Run:
    order: Order
    back: _Back

    def run(self) -> None:
        order = self.order
        if order.is_stale():
            return
        try:
            made = carry_out(order)
        except PaintStopped:
            return
        except Exception as error:  # whatever it is, the canvas has to hear of it
            made = Made(order, error=error)
        self.back.painted.emit(made)


class PaintWork:
    """The thread of one canvas.

    It belongs to no widget, so that it can be waited for without Python's lock in hand.
    """

    def __init__(self) -> None:
        sys.setswitchinterval(SWITCH_S)
        self._hands = Hands(1, "paint")
        self.back = _Back()
        self._last: Order | None = None

    def start(self, order: Order) -> None:
        """Paint this; what was ordered before is stale."""
        if self._last is not None:
            self._last.stop()
        self._last = order
        self._hands.give(_Run(order, self.back).run)

    def close(self) -> None:
        """Stop, and wait for the thread."""
        if self._last is not None:
            self._last.stop()
        self._last = None
        self._hands.wait()
