"""The first page: a recent site, the demo, or a new survey."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from hgmap.desktop.words import tr
from hgmap.site.cautions import SCREENING

if TYPE_CHECKING:
    from hgmap.desktop.site_doors import SiteDoors

WIDE = 520


class StartPage(QWidget):
    """Offers what can be opened."""

    def __init__(self, doors: SiteDoors) -> None:
        super().__init__()
        self.doors = doors
        outer = QVBoxLayout(self)
        outer.addStretch(1)
        card = QFrame()
        card.setProperty("card", True)
        card.setFixedWidth(WIDE)
        self.column = QVBoxLayout(card)
        self.column.setContentsMargins(28, 22, 28, 22)
        self.column.setSpacing(8)
        title = QLabel("hgmap")
        title.setStyleSheet("font-size: 20pt; font-weight: bold;")
        title.setMinimumHeight(44)
        self.column.addWidget(title)
        about = QLabel(tr("From readings taken inside a building to zones, places to measure "
                          "again, and the maps of the report."))  # fmt: skip
        about.setWordWrap(True)
        about.setMinimumHeight(about.heightForWidth(WIDE - 60) + 4)
        self.column.addWidget(about)
        self.new = self._button(tr("Begin a new survey"), doors.new_site, "Ctrl+N")
        self.open = self._button(tr("Open a site folder"), doors.ask_and_open, "Ctrl+O")
        self.demo = self._button(tr("Open the invented demo"), doors.open_demo, "Ctrl+D")
        self.lately = QLabel(tr("Opened lately"))
        self.lately.setProperty("soft", True)
        self.column.addWidget(self.lately)
        self.recent = QVBoxLayout()
        self.column.addLayout(self.recent)
        caution = QLabel(tr(SCREENING))
        caution.setWordWrap(True)
        caution.setProperty("soft", True)
        self.column.addWidget(caution)
        # not by its alignment: a card that is aligned is as tall as if its words stood on one line
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(card)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addStretch(1)

    def _button(self, text: str, act: object, shortcut: str) -> QPushButton:
        button = QPushButton(f"{text}   ({shortcut})")
        button.setMinimumHeight(36)
        button.clicked.connect(act)
        self.column.addWidget(button)
        return button

    def _name_of(self, folder: Path) -> str:
        """Return a folder's name and where it lies: several may have one name."""
        rest = WIDE - 90 - self.fontMetrics().horizontalAdvance(folder.name)
        where = self.fontMetrics().elidedText(
            str(folder.parent), Qt.TextElideMode.ElideMiddle, max(rest, 80)
        )
        return f"{folder.name}   {where}".replace("&", "&&")

    def refresh(self) -> None:
        """List the sites opened lately."""
        while self.recent.count():
            item = self.recent.takeAt(0)
            widget = item.widget() if item else None
            if widget is not None:
                widget.deleteLater()
        found = self.doors.recent()
        self.lately.setVisible(bool(found))
        for folder in found:
            button = QPushButton(self._name_of(folder))
            button.setToolTip(str(folder))
            button.setStyleSheet("text-align: left;")
            button.clicked.connect(lambda _=False, folder=folder: self.doors.open(folder))
            self.recent.addWidget(button)
