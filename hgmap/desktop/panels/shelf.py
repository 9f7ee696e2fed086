"""A question that scrolls where it is long: it never makes the window taller."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QScrollArea, QSizePolicy, QWidget

from hgmap.desktop.panels.ask_row import AskRow
from hgmap.desktop.words import tr

LEAST_PX = 110


class Shelf(QScrollArea):
    """Holds a question, as tall as it is where there is room; what is beside it makes room.

    Parameters
    ----------
    ask : AskRow
    makes_room : sequence of QWidget
        Hidden while something is asked.
    """

    def __init__(self, ask: AskRow, makes_room: Sequence[QWidget]) -> None:
        super().__init__()
        self.setAccessibleName(tr("What is asked"))
        self.ask, self._makes_room = ask, tuple(makes_room)
        self._high = LEAST_PX
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.setWidget(ask)
        ask.told = self._come_or_go
        self._measure_soon = QTimer(self)
        self._measure_soon.setSingleShot(True)
        self._measure_soon.timeout.connect(self._measure)
        self.hide()

    def _come_or_go(self) -> None:
        asking = self.ask.asking
        self.setVisible(asking)
        for one in self._makes_room:
            one.setVisible(not asking)
        if asking:
            self.verticalScrollBar().setValue(0)
            self._measure()
            self._measure_soon.start(0)

    def _measure(self) -> None:
        layout = self.ask.layout()
        if layout is None:
            return
        layout.invalidate()
        wide = max(self.viewport().width(), 200)
        least = layout.totalMinimumSize().height()
        self._high = max(layout.totalHeightForWidth(wide), least) + 2
        self.setMaximumHeight(self._high)
        self.updateGeometry()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Measure again for another width."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width() and self.ask.asking:
            self._measure_soon.start(0)

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return the size of the whole question."""
        return QSize(280, self._high)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        """Return what is left of it where there is little room."""
        return QSize(200, min(self._high, LEAST_PX))
