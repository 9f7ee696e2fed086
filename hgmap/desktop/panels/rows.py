"""A table of rows that can be read only; choosing one points at its place on the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget
from shapely import Point
from shapely.geometry.base import BaseGeometry

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.titled_model import Index, TitledModel

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk


@dataclass(frozen=True)
class Row:
    """Cells as they are shown; ``tip`` says the rest, ``key`` is what it is known by."""

    cells: tuple[str, ...]
    tip: str = ""
    place: BaseGeometry | None = None
    floor: str = ""
    key: str = ""
    sign: QPixmap | None = None


class RowsModel(TitledModel):
    """Rows under titles."""

    def __init__(self, titles: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(titles, lambda: self.rows, parent)
        self.rows: tuple[Row, ...] = ()

    def take(self, rows: Sequence[Row]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        row = self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return row.cells[index.column()]
        if role == Qt.ItemDataRole.DecorationRole and index.column() == 0:
            return row.sign
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(row.tip or row.cells[index.column()])
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{self.titles[index.column()]}: {row.cells[index.column()]}"
        return None


class RowsTable(QTableView):
    """Shows rows; ``wide`` is the column that takes what is left of the width."""

    row_chosen = Signal(object)

    def __init__(self, desk: Desk, titles: Sequence[str], name: str, wide: int = 0) -> None:
        super().__init__()
        self.desk = desk
        self.rows = RowsModel(titles, self)
        self.setModel(self.rows)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setShowGrid(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setResizeContentsPrecision(40)
        header.setMinimumSectionSize(24)
        header.setHighlightSections(False)
        for column in range(len(self.rows.titles)):
            stretch = QHeaderView.ResizeMode.Stretch
            header.setSectionResizeMode(
                column, stretch if column == wide else QHeaderView.ResizeMode.ResizeToContents
            )
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 8)
        self.selectionModel().currentRowChanged.connect(self._chosen)

    def take(self, rows: Sequence[Row]) -> None:
        """Show other rows; the chosen one stays chosen where it still is there."""
        old = self.chosen()
        if tuple(rows) == self.rows.rows:
            return
        self.selectionModel().blockSignals(True)
        self.rows.take(rows)
        if old is not None:
            self.select_key(old.key)
        self.selectionModel().blockSignals(False)
        self.viewport().update()

    def chosen(self) -> Row | None:
        """Return the chosen row."""
        at = self.currentIndex().row()
        return self.rows.rows[at] if 0 <= at < len(self.rows.rows) else None

    def select_key(self, key: str) -> bool:
        """Choose the row of a key."""
        for at, one in enumerate(self.rows.rows):
            if one.key == key:
                self.selectRow(at)
                return True
        return False

    def choose_at(self, x: float, y: float, reach_m: float, floor: str) -> bool:
        """Choose the row whose place is nearest to a place of the plan (m); tell if one is."""
        here = Point(x, y)
        near = [
            (one.place.distance(here), one.place.area, at)
            for at, one in enumerate(self.rows.rows)
            if one.place is not None and one.floor == floor
        ]
        found = min(near, default=None)
        if found is None or found[0] > reach_m:
            return False
        self.selectRow(found[2])
        self.scrollTo(self.rows.index(found[2], 0))
        return True

    def fit_rows(self, most: int) -> None:
        """Be as tall as the rows are, up to ``most`` of them."""
        rows = max(1, min(most, len(self.rows.rows)))
        header = self.horizontalHeader()
        head = 0 if header.isHidden() else header.sizeHint().height()
        self.setFixedHeight(rows * self.verticalHeader().defaultSectionSize() + head + 4)

    def _chosen(self, current: QModelIndex, previous: QModelIndex) -> None:
        row = self.chosen()
        if row is None:
            return
        if row.place is not None:
            self.desk.point_at(row.place, row.floor)
        self.row_chosen.emit(row)
