"""The key of what the plan shows, under the explanation."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject
from PySide6.QtGui import QPixmap

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.explain_panel import ExplainPanel
    from hgmap.desktop.plan_view import PlanView

PX_PER_MM: Final = 96.0 / 25.4
WIDTH_MM: Final = 58.0
PAD_MM: Final = 1.5


class KeyView(QObject):
    """Paints the key anew with every picture of the plan."""

    def __init__(self, desk: Desk, plan_view: PlanView, panel: ExplainPanel) -> None:
        super().__init__(panel)
        self.desk, self.plan_view, self.panel = desk, plan_view, panel
        plan_view.painted.connect(self.paint)
        self.paint()

    def paint(self) -> None:
        """Paint the key, or nothing where nothing is explained yet."""
        scene, shown = self.plan_view.scene, self.plan_view.shown
        if scene is None or shown is None:
            self.panel.key.clear()
            self.panel.key_title.hide()
            return
        from hgmap.desktop.painter import picture_of
        from hgmap.scene.key import TALL_MM, key_of

        drawing, height = key_of(shown, scene, self.desk.session.choices.views, WIDTH_MM)  # type: ignore[arg-type]
        self.panel.key_title.setVisible(bool(drawing))
        if not drawing:
            self.panel.key.clear()
            return
        ratio = self.panel.devicePixelRatioF()
        image = picture_of(
            drawing,
            (-PAD_MM, TALL_MM - height - PAD_MM, WIDTH_MM + PAD_MM, TALL_MM + PAD_MM),
            PX_PER_MM,
            ratio,
        )
        self.panel.key.setPixmap(QPixmap.fromImage(image))
