"""One part of the page: a title, a sentence why it is asked, and its fields below."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.words import tr, tr_count
from hgmap.errors import SiteError


class Part(QFrame):
    """A card with a title; ``changed`` is emitted when something in it is."""

    changed = Signal()

    def __init__(self, title: str, why: str = "") -> None:
        super().__init__()
        self.setProperty("card", True)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(14, 8, 14, 10)
        self.column.setSpacing(5)
        head = QLabel(title)
        head.setProperty("title", True)
        self.column.addWidget(head)
        if why:
            self.column.addWidget(sentence(why))

    def row(self, text: str, *widgets: QWidget) -> QWidget:
        """Add a line: its label, then widgets; the first of them takes the room that is left."""
        line = QWidget()
        across = QHBoxLayout(line)
        across.setContentsMargins(0, 0, 0, 0)
        label = QLabel(text)
        label.setMinimumWidth(130)
        label.setWordWrap(True)
        across.addWidget(label)
        for number, widget in enumerate(widgets):
            across.addWidget(widget, 0 if number else 1)
            if not widget.accessibleName():
                widget.setAccessibleName(text.replace("&", ""))
        label.setBuddy(widgets[0])
        self.column.addWidget(line)
        return line


def sentence(text: str = "", *, kind: str = "soft") -> QLabel:
    """Return a wrapped line of plain text; ``kind``: ``soft``, ``warn`` or ``alarm``."""
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setProperty(kind, True)
    return label


MOST_NOTES: Final = 3
"""Notes that are said in whole; the others are counted."""


def first_notes(notes: Sequence[str]) -> str:
    """Say the first of some notes as sentences, and how many more there are."""
    said = [f"{one.rstrip('.')}." for one in notes[:MOST_NOTES]]
    if more := len(notes) - len(said):
        said.append(tr_count("And {n} note more.", "And {n} notes more.", more))
    return " ".join(said)


def table_of_clipboard(file: FileField) -> bytes:
    """Return the text of the clipboard, which stands in the place of a file from now on.

    Raises
    ------
    SiteError
        If the clipboard holds no text.
    """
    text = QGuiApplication.clipboard().text()
    if not text.strip():
        raise SiteError(tr("There is no table on the clipboard; copy its cells first."))
    file.text.clear()
    return text.encode(errors="replace")


class FileField(QWidget):
    """A path to type, to choose, or to drop a file on."""

    changed = Signal()

    def __init__(self, title: str, filters: str = "") -> None:
        super().__init__()
        self.title, self.filters = title, filters
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.text = QLineEdit()
        self.text.setAccessibleName(title)
        self.text.setPlaceholderText(tr("a file; it can be dropped here"))
        self.choose = QPushButton(tr("Choose ..."))
        self.choose.setAccessibleName(f"{title}: {tr('Choose ...')}")
        row.addWidget(self.text, 1)
        row.addWidget(self.choose)
        self.setFocusProxy(self.text)
        self.text.textChanged.connect(self.changed)
        self.choose.clicked.connect(self._choose)

    @property
    def path(self) -> Path | None:
        """The file; None where nothing is written."""
        text = self.text.text().strip()
        return Path(text).expanduser() if text else None

    def _choose(self) -> None:
        found, _ = QFileDialog.getOpenFileName(self, self.title, "", self.filters)
        if found:
            self.text.setText(found)
