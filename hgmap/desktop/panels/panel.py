"""What a question brings when it is chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from hgmap.desktop.panels.points import PointsTable
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import Question


class Panel(QWidget):
    """The answer so far, what is open, and room for tools; panels of a question build on it.

    ``enter`` and ``leave`` are called as its question is chosen and left: tools and overlays on
    the plan come and go with them. ``actions_of`` go into the menu of the question.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self._actions: list[QAction] = []
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(10, 8, 10, 8)
        self.answer = QLabel()
        self.answer.setWordWrap(True)
        self.answer.setTextFormat(Qt.TextFormat.PlainText)
        self.body.addWidget(self.answer)
        self.points = PointsTable(desk)
        self.points.setAccessibleName(tr("Open points"))
        self.body.addWidget(self.points, 1)

    def take(self, question: Question) -> None:
        """Show where the question stands."""
        self.answer.setText(question.answer)
        self.answer.setVisible(bool(question.answer))
        self.points.take(question.points)

    def actions_of(self) -> Sequence[QAction]:
        """Return what can be done here; each has a shortcut."""
        return tuple(self._actions)

    def offer(self, text: str, shortcut: str, act: Callable[[], object]) -> QAction:
        """Add something that can be done here."""
        action = QAction(text, self)
        action.setShortcut(QKeySequence(shortcut))
        action.triggered.connect(lambda _=False: act())
        self._actions.append(action)
        return action

    def focus_table(self) -> None:
        """Go to the table."""
        self.points.setFocus()

    def enter(self) -> None:
        """Take over the plan's tools."""

    def leave(self) -> None:
        """Give them back."""
        self.desk.canvas.set_tool(None)
        self.desk.point_at(None)
        self.desk.say("")
