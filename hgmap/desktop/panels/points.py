"""The open points of a question as a table; each can be shown on the plan, and the reverse."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QLabel,
    QTableView,
    QVBoxLayout,
    QWidget,
)
from shapely import Point

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.sign_and_text import lay_out
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import OpenPoint

SIGNS: Final = {"stop": "■", "look": "▲", "note": "·"}
"""A sign of its own for each severity: colour alone says nothing."""


class PointsModel(TitledModel):
    """Rows are points; the first column is a sign, the second the words."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__((tr("Weight"), tr("Point")), lambda: self.points, parent)
        self.points: tuple[OpenPoint, ...] = ()

    def take(self, points: Sequence[OpenPoint]) -> None:
        """Show other points."""
        if tuple(points) == self.points:
            return
        self.beginResetModel()
        self.points = tuple(points)
        self.endResetModel()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        point = self.points[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            if index.column() == 0:
                return SIGNS[point.severity]
            return point.message
        if role == Qt.ItemDataRole.ToolTipRole:
            todo = f"\n{tr('What to do')}: {point.todo}" if point.todo else ""
            return plain_tip(point.message + todo)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            words = {"stop": tr("stops the work"), "look": tr("to look at"), "note": tr("note")}
            return f"{words[point.severity]}: {point.message}"
        if role == Qt.ItemDataRole.ForegroundRole and point.severity == "note":
            return QGuiApplication.palette().placeholderText().color()
        if role == Qt.ItemDataRole.TextAlignmentRole and index.column() == 0:
            return int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        return None


class PointsTable(QTableView):
    """Shows points; choosing one points at its place on the plan."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.points = PointsModel(self)
        self.setModel(self.points)
        self.heights = lay_out(self, sign_px=24)
        self.selectionModel().currentRowChanged.connect(self._chosen)

    def take(self, points: Sequence[OpenPoint]) -> None:
        """Show other points; the one that was chosen stays chosen where it still is there."""
        old = self.chosen()
        before = self.points.points
        self.points.take(points)
        if self.points.points is not before:
            self.heights.forget()
        if old is not None:
            for row, one in enumerate(self.points.points):
                if (one.message, one.floor) == (old.message, old.floor):
                    with _quiet(self):
                        self.selectRow(row)
                    return

    def chosen(self) -> OpenPoint | None:
        """Return the chosen point."""
        row = self.currentIndex().row()
        return self.points.points[row] if 0 <= row < len(self.points.points) else None

    def choose_at(self, x: float, y: float, reach_m: float, floor: str) -> bool:
        """Choose the point whose place is nearest to a place of the plan (m); tell if one is."""
        here = Point(x, y)
        near = [
            (one.place.distance(here), one.place.area, row)
            for row, one in enumerate(self.points.points)
            if one.place is not None and one.floor == floor
        ]
        found = min(near, default=None)
        if found is None or found[0] > reach_m:
            return False
        self.selectRow(found[2])
        self.scrollTo(self.points.index(found[2], 0))
        return True

    def _chosen(self, current: QModelIndex, previous: QModelIndex) -> None:
        point = self.chosen()
        if point is None:
            return
        self.desk.point_at(point.place, point.floor)
        if point.todo:
            self.desk.say(f"{tr('What to do')}: {point.todo}")
        if point.reading:
            self.desk.told.reading_chosen.emit(point.reading)


class PointsPage(QWidget):
    """The points, and below them all that is to be done about the chosen one."""

    def __init__(self, points: PointsTable) -> None:
        super().__init__()
        self.points = points
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        column.addWidget(points, 1)
        self.todo = QLabel()
        self.todo.setWordWrap(True)
        self.todo.setTextFormat(Qt.TextFormat.PlainText)
        column.addWidget(self.todo)
        points.selectionModel().currentRowChanged.connect(lambda *_: self._say())
        points.points.modelReset.connect(self._say)
        self._say()

    def _say(self) -> None:
        point = self.points.chosen()
        self.todo.setText(point.todo if point is not None else "")
        self.todo.setVisible(bool(self.todo.text()))


class _quiet:  # noqa: N801
    """Nothing is pointed at while a selection is only put back."""

    def __init__(self, table: PointsTable) -> None:
        self.table = table

    def __enter__(self) -> None:
        self.table.selectionModel().blockSignals(True)

    def __exit__(self, *error: object) -> None:
        self.table.selectionModel().blockSignals(False)
        self.table.viewport().update()
