"""Rows that are ticked or not, each with a number and a place on the plan; and lines to read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import shapely
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QTableView, QWidget

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.sign_and_text import lay_out
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr

NUMBER, TEXT = range(2)
_NOTE: Final = "·"


@dataclass(frozen=True)
class TickRow:
    """One row.

    Attributes
    ----------
    text : str
    number : str
        Empty for a line that is only to be read.
    key : str
        Names the row among others, also after they were made anew.
    ticked : bool or None
        None where there is nothing to tick.
    place : shapely.Geometry or None
        On the plan (m).
    """

    text: str
    number: str = ""
    key: str = ""
    ticked: bool | None = None
    place: shapely.Geometry | None = None

    @property
    def to_look(self) -> bool:
        """Whether it is one among others, and there is nothing to tick."""
        return self.ticked is None and bool(self.key)


class TickModel(TitledModel):
    """The rows; ``said`` is what a row that is ticked, or not, is called."""

    ticked = Signal(str, bool)
    """The key of a row, and whether it is ticked now."""

    def __init__(self, said: tuple[str, str], parent: QWidget | None = None) -> None:
        super().__init__((tr("Number"), tr("What it is")), lambda: self.rows, parent)
        self.said = said
        self.rows: tuple[TickRow, ...] = ()

    def take(self, rows: Sequence[TickRow]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        row, column = self.rows[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return row.text if column == TEXT else row.number or _NOTE
        if role == Qt.ItemDataRole.CheckStateRole and column == NUMBER and row.ticked is not None:
            return Qt.CheckState.Checked if row.ticked else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(row.text)
        if role == Qt.ItemDataRole.AccessibleTextRole and column == TEXT and row.ticked is not None:
            return f"{self.said[0] if row.ticked else self.said[1]}: {row.text}"
        if role == Qt.ItemDataRole.ForegroundRole and not (row.ticked or row.to_look):
            return QGuiApplication.palette().placeholderText().color()
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        there = index.isValid() and index.column() == NUMBER
        if there and self.rows[index.row()].ticked is not None:
            flags |= Qt.ItemFlag.ItemIsUserCheckable
        return flags

    def setData(  # noqa: N802
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Tick a row, or take its tick away."""
        row = self.rows[index.row()]
        if role != Qt.ItemDataRole.CheckStateRole or row.ticked is None:
            return False
        self.tick({row.key: Qt.CheckState(value) == Qt.CheckState.Checked})
        return True

    def tick(self, wanted: dict[str, bool]) -> None:
        """Tick rows of these keys, or take their ticks away."""
        changed = [one for one in self.rows if wanted.get(one.key, one.ticked) != one.ticked]
        self.rows = tuple(
            replace(one, ticked=wanted[one.key]) if one in changed else one for one in self.rows
        )
        if changed:
            self.dataChanged.emit(self.index(0, NUMBER), self.index(len(self.rows) - 1, TEXT))
        for one in changed:
            self.ticked.emit(one.key, wanted[one.key])


class TickTable(QTableView):
    """Shows the rows; the chosen one is to be shown on the plan."""

    chosen_changed = Signal()

    def __init__(self, name: str, said: tuple[str, str]) -> None:
        super().__init__()
        self.ticks = TickModel(said, self)
        self.setModel(self.ticks)
        self.setAccessibleName(name)
        self.heights = lay_out(self, sign_px=62)
        self.selectionModel().currentRowChanged.connect(lambda *_: self.chosen_changed.emit())

    @property
    def rows(self) -> tuple[TickRow, ...]:
        """The rows as they are ticked now."""
        return self.ticks.rows

    def take(self, rows: Sequence[TickRow]) -> None:
        """Show other rows; the one that was chosen stays so where it is still there."""
        old = self.chosen()
        self.selectionModel().blockSignals(True)
        self.ticks.take(rows)
        for row, one in enumerate(self.rows):
            if old is not None and old.key and one.key == old.key:
                self.selectRow(row)
        self.selectionModel().blockSignals(False)
        self.heights.forget()
        self.chosen_changed.emit()

    def chosen(self) -> TickRow | None:
        """Return the chosen row."""
        row = self.currentIndex().row()
        return self.rows[row] if 0 <= row < len(self.rows) else None

    def choose_at(self, x: float, y: float, reach_m: float) -> bool:
        """Choose the row whose place is nearest to one of the plan (m); tell whether one is."""
        here = shapely.Point(x, y)
        near = [
            (one.place.distance(here), row)
            for row, one in enumerate(self.rows)
            if one.place is not None and not one.place.is_empty
        ]
        found = min(near, default=None)
        if found is None or found[0] > reach_m:
            return False
        self.selectRow(found[1])
        self.scrollTo(self.ticks.index(found[1], TEXT))
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Space ticks the chosen row or takes its tick away, in whichever cell the keys are."""
        row = self.chosen()
        if event.key() == Qt.Key.Key_Space and row is not None and row.ticked is not None:
            self.ticks.tick({row.key: not row.ticked})
            return
        super().keyPressEvent(event)
