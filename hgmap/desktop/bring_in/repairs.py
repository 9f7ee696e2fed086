"""The repairs of a drawing as a table: ticked is made, unticked is refused."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from hgmap.desktop.panels.row_heights import RowHeights
from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr
from hgmap.scene.repair_signs import RepairSign

if TYPE_CHECKING:
    from hgmap.site.importers.found_plan import PlanRepair

NUMBER, TEXT = range(2)
NOTE: Final = "·"


class RepairList:
    """The repairs of one floor, by the number that each had when it was first listed.

    That number is the command line's, too. A repair that is needed only because another one was
    refused comes last; one that is no longer needed keeps its number and is not shown.
    """

    def __init__(self) -> None:
        self.known: dict[str, PlanRepair] = {}
        self.refused: frozenset[str] = frozenset()
        self._made: frozenset[str] = frozenset()

    def take(self, made: Iterable[PlanRepair]) -> None:
        """Take the repairs that an import made, now that some are refused."""
        found = {one.key: one for one in made}
        self._made = frozenset(found)
        self.known |= {key: one for key, one in found.items() if key not in self.known}

    def refuse(self, key: str, *, refused: bool) -> None:
        """Refuse a repair, or let it be made again."""
        self.refused = self.refused | {key} if refused else self.refused - {key}

    @property
    def rows(self) -> tuple[tuple[int, PlanRepair], ...]:
        """Return the repairs to show, each with its number."""
        return tuple(
            (number, one)
            for number, (key, one) in enumerate(self.known.items(), start=1)
            if key in self._made or key in self.refused
        )

    @property
    def signs(self) -> tuple[RepairSign, ...]:
        """Return what to draw of them."""
        return tuple(
            RepairSign(number, one.place, one.key not in self.refused) for number, one in self.rows
        )


@dataclass(frozen=True)
class Row:
    """A repair with its number, or a line that is only to be read."""

    number: int
    text: str
    repair: PlanRepair | None = None


class RepairsModel(TitledModel):
    """Rows of repairs, then what was mended or left out without a choice."""

    refusal = Signal(str, bool)
    """The key of a repair, and whether it is refused."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__((tr("Number"), tr("Repair, or what was left out")), lambda: self.rows,
                         parent)  # fmt: skip
        self.rows: tuple[Row, ...] = ()
        self.repairs = RepairList()

    def take(self, repairs: RepairList, notes: Sequence[str]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.repairs = repairs
        self.rows = (
            *(Row(number, one.text, one) for number, one in repairs.rows),
            *(Row(0, text) for text in notes),
        )
        self.endResetModel()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        row = self.rows[index.row()]
        refused = row.repair is not None and row.repair.key in self.repairs.refused
        if role == Qt.ItemDataRole.DisplayRole:
            if index.column() == NUMBER:
                return str(row.number) if row.number else NOTE
            return row.text
        if role == Qt.ItemDataRole.CheckStateRole and index.column() == NUMBER and row.repair:
            return Qt.CheckState.Unchecked if refused else Qt.CheckState.Checked
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(row.text)
        if role == Qt.ItemDataRole.AccessibleTextRole and index.column() == TEXT:
            if row.repair is None:
                return row.text
            return f"{tr('refused') if refused else tr('made')}: {row.text}"
        if role == Qt.ItemDataRole.ForegroundRole and (refused or row.repair is None):
            return QGuiApplication.palette().placeholderText().color()
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if index.isValid() and index.column() == NUMBER and self.rows[index.row()].repair:
            flags |= Qt.ItemFlag.ItemIsUserCheckable
        return flags

    def setData(  # noqa: N802
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Refuse a repair, or let it be made."""
        repair = self.rows[index.row()].repair
        if role != Qt.ItemDataRole.CheckStateRole or repair is None:
            return False
        refused = Qt.CheckState(value) == Qt.CheckState.Unchecked
        self.repairs.refuse(repair.key, refused=refused)
        self.dataChanged.emit(self.index(index.row(), NUMBER), self.index(index.row(), TEXT))
        self.refusal.emit(repair.key, refused)
        return True


class RepairsTable(QTableView):
    """Shows the repairs; the chosen one is shown on the plan."""

    chosen_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.repairs = RepairsModel(self)
        self.setModel(self.repairs)
        self.setAccessibleName(tr("Repairs of the drawing, and what was left out"))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setWordWrap(True)
        self.setShowGrid(False)
        self.horizontalHeader().hide()
        self.verticalHeader().hide()
        self.horizontalHeader().setSectionResizeMode(NUMBER, QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().resizeSection(NUMBER, 58)
        self.horizontalHeader().setSectionResizeMode(TEXT, QHeaderView.ResizeMode.Stretch)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.heights = RowHeights(self)
        self.selectionModel().currentRowChanged.connect(self._moved)

    def take(self, repairs: RepairList, notes: Sequence[str]) -> None:
        """Show other rows; the repair that was chosen stays so where it is still there."""
        old = self.chosen()
        self.selectionModel().blockSignals(True)
        self.repairs.take(repairs, notes)
        for row, one in enumerate(self.repairs.rows):
            if old is not None and one.repair is not None and one.repair.key == old.key:
                self.selectRow(row)
        self.selectionModel().blockSignals(False)
        self.heights.forget()
        self.chosen_changed.emit()

    def chosen(self) -> PlanRepair | None:
        """Return the chosen repair."""
        row = self.currentIndex().row()
        return self.repairs.rows[row].repair if 0 <= row < len(self.repairs.rows) else None

    def choose_at(self, x: float, y: float, reach_m: float) -> bool:
        """Choose the repair nearest to a place of the plan (m); tell whether one is."""
        from shapely import Point

        here = Point(x, y)
        near = [
            (one.repair.place.distance(here), row)
            for row, one in enumerate(self.repairs.rows)
            if one.repair is not None and not one.repair.place.is_empty
        ]
        found = min(near, default=None)
        if found is None or found[0] > reach_m:
            return False
        self.selectRow(found[1])
        self.scrollTo(self.repairs.index(found[1], TEXT))
        return True

    def _moved(self, current: QModelIndex, previous: QModelIndex) -> None:
        self.chosen_changed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Space ticks or unticks the chosen repair, in whichever of its cells the keys are."""
        repair = self.chosen()
        if event.key() == Qt.Key.Key_Space and repair is not None:
            refused = repair.key in self.repairs.repairs.refused
            state = Qt.CheckState.Checked if refused else Qt.CheckState.Unchecked
            at = self.repairs.index(self.currentIndex().row(), NUMBER)
            self.repairs.setData(at, state.value, Qt.ItemDataRole.CheckStateRole)
            return
        super().keyPressEvent(event)
