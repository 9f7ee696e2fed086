"""The survey down the left: five questions in the order of the work, and what the chosen brings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.words import tr, tr_count

ASKED: Final = {
    "plan": "Is the plan sound?",
    "readings": "Can the readings be trusted?",
    "map": "Where is it above the level?",
    "next": "What do we measure next?",
    "release": "Can it be released?",
}
"""As :mod:`hgmap.questions.gather` has them; that module is not loaded before the first picture."""

SIGNS: Final = {"open": "○", "settled": "●", "not yet": "–"}


class QuestionButton(QPushButton):
    """One question: its number, its words, where it stands."""

    def __init__(self, number: int, key: str) -> None:
        super().__init__()
        self.key, self.number = key, number
        self.setCheckable(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 2, 8, 2)
        self.sign = QLabel("–")
        self.sign.setFixedWidth(16)
        self.words = QLabel(tr(ASKED[key]))
        self.count = QLabel()
        self.count.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        for label in (self.sign, self.words, self.count):
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        row.addWidget(self.sign)
        row.addWidget(self.words, 1)
        row.addWidget(self.count)
        self.setMinimumHeight(34)
        self.toggled.connect(self._bold)
        self._bold(False)
        self.say("not yet", 0)

    def say(self, state: str, points: int) -> None:
        """Say where the question stands and how many points are open."""
        self.sign.setText(SIGNS[state])
        self.count.setText(str(points) if points else "")
        words = {"open": tr("open"), "settled": tr("settled"), "not yet": tr("not asked yet")}
        said = words[state]
        if points:
            said = tr_count("{n} open point", "{n} open points", points)
        self.setAccessibleName(f"{self.number}. {tr(ASKED[self.key])} {said}")
        self.setToolTip(f"{said} (Ctrl+{self.number})")

    def _bold(self, on: bool) -> None:
        look = "background: transparent;"
        if on:
            look += " color: palette(highlighted-text); font-weight: bold;"
        for label in (self.sign, self.words, self.count):
            label.setStyleSheet(look)


class QuestionsColumn(QWidget):
    """The questions, and the panel of the chosen one below them."""

    chosen = Signal(str)

    def __init__(self, panels: Mapping[str, Panel]) -> None:
        super().__init__()
        self.panels = dict(panels)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        top = QFrame()
        buttons = QVBoxLayout(top)
        buttons.setContentsMargins(8, 8, 8, 4)
        buttons.setSpacing(3)
        self.group = QButtonGroup(self)
        self.group.setExclusive(True)
        self.buttons: dict[str, QuestionButton] = {}
        self.stack = QStackedWidget()
        for number, key in enumerate(ASKED, start=1):
            button = QuestionButton(number, key)
            self.buttons[key] = button
            self.group.addButton(button)
            buttons.addWidget(button)
            self.stack.addWidget(self.panels[key])
            button.clicked.connect(lambda _=False, key=key: self.choose(key))
        column.addWidget(top)
        column.addWidget(self.stack, 1)
        self.key = ""

    @property
    def panel(self) -> Panel | None:
        """The panel of the chosen question."""
        return self.panels.get(self.key)

    def choose(self, key: str) -> None:
        """Choose a question: the tools of the last one are put away."""
        if key == self.key or key not in self.panels:
            return
        if self.panel is not None:
            self.panel.leave()
        self.key = key
        for (
            other,
            panel,
        ) in self.panels.items():  # questions share shortcuts: the chosen one's count
            here = other == key
            for action in panel.actions_of():
                action.setShortcutContext(
                    Qt.ShortcutContext.WindowShortcut if here else Qt.ShortcutContext.WidgetShortcut
                )
        self.buttons[key].setChecked(True)
        self.stack.setCurrentWidget(self.panels[key])
        self.panels[key].enter()
        self.chosen.emit(key)
