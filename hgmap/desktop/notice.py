"""A sentence above the plan that stays until it is read: what went wrong, what to do."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from hgmap.desktop.window_words import for_window
from hgmap.desktop.words import tr


class Notice(QFrame):
    """Says one thing at a time; the newest takes the place of the one before."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(10, 4, 6, 4)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        self.text.setProperty("alarm", True)
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.text.setAccessibleName(tr("Notice"))
        self._row.addWidget(self.text, 1)
        self._buttons: list[QPushButton] = []
        self.hide()

    def say(self, text: str, answers: Sequence[tuple[str, Callable[[], object]]] = ()) -> None:
        """Say a sentence, with buttons that answer it and one that puts it away."""
        for button in self._buttons:
            self._row.removeWidget(button)
            button.deleteLater()
        self._buttons = []
        self.text.setText(for_window(text))
        for words, act in (*answers, (tr("Put away"), lambda: None)):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, act=act: self._answer(act))
            self._row.addWidget(button)
            self._buttons.append(button)
        self.show()

    def put_away(self, text: str) -> None:
        """Put a sentence away that holds no more; another one stays until it is read."""
        if text and self.text.text() == for_window(text):
            self.hide()

    def go_to(self) -> None:
        """Let the notice be answered with the keyboard."""
        if self.isVisible() and self._buttons:
            self._buttons[0].setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _answer(self, act: Callable[[], object]) -> None:
        self.hide()
        act()
