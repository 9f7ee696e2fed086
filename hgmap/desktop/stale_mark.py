"""A hatched label in the corner of the plan: what it shows is not of now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLabel

from hgmap.desktop.panels.tall_panel import behind_words
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk

_MARGIN_PX = 10


class StaleMark(QLabel):
    """Lies on the plan as long as the picture is of before the last change, or a draft.

    It goes with the old picture, not with the old map: until the new picture is painted, too.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.canvas)
        self.desk = desk
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setStyleSheet("background: transparent; color: #1a1a1a; font-weight: bold;")
        self.setContentsMargins(14, 7, 14, 7)
        self.setAccessibleName(tr("State of the picture"))
        self.hide()
        # once everybody has heard of the new map: then its picture is on the way
        self._after = QTimer(self)
        self._after.setSingleShot(True)
        self._after.timeout.connect(self._hide_if_new)
        session = desk.session
        for signal in (session.behind_changed, session.map_changed, session.draft_changed,
                       session.opened):  # fmt: skip
            signal.connect(self.refresh)
        desk.canvas.picture_changed.connect(self.refresh)

    def refresh(self) -> None:
        """Show or hide it."""
        session = self.desk.session
        text = behind_words(session)
        if not text:
            self._after.start(0)
            return
        if session.mapped is None and session.draft is None:
            if self.desk.canvas.shows_the_newest:
                self.hide()
            return
        self.setText(tr("draft") if session.draft else tr("of before the last change"))
        self.adjustSize()
        self.move(_MARGIN_PX, _MARGIN_PX)
        self.show()
        self.raise_()

    def _hide_if_new(self) -> None:
        """Hide it, unless the picture of the map that was made or refused is still on its way."""
        waits = self.desk.jobs.awaits("scene") or not self.desk.canvas.shows_the_newest
        if not (waits or behind_words(self.desk.session)):
            self.hide()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Hatch the paper round the words."""
        painter = QPainter(self)
        box = self.rect().adjusted(1, 1, -2, -2)
        painter.fillRect(box, QColor("#fff3c4"))
        painter.fillRect(box, Qt.BrushStyle.BDiagPattern)
        painter.fillRect(box.adjusted(8, 5, -8, -5), QColor("#fff3c4"))
        painter.setPen(QPen(QColor("#1a1a1a"), 1.4))
        painter.drawRect(box)
        painter.end()
        super().paintEvent(event)
