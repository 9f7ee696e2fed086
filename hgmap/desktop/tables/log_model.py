"""The instrument log as a table of text: its checks as they are written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QGuiApplication, QPalette

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.signs import sign
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr
from hgmap.editing.log_edits import log_position
from hgmap.editing.sheet import ReadingsSheet
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Problem

COLUMNS: Final = (
    "check", "start", "end", "minutes", "instrument", "principle", "serial", "certificate",
    "values", "spacing_s", "reference", "unit", "result", "temperature_c", "note",
)  # fmt: skip
TITLES: Final = {
    "check": "Check", "start": "Start", "end": "End", "minutes": "Minutes",
    "instrument": "Instrument", "principle": "Principle", "serial": "Serial number",
    "certificate": "Certificate", "values": "Values", "spacing_s": "Apart (s)",
    "reference": "Reference", "unit": "Unit", "result": "Result", "temperature_c": "Air (°C)",
    "note": "Note",
}  # fmt: skip


class LogModel(TitledModel):
    """Checks in the order of the file; a row with a problem carries a sign at its check."""

    def __init__(
        self, write: Callable[[dict[tuple[int, str], str]], None], parent: QObject | None = None
    ) -> None:
        super().__init__([tr(TITLES[one]) for one in COLUMNS], lambda: self.lines, parent)
        self._write = write
        self._sheet: ReadingsSheet | None = None
        self._places: dict[str, int | None] = {}
        self.lines: tuple[int, ...] = ()
        self._problems: dict[int, list[str]] = {}

    def take(self, sheet: ReadingsSheet | None, problems: tuple[Problem, ...]) -> None:
        """Show the log as it stands."""
        self.beginResetModel()
        self._sheet = sheet
        self._places, self.lines = {}, ()
        if sheet is not None:
            self._places = {one: log_position(sheet, one) for one in COLUMNS}
            self.lines = tuple(row for row, _ in sheet.rows)
        self._problems = {}
        for one in problems:
            row = one.where.rpartition(", row ")[2]
            if row.isdigit():
                text = f"{one.message}; {one.todo}" if one.todo else one.message
                self._problems.setdefault(int(row), []).append(text)
        self.endResetModel()

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return that every cell is edited."""
        usual = Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEnabled
        return usual | Qt.ItemFlag.ItemIsEditable

    def first_of(self, day: str) -> int | None:
        """Return the first row whose check starts on a day (2026-03-02); None where none does."""
        starts = (self.text(row, "start") for row in range(len(self.lines)))
        return next((row for row, text in enumerate(starts) if text.startswith(day)), None)

    def text(self, row: int, column: str) -> str:
        """Return a cell as it is written."""
        if self._sheet is None:
            return ""
        return unguarded(self._sheet.cell(self.lines[row], self._places[column]))

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        if not index.isValid():
            return None
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self.text(index.row(), COLUMNS[index.column()])
        found = self._problems.get(self.lines[index.row()])
        if not found:
            return None
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip("\n".join(found))
        if role == Qt.ItemDataRole.DecorationRole and index.column() == 0:
            return sign(True)
        if role == Qt.ItemDataRole.ForegroundRole and index.column() == 0:
            return QGuiApplication.palette().color(QPalette.ColorRole.BrightText)
        return None

    def setData(  # noqa: N802
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Write what was typed."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        self.set_texts({(index.row(), index.column()): str(value)})
        return True

    def set_texts(self, texts: dict[tuple[int, int], str]) -> None:
        """Write texts into cells (row, column of the table), as one step."""
        changes = {
            (self.lines[row], COLUMNS[column]): text
            for (row, column), text in texts.items()
            if " ".join(text.split()) != self.text(row, COLUMNS[column])
        }
        if changes:
            self._write(changes)
