"""The action level: one of those that are published, one with who says so, or later."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QRadioButton,
    QTableWidget,
    QWidget,
)
from PySide6.QtWidgets import QTableWidgetItem as Cell

from hgmap.desktop.beginning.part import Part, sentence
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.editing.site_files import SiteFiles, site_of
from hgmap.errors import HgmapError
from hgmap.site.levels import levels_for
from hgmap.site.model import ActionLevel, LevelRequest
from hgmap.site.new_site import new_site_text
from hgmap.site.store import SITE_FILE
from hgmap.site.units import parse_quantity


def levels_of_use(use: str | None) -> tuple[ActionLevel, ...]:
    """Return the published levels that a new site of a use may go by, the lowest first."""
    text = new_site_text("new", use=use)
    return levels_for(site_of(SiteFiles(Path(), {SITE_FILE: text.encode()})))


class LevelPart(Part):
    """Three ways, of which none brings a level that nobody chose."""

    def __init__(self) -> None:
        super().__init__(
            tr("The action level"),
            tr("There is no default. It says above what air a room is not released, and who says "
               "so."),
        )  # fmt: skip
        self.later = QRadioButton(tr("Choose it later: no zones are drawn until then"))
        self.listed = QRadioButton(tr("One of the published levels"))
        self.typed = QRadioButton(tr("Another one, with who says so"))
        self.table = QTableWidget(0, 4)
        self.table.setAccessibleName(tr("Published levels"))
        self.table.setHorizontalHeaderLabels([tr("level"), tr("scenario"), tr("averaging, height"),
                                              tr("source")])  # fmt: skip
        self.table.verticalHeader().hide()
        self.table.setWordWrap(True)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.table.setMinimumHeight(190)
        self.column.addWidget(self.later)
        self.column.addWidget(self.listed)
        self.column.addWidget(self.table)
        self.column.addWidget(self.typed)
        self.fields: dict[str, QLineEdit] = {}
        self.rows: list[QWidget] = []
        for key, text, hint in (
            ("value", tr("Value and unit"), "1 ug/m3"),
            ("source", tr("Who says so"), tr("agency, document, year")),
            ("scenario", tr("For whom, when"), tr("home after a spill")),
            ("averaging", tr("Averaged over"), tr("8 h")),
            ("height", tr("At the height of"), tr("breathing zone")),
        ):
            field = QLineEdit()
            field.setPlaceholderText(hint)
            field.textChanged.connect(self._check)
            self.fields[key] = field
            self.rows.append(self.row(text, field))
        self.trouble = sentence(kind="alarm")
        self.column.addWidget(self.trouble)
        self.levels: tuple[ActionLevel, ...] = ()
        self.later.setChecked(True)
        for button in (self.later, self.listed, self.typed):
            button.toggled.connect(self._check)
        self.table.itemSelectionChanged.connect(self._check)
        self._use: str | None = None
        self.of_use(None)

    def of_use(self, use: str | None) -> None:
        """List the levels for a use."""
        self._use = use
        chosen = self.chosen.name if self.chosen else ""
        self.levels = () if use is None else levels_of_use(use)
        self.table.setRowCount(len(self.levels))
        for row, one in enumerate(self.levels):
            memory = tr("; value from memory") if one.from_memory else ""
            texts = (f"{one.value:g} {one.unit}", one.scenario, f"{one.averaging}; {one.height}",
                     one.source + memory)  # fmt: skip
            for column, text in enumerate(texts):
                cell = Cell(text)
                cell.setToolTip(text)
                cell.setTextAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
                self.table.setItem(row, column, cell)
        self.table.clearSelection()
        self.table.setCurrentCell(-1, -1)
        for row, one in enumerate(self.levels):
            if one.name == chosen:
                self.table.selectRow(row)
        self._check()

    @property
    def chosen(self) -> ActionLevel | None:
        """The level chosen in the list."""
        rows = {one.row() for one in self.table.selectedIndexes()}
        row = min(rows, default=-1)
        return self.levels[row] if 0 <= row < len(self.levels) else None

    @property
    def request(self) -> LevelRequest | None:
        """What site.toml is to say; None: later."""
        if self.listed.isChecked():
            return LevelRequest(name=self.chosen.name) if self.chosen else None
        if not self.typed.isChecked():
            return None
        texts = {key: field.text().strip() for key, field in self.fields.items()}
        try:
            value, unit = parse_quantity(texts.pop("value"))
        except HgmapError:
            return None
        return LevelRequest(value=value, unit=unit.symbol, **texts)  # type: ignore[arg-type]

    @property
    def why_not(self) -> str:
        """What is still missing; empty where nothing is."""
        if self.listed.isChecked() and self._use is None:
            return tr("Say first what the building is used for.")
        if self.listed.isChecked() and self.chosen is None:
            return tr("Choose a level in the list.")
        if self.typed.isChecked():
            try:
                parse_quantity(self.fields["value"].text().strip())
            except HgmapError as error:
                return in_one_line(error)
            if self._use is None:
                return tr("Say first what the building is used for.")
            if any(not field.text().strip() for field in self.fields.values()):
                return tr("A level is never a bare number: fill in all five.")
        return ""

    def _check(self) -> None:
        self.table.setVisible(self.listed.isChecked())
        if self.listed.isChecked():
            self.table.resizeRowsToContents()
        for row in self.rows:
            row.setVisible(self.typed.isChecked())
        self.trouble.setText(self.why_not)
        self.trouble.setVisible(bool(self.why_not))
        self.changed.emit()
