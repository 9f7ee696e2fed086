"""Which sheet, of what, and on which paper: the first part of the print page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.print_sheets import ALL, Wanted
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.session import Session

SCALES: Final = (20, 50, 100, 200, 500)
WITH_A_ROOM: Final = ("rooms", "report")
"""Kinds that show a room by itself where one is chosen."""


class SheetForm(QWidget):
    """What is chosen here is what the right side shows, and what is written."""

    changed = Signal()

    def __init__(self, session: Session, style: str = "") -> None:
        super().__init__()
        self.session = session
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 8, 8, 4)
        column.setSpacing(5)
        self._labels: dict[QWidget, QLabel] = {}
        self.kind, self.floor = QComboBox(), QComboBox()
        self.before, self.room = QComboBox(), QComboBox()
        self.papers, self.scale, self.rule = QComboBox(), QComboBox(), QComboBox()
        self.style_file = QLineEdit(style)
        self._fill()
        for text, box in ((tr("Sheet"), self.kind), (tr("Floor"), self.floor),
                          (tr("Compared with"), self.before), (tr("Room"), self.room)):  # fmt: skip
            self._put(column, text, box)
        row = QHBoxLayout()
        for text, box in ((tr("Paper of maps"), self.papers), (tr("Scale of maps"), self.scale)):
            side = QVBoxLayout()
            self._put(side, text, box)
            row.addLayout(side, 1)
        column.addLayout(row)
        self._put(column, tr("Rule"), self.rule)
        self._put_style(column)
        self.about = QLabel()
        self.about.setWordWrap(True)
        self.about.setTextFormat(Qt.TextFormat.PlainText)
        column.addSpacing(4)
        column.addWidget(self.about)
        column.addStretch(1)
        self._listen()
        self._show_what_counts()

    def _put(self, column: QVBoxLayout, text: str, box: QComboBox) -> None:
        label = QLabel(text)
        label.setBuddy(box)
        box.setAccessibleName(text)
        box.setMinimumContentsLength(8)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        column.addWidget(label)
        column.addWidget(box)
        self._labels[box] = label

    def _put_style(self, column: QVBoxLayout) -> None:
        name = tr("House style (a TOML file)")
        label = QLabel(name)
        label.setBuddy(self.style_file)
        self.style_file.setAccessibleName(name)
        self.style_file.setPlaceholderText(tr("none"))
        self.choose = QPushButton("...")
        self.choose.setAccessibleName(tr("Choose the house style"))
        self.choose.setToolTip(tr("Choose the house style"))
        row = QHBoxLayout()
        row.addWidget(self.style_file, 1)
        row.addWidget(self.choose)
        column.addWidget(label)
        column.addLayout(row)
        self._labels[self.style_file] = label

    def _fill(self) -> None:
        from hgmap.decide.clearance.rules import clearance_rules
        from hgmap.report.sheet_setup import PAPERS

        for key, text in (
            ("map", tr("Map of the zones")),
            ("levels", tr("Map of several levels")),
            ("estimate", tr("Map of the estimate")),
            ("uncertainty", tr("Uncertainty, and where readings help")),
            ("readings", tr("Readings and their quality")),
            ("rooms", tr("Rooms in detail")),
            ("every", tr("Every sheet of the floor")),
            ("resample", tr("Where to measure again")),
            ("quality", tr("Quality and timeline")),
            ("report", tr("The whole report")),
        ):
            self.kind.addItem(text, key)
        site = self.session.site
        for floor in site.floors if site is not None else ():
            self.floor.addItem(floor.title or floor.name, floor.name)
        lost = site is not None and any(
            one.severity == "error" and one.floor for one in site.problems
        )
        if self.floor.count() > 1 or lost:  # a report that left one out would not say so
            self.floor.addItem(tr("all floors"), ALL)
        for one in site.rounds if site is not None else ():
            if one.name != self.session.round_name:
                self.before.addItem(one.title or one.name, one.name)
        if self.before.count():
            self.kind.insertItem(self.kind.count() - 1, tr("Change between two rounds"), "change")
        self.floor.setCurrentIndex(max(self.floor.findData(self.session.choices.floor), 0))
        for paper in PAPERS:
            self.papers.addItem(tr("{paper} paper", paper=paper.title), paper.name)
        self.scale.setEditable(True)
        self.scale.addItem(tr("largest that fits"), "")
        for n in SCALES:
            self.scale.addItem(f"1 : {n}", f"1 : {n}")
        self.rule.addItem(tr("every rule"), None)
        for rule in clearance_rules():
            self.rule.addItem(rule.name, rule.name)
        ruled = self.session.clearance
        if ruled is not None and len(ruled.rules) == 1:  # the one of the fifth question
            self.rule.setCurrentIndex(max(self.rule.findData(ruled.rules[0].name), 0))
        self._fill_rooms()

    def _fill_rooms(self) -> None:
        """Offer the rooms of the floor that is chosen."""
        site, chosen = self.session.site, self.floor.currentData()
        floor = site.floor(chosen) if site is not None and chosen else None
        held, blocker = self.room.currentData(), QSignalBlocker(self.room)
        self.room.clear()
        self.room.addItem("", "")  # what it means depends on the kind
        for room in floor.rooms if floor is not None else ():
            self.room.addItem(room.name or room.id, room.id)
        self.room.setCurrentIndex(max(self.room.findData(held), 0))
        blocker.unblock()

    def _listen(self) -> None:
        self.kind.currentIndexChanged.connect(self._kind_chosen)
        self.floor.currentIndexChanged.connect(self._floor_chosen)
        for box in (self.before, self.room, self.papers, self.rule):
            box.currentIndexChanged.connect(self.changed)
        self.scale.activated.connect(lambda _: self._typed())
        line = self.scale.lineEdit()
        if line is not None:
            line.editingFinished.connect(self._typed)
        self.style_file.editingFinished.connect(self._typed)
        self.choose.clicked.connect(self._choose)
        self._was = self._by_hand()
        self._is_report, self._floor_before = False, 0

    def _by_hand(self) -> tuple[str, str]:
        return self.scale_text(), self.style_file.text().strip()

    def _typed(self) -> None:
        """Tell of what was typed once it is something else; leaving a field alone is nothing."""
        if self._by_hand() != self._was:
            self._was = self._by_hand()
            self.changed.emit()

    def _choose(self) -> None:
        found, _ = QFileDialog.getOpenFileName(
            self, tr("House style (a TOML file)"), self.style_file.text(), "*.toml"
        )
        if found:
            self.style_file.setText(found)
            self._typed()

    def _kind_chosen(self) -> None:
        report, every = self.kind.currentData() == "report", self.floor.findData(ALL)
        if every >= 0 and report != self._is_report:  # a report is of the whole site at first
            chosen = self.floor.currentIndex()
            blocker = QSignalBlocker(self.floor)
            self.floor.setCurrentIndex(every if report else self._floor_before)
            blocker.unblock()
            self._floor_before = chosen
            self._fill_rooms()
        self._is_report = report
        self._show_what_counts()
        self.changed.emit()

    def _floor_chosen(self) -> None:
        self._fill_rooms()
        self._show_what_counts()
        self.changed.emit()

    def _show_what_counts(self) -> None:
        kind = str(self.kind.currentData())
        shown: dict[QWidget, bool] = {
            self.before: kind == "change", self.room: kind in WITH_A_ROOM,
            self.rule: kind == "report", self.style_file: kind == "report",
        }  # fmt: skip
        for widget, is_shown in shown.items():
            widget.setVisible(is_shown)
            self._labels[widget].setVisible(is_shown)
        self.choose.setVisible(kind == "report")
        crowded = tr("those too crowded for the map")
        self.room.setItemText(0, tr("none by itself") if kind == "report" else crowded)
        self.floor.setEnabled(kind != "quality")

    def scale_text(self) -> str:
        """Return the scale as typed; empty: the largest that fits."""
        text = self.scale.currentText().strip()
        return "" if text == self.scale.itemText(0) else text

    def wanted(self, *, sheets: bool = False, dpi: str = "200") -> Wanted:
        """Return what is chosen."""
        kind, style = str(self.kind.currentData()), self.style_file.text().strip()
        return Wanted(
            kind, str(self.floor.currentData() or ALL), str(self.before.currentData() or ""),
            str(self.room.currentData() or "") if kind in WITH_A_ROOM else "", sheets,
            str(self.papers.currentData()), self.scale_text(), dpi, self.rule.currentData(),
            str(Path(style).expanduser()) if style else "",
        )  # fmt: skip
