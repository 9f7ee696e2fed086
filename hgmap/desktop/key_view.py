"""The key of what the plan shows, under the explanation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QPoint, QRect, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPixmap

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.explain_panel import ExplainPanel
    from hgmap.desktop.plan_view import PlanView
    from hgmap.report.drawing import Drawing
    from hgmap.scene.floor_scene import Scene, Shown
    from hgmap.scene.key import Key

PX_PER_MM: Final = 96.0 / 25.4
WIDTH_MM: Final = 58.0
PAD_MM: Final = 1.5


class KeyView(QObject):
    """Has the key painted anew, beside the window, with every picture of the plan."""

    def __init__(self, desk: Desk, plan_view: PlanView, panel: ExplainPanel) -> None:
        super().__init__(panel)
        self.desk, self.plan_view, self.panel = desk, plan_view, panel
        self.instead: Key | None = None
        plan_view.painted.connect(self.paint)
        desk.told.key_wanted.connect(self.take)
        self.paint()

    def take(self, instead: Key | None) -> None:
        """Explain what lies over the plan and hides it; None: explain the plan."""
        self.instead = instead
        self.paint()

    def paint(self) -> None:
        """Paint the key, or nothing where nothing is explained yet."""
        scene, shown, instead = self.plan_view.scene, self.plan_view.shown, self.instead
        if instead is not None:
            ratio = self.panel.devicePixelRatioF()
            self.desk.jobs.start(
                "key", lambda progress, cancelled: _painted(*instead(WIDTH_MM), ratio), self._show,
                self._failed,
            )  # fmt: skip
            return
        if scene is None or shown is None:
            self.desk.jobs.drop("key")
            self.panel.key.clear()
            self.panel.key_title.hide()
            return
        views = self.desk.session.choices.views
        ratio = self.panel.devicePixelRatioF()

        def work(progress: object, cancelled: object) -> QImage | None:
            return picture_of_key(shown, scene, views, ratio)

        self.desk.jobs.start("key", work, self._show, self._failed)

    def _show(self, image: QImage | None) -> None:
        self.panel.key_title.setVisible(image is not None)
        if image is None:
            self.panel.key.clear()
        else:
            self.panel.key.setPixmap(QPixmap.fromImage(image))

    def _failed(self, error: Exception) -> None:
        self._show(None)
        self.desk.session.trouble.emit(str(error))


def picture_of_key(
    shown: Shown, scene: Scene, views: frozenset[str], ratio: float
) -> QImage | None:
    """Paint the key of what is shown; None where nothing needs one. Any thread may do it."""
    from hgmap.scene.key import key_of

    return _painted(*key_of(shown, scene, views, WIDTH_MM), ratio)


def _painted(drawing: Drawing, height: float, ratio: float) -> QImage | None:
    """Paint a key that was laid out (mm); None where there is nothing on it."""
    from hgmap.desktop.painter import Place, Prepared, paint
    from hgmap.report.drawing import PT_PER_MM
    from hgmap.scene.key import TALL_MM

    if not drawing:
        return None
    scale = PX_PER_MM * ratio
    size = QSize(
        math.ceil((WIDTH_MM + 2.0 * PAD_MM) * scale), math.ceil((height + 2.0 * PAD_MM) * scale)
    )
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    place = Place(scale, PAD_MM * scale, (TALL_MM + PAD_MM) * scale, scale / PT_PER_MM)
    paint(painter, Prepared(drawing), place, QRect(QPoint(0, 0), size))
    painter.end()
    image.setDevicePixelRatio(ratio)
    return image
