"""The painted plan kept in memory, wider than the window: a pan only moves it.

The window's thread only keeps, moves and lays down what was painted; what is wanted is written as
an :class:`Order`, and painted beside the window (:mod:`hgmap.desktop.paint_work`). The old picture
stays, moved and scaled with the view, until the new one is there.
"""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QPoint, QRect, QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from hgmap.desktop.paint_work import Ground, Made, Order, blank, place_of
from hgmap.desktop.painter import Place, Prepared, paint
from hgmap.desktop.view import View
from hgmap.report.palette import PAPER

MARGIN_PX: Final = 160
"""Kept beyond each side of the window (logical px)."""

_AHEAD_PX: Final = 48


class Backing:
    """The picture that is shown, and what is wanted instead of it.

    ``ground`` is what has to be shown; each change of it is a new one, and a picture counts as up
    to date only if it was painted from this very one.
    """

    def __init__(self) -> None:
        self.ground = Ground()
        self.took_s = 0.0
        """How long the last whole picture took to paint, beside the window."""
        self.asked: Order | None = None
        """What is being painted."""
        self._image = QImage()
        self._place = Place(1.0, 0.0, 0.0)
        self._held = QRect()
        """What of the picture is painted."""
        self._painted: Ground | None = None
        self._refused: tuple[Ground, Place] | None = None
        self._wide = False

    def is_of_now(self) -> bool:
        """Tell whether the picture, whatever its scale, was painted of the ground as it is."""
        return self._painted is self.ground

    def is_crisp(self, view: View, ratio: float) -> bool:
        """Tell whether the picture is of this scale and up to date."""
        return (
            self.is_of_now()
            and not self._held.isEmpty()
            and _alike(self._place, place_of(view, ratio))
        )

    def is_whole(self, view: View, ratio: float) -> bool:
        """Tell whether the window is covered by a picture that is crisp."""
        if not self.is_crisp(view, ratio):
            return False
        return self._held.contains(self._shown(view, ratio))

    def widen(self, wide: bool = True) -> None:
        """Let what lies beyond the window be painted too, while nobody waits for it."""
        self._wide = wide

    def wanted(self, view: View, ratio: float) -> Order | None:
        """Return what has to be painted now in place of what is being painted; None: nothing.

        What is being painted and of no use any more is marked as stale.
        """
        order = self._wanted(view, ratio)
        asked = self.asked
        if asked is not None and (order is None or not self._serves(asked, order)):
            if order is None and asked.kind != "whole":
                return None
            self.drop()
            asked = None
        if asked is not None:
            return None
        self.asked = order
        return order

    def drop(self) -> None:
        """Let what is being painted be stale."""
        if self.asked is not None:
            self.asked.stop()
        self.asked = None

    def _wanted(self, view: View, ratio: float) -> Order | None:
        place = place_of(view, ratio)
        if not self.is_crisp(view, ratio):
            return self._whole(view, ratio)
        shown = self._shown(view, ratio)
        if not self._held.contains(shown):
            if not self._image.rect().contains(shown):
                shown = self._scroll(place, view, ratio)
                if self._held.isEmpty():
                    return self._whole(view, ratio)
            # some more than is wanted: the next steps of the pan find it there
            more = round(_AHEAD_PX * ratio)
            wanted = shown.adjusted(-more, -more, more, more)
            wanted = self._held | (wanted & self._image.rect())
            return self._strips("strips", wanted)
        if self._wide and not self._held.contains(self._image.rect()):
            return self._strips("wide", self._image.rect())
        return None

    def _whole(self, view: View, ratio: float) -> Order | None:
        place, margin = place_of(view, ratio), round(MARGIN_PX * ratio)
        if self._refused == (self.ground, place):
            return None
        window = _window(view, ratio)
        size = window.adjusted(-margin, -margin, margin, margin).size()
        lies = Place(place.scale, place.left + margin, place.top + margin, place.px_per_pt)
        wanted = window.translated(margin, margin)
        return Order("whole", self.ground, lies, size, (wanted,), wanted)

    def _strips(self, kind: str, wanted: QRect) -> Order:
        strips = tuple(_around(self._held, wanted))
        return Order(kind, self.ground, self._place, self._image.size(), strips, wanted)

    def _serves(self, asked: Order, order: Order) -> bool:
        """Tell whether what is being painted may be waited for."""
        if asked.ground is not order.ground or not _alike(asked.place, order.place):
            return False
        if order.kind != "whole":
            return asked.kind == order.kind or asked.kind == "strips"
        if asked.kind != "whole":
            return False
        wanted = order.held.translated(_offset(asked.place, order.place))
        return QRect(QPoint(0, 0), asked.size).contains(wanted)

    def take(self, made: Made) -> bool:
        """Take what was painted, in one step; tell whether it is of use."""
        order = made.order
        if order is not self.asked:
            return False
        self.asked = None
        if made.error is not None:
            self._refused = (order.ground, _without_margin(order))
            return False
        if order.kind == "whole":
            self._image, self._place, self._held = made.images[0], order.place, order.held
            self._painted = order.ground
            self.took_s = made.took_s
            return True
        if self._held.isEmpty():
            return False
        shift = _offset(self._place, order.place)
        painter = QPainter(self._image)
        painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
        for strip, image in zip(order.strips, made.images, strict=True):
            painter.drawImage(strip.topLeft() + shift, image)
        painter.end()
        self._held = order.held.translated(shift) & self._image.rect()
        return True

    def show(self, painter: QPainter, view: View, ratio: float) -> None:
        """Lay the picture down on the window (device px), enlarged if it is of another scale."""
        place = place_of(view, ratio)
        window = _window(view, ratio)
        if self._held.isEmpty():
            painter.fillRect(window, QColor(PAPER))
            return
        if _alike(self._place, place):
            shown = self._shown(view, ratio)
            if not self._held.contains(shown):
                painter.fillRect(window, QColor(PAPER))
                shown &= self._held
            # blitting pixel for pixel, so copy rather than mix
            painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
            painter.drawImage(shown.topLeft() - _offset(self._place, place), self._image, shown)
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

    def _shown(self, view: View, ratio: float) -> QRect:
        """Return where in the picture the window lies."""
        return _window(view, ratio).translated(_offset(self._place, place_of(view, ratio)))

    def _scroll(self, place: Place, view: View, ratio: float) -> QRect:
        """Move the picture so that the window lies in its middle; return where it lies."""
        window, margin = _window(view, ratio), round(MARGIN_PX * ratio)
        offset = _offset(self._place, place)
        shift = QPoint(margin - offset.x(), margin - offset.y())
        image = blank(window.adjusted(-margin, -margin, margin, margin).size())
        old, shown = self._place, window.translated(margin, margin)
        held = self._held.translated(shift) & image.rect()
        self._place = Place(old.scale, old.left + shift.x(), old.top + shift.y(), old.px_per_pt)
        if not held.intersects(shown):
            held = QRect()
        else:
            painter = QPainter(image)
            painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
            painter.drawImage(held.topLeft(), self._image, held.translated(-shift))
            painter.end()
        self._image, self._held = image, held
        return shown


def _window(view: View, ratio: float) -> QRect:
    return QRect(0, 0, round(view.width_px * ratio), round(view.height_px * ratio))


def _alike(one: Place, other: Place) -> bool:
    """Tell whether one is the other, moved."""
    return one.scale == other.scale and one.px_per_pt == other.px_per_pt


def _offset(inner: Place, outer: Place) -> QPoint:
    """Return what takes a pixel of ``outer`` to one of ``inner``."""
    return QPoint(round(inner.left - outer.left), round(inner.top - outer.top))


def _without_margin(order: Order) -> Place:
    place, corner = order.place, order.held.topLeft()
    return Place(place.scale, place.left - corner.x(), place.top - corner.y(), place.px_per_pt)


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
    paint(painter, overlay, place_of(view, ratio), _window(view, ratio))
