"""The plan in a widget: what is shown of it, at which size; it is painted beside the window."""

from __future__ import annotations

import weakref
from collections.abc import Callable, Sequence
from typing import Final

from PySide6.QtCore import QPointF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QImage, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from hgmap.desktop.backing import Backing, paint_over
from hgmap.desktop.paint_work import (
    Ground,
    Made,
    PaintWork,
    Underlay,
    carry_out,
    paint_ground,
    place_of,
)
from hgmap.desktop.prepared import Prepared
from hgmap.desktop.scale_bar import paint_bar
from hgmap.desktop.view import Bounds, View
from hgmap.desktop.warm_up import warm_up
from hgmap.report.drawing import Drawing

_SETTLED_MS: Final = 250
_CRISP_MS: Final = 40
_QUICK_S: Final = 0.012
"""A picture that takes longer than this is painted only when the zoom rests."""


class PlanWidget(QWidget):
    """A drawing in metres on white paper, with overlays and a scale bar."""

    view_changed = Signal()
    view_settled = Signal()
    """Some time after the last change: what is laid out for a scale may be laid out anew."""
    picture_changed = Signal()
    """A crisp picture, or more of it, has come."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(120, 90)
        self._view = View(width_px=float(self.width()), height_px=float(self.height()))
        self._extent: Bounds | None = None
        self._fitted: Bounds | None = None
        self._backing = Backing()
        self._overlays: dict[str, Prepared] = {}
        self._settled = self._timer(_SETTLED_MS, self._settle)
        self._crisp = self._timer(_CRISP_MS, self.update)
        warm_up()
        work = self._work = PaintWork()
        work.back.painted.connect(self._take, Qt.ConnectionType.QueuedConnection)
        self.destroyed.connect(lambda: work.close())
        # at the end of the program, too, before Qt goes
        weakref.finalize(self, work.close)

    def _timer(self, after_ms: int, what: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(after_ms)
        timer.timeout.connect(what)
        return timer

    # what is shown

    def set_drawing(self, drawing: Drawing, extent: Bounds) -> None:
        """Show another drawing (m) whose whole is ``extent``; the view stays where it is.

        The first one is shown whole.
        """
        first = self._extent is None
        self._extent = extent
        self._backing.ground = Ground(drawing, self._backing.ground.underlay)
        if first:
            self.fit()
        self.update()

    def set_underlay(
        self, image: QImage | None, transform: Sequence[float] = (), opacity: float = 1.0
    ) -> None:
        """Show an image below the plan, or none.

        ``transform`` is (a, b, c, d, e, f): ``x = a*column + b*row + c`` and
        ``y = d*column + e*row + f`` (m), from pixels counted from the upper left corner.
        """
        ground = self._backing.ground
        if image is None:
            self._backing.ground = ground.on(None)
        else:
            a, b, c, d, e, f = map(float, transform)
            held = image.convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)
            held.setDevicePixelRatio(1.0)
            self._backing.ground = ground.on(Underlay(held, (a, b, c, d, e, f), opacity))
        self.update()

    def set_overlay(self, key: str, drawing: Drawing) -> None:
        """Lay items (m) over the plan, in place of those of the same key; none takes them away."""
        if drawing:
            self._overlays[key] = Prepared(drawing)
        else:
            self._overlays.pop(key, None)
        self.update()

    # where it is seen from

    @property
    def view(self) -> View:
        """What part of the plan is seen."""
        return self._view

    @property
    def px_per_m(self) -> float:
        """Logical pixels per metre."""
        return self._view.px_per_m

    def to_plan(self, place: QPointF) -> tuple[float, float]:
        """Return the place of the plan (m) under a place of the widget (logical px)."""
        return self._view.to_plan(place.x(), place.y())

    def to_widget(self, x: float, y: float) -> QPointF:
        """Return where a place of the plan (m) lies on the widget (logical px)."""
        return QPointF(*self._view.to_widget(x, y))

    def set_view(self, view: View) -> None:
        """Show another part, at another size."""
        self._fitted = None
        self._change(view)

    def fit(self, bounds: Bounds | None = None) -> None:
        """Show all of a rectangle (m), of the whole drawing unless told."""
        wanted = bounds or self._extent
        if wanted is not None:
            # a widget that was never shown has a size, but nobody told it so
            sized = self._view.resized(float(self.width()), float(self.height()))
            self._change(sized.fitted(wanted))
            self._fitted = wanted

    def zoom_by(self, factor: float, at_px: QPointF | None = None) -> None:
        """Enlarge; the place under ``at_px``, or in the middle, stays where it is."""
        at = None if at_px is None else (at_px.x(), at_px.y())
        self.set_view(self._view.zoomed(factor, at))

    def pan_by(self, dx_px: float, dy_px: float) -> None:
        """Move the picture right and down, by whole pixels of the device."""
        ratio = self.devicePixelRatioF()
        self.set_view(self._view.panned(round(dx_px * ratio) / ratio, round(dy_px * ratio) / ratio))

    def show_place(self, x: float, y: float) -> None:
        """Bring a place (m) to the middle, unless it is well in sight."""
        west, south, east, north = self._view.bounds
        edge_x, edge_y = 0.15 * (east - west), 0.15 * (north - south)
        if not (west + edge_x <= x <= east - edge_x and south + edge_y <= y <= north - edge_y):
            self.set_view(self._view.centred(x, y))

    def _change(self, view: View) -> None:
        if view == self._view:
            return
        if view.px_per_m != self._view.px_per_m and self._backing.took_s > _QUICK_S:
            self._crisp.start()
        self._view = view
        self._backing.widen(False)
        self._settled.start()
        self.update()
        self.view_changed.emit()

    def _settle(self) -> None:
        self._backing.widen()
        self._ask()
        self.view_settled.emit()

    # painting

    @property
    def busy(self) -> bool:
        """Whether a picture of what is to be shown is still being painted, or waits to be."""
        if self._crisp.isActive() or self._backing.asked is not None:
            return True
        return self.isVisible() and self._lacks_something()

    def _lacks_something(self) -> bool:
        return not self._backing.is_whole(self._view, self.devicePixelRatioF())

    @property
    def shows_the_newest(self) -> bool:
        """Whether the picture on the screen is of the drawing that was set last, at any size."""
        return self._backing.is_of_now()

    def complete(self) -> None:
        """Paint what the window lacks and wait for it; for pictures of the window."""
        self._crisp.stop()
        self._work.close()
        backing, ratio = self._backing, self.devicePixelRatioF()
        backing.drop()
        while self._lacks_something():
            order = backing.wanted(self._view, ratio)
            if order is None:
                break
            backing.take(carry_out(order))
        self.update()
        self.picture_changed.emit()

    def stop_painting(self) -> None:
        """Give up what is being painted and wait for the thread; the picture stays as it is."""
        self._crisp.stop()
        self._backing.drop()
        self._work.close()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Wait for the thread."""
        self.stop_painting()
        super().closeEvent(event)

    def _ask(self) -> None:
        """Have painted what is lacking."""
        if not self._crisp.isActive():
            order = self._backing.wanted(self._view, self.devicePixelRatioF())
            if order is not None:
                self._work.start(order)

    def _take(self, made: Made) -> None:
        """Let what was painted take the old picture's place; what is stale is dropped."""
        if self._backing.take(made):
            self.update()
            self.picture_changed.emit()
        elif made.error is not None:
            raise made.error

    def grab_picture(self, size: QSize, ratio: float = 1.0) -> QImage:
        """Return what is seen, crisp, on a picture of another size (logical px)."""
        view = self._view.resized(float(size.width()), float(size.height()))
        image = QImage(size * ratio, QImage.Format.Format_RGB32)
        painter = QPainter(image)
        place = place_of(view, ratio)
        ground = self._backing.ground
        # prepared anew: what is prepared already belongs to the thread that paints
        paint_ground(painter, Ground(ground.drawing, ground.underlay), place, image.rect())
        self._paint_top(painter, view, ratio)
        painter.scale(ratio, ratio)
        paint_bar(painter, view.px_per_m, view.height_px)
        painter.end()
        image.setDevicePixelRatio(ratio)
        return image

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Lay down the picture, what lies on top, the scale bar and the ring of the focus."""
        ratio = self.devicePixelRatioF()
        self._ask()
        painter = QPainter(self)
        painter.scale(1.0 / ratio, 1.0 / ratio)
        self._backing.show(painter, self._view, ratio)
        self._paint_top(painter, self._view, ratio)
        painter.scale(ratio, ratio)
        paint_bar(painter, self._view.px_per_m, self._view.height_px)
        if self.hasFocus():
            pen = QPen(self.palette().highlight().color(), 2.0)
            pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _paint_top(self, painter: QPainter, view: View, ratio: float) -> None:
        for overlay in self._tops():
            paint_over(painter, overlay, view, ratio)

    def _tops(self) -> tuple[Prepared, ...]:
        """Return what lies over the plan, from below up."""
        return tuple(self._overlays.values())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Keep the middle; a plan that was shown whole is shown whole again."""
        view = self._view.resized(float(event.size().width()), float(event.size().height()))
        fitted = self._fitted
        self._change(view if fitted is None else view.fitted(fitted))
        self._fitted = fitted

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a size to begin with."""
        return QSize(960, 640)
