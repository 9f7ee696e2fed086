"""A panel whose tools scroll above its table, and the sentence that a map is not of now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.session import Session


class TallPanel(Panel):
    """Everything above the table scrolls where the window is low."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.body.removeWidget(self.answer)
        inside = QWidget()
        self.top = QVBoxLayout(inside)
        self.top.setContentsMargins(0, 0, 4, 0)
        self.shelf = QScrollArea()
        self.shelf.setAccessibleName(tr("Answer and tools"))
        self.shelf.setWidgetResizable(True)
        self.shelf.setFrameShape(QFrame.Shape.NoFrame)
        self.shelf.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.shelf.setWidget(inside)
        self.behind = label("")
        self.behind.setProperty("alarm", True)
        self.behind.hide()
        self.top.addWidget(self.behind)
        self.top.addWidget(self.answer)
        self.body.insertWidget(0, self.shelf, 3)
        self.points.setMinimumHeight(96)
        self.body.setStretchFactor(self.points, 2)
        self.entered = False

    def say_if_behind(self) -> bool:
        """Say that the picture is of before the last change, if it is; tell whether."""
        text = behind_words(self.desk.session)
        self.behind.setText(text)
        self.behind.setVisible(bool(text))
        return bool(text)


def behind_words(session: Session) -> str:
    """Return what is to be said while the map on the screen is not of now."""
    if not session.behind or session.site is None:
        return ""
    if session.draft is not None:
        return tr("A draft: it rules on nothing. The zones are being made.")
    if session.mapped is None:
        return tr("The map is being made.")
    return tr("The picture is of before the last change. Nothing on it is current.")


def label(text: str, *, soft: bool = False, title: bool = False) -> QLabel:
    """Return a label that wraps and can be copied from; what it says is plain text."""
    made = QLabel(text)
    made.setWordWrap(True)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if soft:
        made.setProperty("soft", True)
    if title:
        made.setProperty("title", True)
    return made
