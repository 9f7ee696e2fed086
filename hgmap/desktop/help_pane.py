"""How the work is done, beside the plan; it follows the chosen question."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QComboBox,
    QDockWidget,
    QMenu,
    QPushButton,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.words import language, tr

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

FOLDER: Final = Path(__file__).parent / "help"
TOPICS: Final = (
    "start", "new", "plan", "readings", "limits", "instrument", "heights", "level", "map", "key",
    "clears", "next", "release", "people", "trouble", "keys",
)  # fmt: skip
"""In the order of the work; those of the five questions have the questions' names."""

KEYS: Final = "keys"
WIDE: Final = 264


def topic_text(topic: str) -> str:
    """Return a topic in the window's language, else in English; Markdown."""
    own = language()
    for folder in (FOLDER / own, FOLDER / own.partition("_")[0], FOLDER):
        path = folder / f"{topic}.md"
        if path.is_file():
            return path.read_text("utf-8")
    return topic_text(TOPICS[0])


def topic_title(topic: str) -> str:
    """Return the first line of a topic."""
    return topic_text(topic).splitlines()[0].lstrip("# ")


def actions_of(menu: QMenu, path: str = "") -> Iterator[tuple[str, QAction]]:
    """Go through every action below a menu, with the menus that lead to it."""
    for action in menu.actions():
        inner = action.menu()
        if isinstance(inner, QMenu):
            yield from actions_of(inner, f"{path}{_plain(action.text())} · ")
        elif not action.isSeparator() and action.text():
            yield path, action


def keys_table(window: Window) -> str:
    """Return every action that has a key, as it is in the menus now; HTML."""
    rows = []
    for head in window.menuBar().actions():
        menu = head.menu()
        if not isinstance(menu, QMenu):
            continue
        found = [(f"{path}{_plain(one.text())}", _keys(one)) for path, one in actions_of(menu)]
        found = [(text, keys) for text, keys in found if keys]
        if found:
            rows.append(f'<tr><td colspan="2"><b>{escape(_plain(head.text()))}</b></td></tr>')
        rows += [
            f"<tr><td>{escape(text)}&nbsp;&nbsp;</td><td>{escape(keys)}</td></tr>"
            for text, keys in found
        ]
    return f"<table>{''.join(rows)}</table>"


def _plain(text: str) -> str:
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&").strip()


def _keys(action: QAction) -> str:
    shown = QKeySequence.SequenceFormat.NativeText
    return ", ".join(one.toString(shown) for one in action.shortcuts() if not one.isEmpty())


class HelpPane(QDockWidget):
    """One topic at a time, with links between them."""

    def __init__(self, window: Window) -> None:
        super().__init__(tr("How the work is done"), window)
        self.window_ = window
        self.setObjectName("help")
        self.setAllowedAreas(
            Qt.DockWidgetArea.RightDockWidgetArea | Qt.DockWidgetArea.LeftDockWidgetArea
        )
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(6, 6, 6, 6)
        self.topics = QComboBox()
        self.topics.setAccessibleName(tr("Topic"))
        self.topics.setMinimumContentsLength(10)
        self.topics.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        for topic in TOPICS:
            self.topics.addItem(topic_title(topic), topic)
        column.addWidget(self.topics)  # all the width: a topic's title stands nowhere else
        self.page = QTextBrowser()
        self.page.setOpenLinks(False)
        self.page.setAccessibleName(tr("How the work is done"))
        column.addWidget(self.page, 1)
        self.back = QPushButton(tr("Back"))
        column.addWidget(self.back)
        inner.setMinimumWidth(WIDE)
        self.setWidget(inner)
        self.topic = ""
        self._before: list[str] = []
        self.page.anchorClicked.connect(self._follow)
        self.topics.activated.connect(lambda _: self.show_topic(str(self.topics.currentData())))
        self.back.clicked.connect(self.go_back)
        window.column.chosen.connect(self.show_topic)
        self.show_topic(TOPICS[0])

    def show_topic(self, key: str) -> None:
        """Show a topic; one that is not there is the first."""
        topic = key if key in TOPICS else TOPICS[0]
        if topic == self.topic:
            return
        if self.topic:
            self._before.append(self.topic)
        self._show(topic)

    def go_back(self) -> None:
        """Show the topic before."""
        if self._before:
            self._show(self._before.pop())

    def _show(self, topic: str) -> None:
        self.topic = topic
        self.page.setMarkdown(topic_text(topic).partition("\n")[2])  # its title stands above
        if topic == KEYS:
            self.page.append(keys_table(self.window_))
        self.page.moveCursor(self.page.textCursor().MoveOperation.Start)
        self.topics.setCurrentIndex(self.topics.findData(topic))
        self.back.setEnabled(bool(self._before))

    def _follow(self, link: QUrl) -> None:
        self.show_topic(Path(link.path()).stem)
