"""Which readings a table shows: words, this floor or all, held ones only; and how many that is."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtWidgets import QCheckBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.tables.readings_desk import ReadingsDesk
from hgmap.desktop.words import tr


class FilterRow(QWidget):
    """Says what is wanted; two of them agree."""

    def __init__(self, work: ReadingsDesk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.work = work
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self.words = QLineEdit()
        self.words.setPlaceholderText(tr("Find readings: id, room, note, reason ..."))
        self.words.setAccessibleName(tr("Find readings"))
        self.words.setClearButtonEnabled(True)
        self.words.textChanged.connect(lambda text: work.want(words=text))
        column.addWidget(self.words)
        row = QWidget()
        flow = FlowLayout(row, 10)
        self.all_floors = QCheckBox(tr("All floors"))
        self.all_floors.toggled.connect(lambda on: work.want(all_floors=on))
        self.held_only = QCheckBox(tr("Held only"))
        self.held_only.toggled.connect(lambda on: work.want(held_only=on))
        self.count = QLabel()
        self.count.setProperty("soft", True)
        self.count.setTextFormat(Qt.TextFormat.PlainText)
        for one in (self.all_floors, self.held_only, self.count):
            flow.addWidget(one)
        column.addWidget(row)
        work.model.counted.connect(self._count)
        work.wanted_changed.connect(self._agree)
        self._agree()
        work.model.tell_count()

    def _count(self, shown: int, all_of_them: int) -> None:
        self.count.setText(tr("{shown} of {all} shown", shown=shown, all=all_of_them))

    def _agree(self) -> None:
        for box, on in (
            (self.all_floors, self.work.all_floors), (self.held_only, self.work.held_only),
        ):  # fmt: skip
            blocker = QSignalBlocker(box)
            box.setChecked(on)
            del blocker
        if self.words.text() != self.work.words:
            blocker = QSignalBlocker(self.words)
            self.words.setText(self.work.words)
            del blocker
