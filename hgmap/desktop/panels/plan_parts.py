"""Rooms, openings and walls of a plan as a table: the equal of the picture for those who type."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import shapely
from PySide6.QtCore import (
    QAbstractItemModel,
    QItemSelection,
    QItemSelectionModel,
    Qt,
    Signal,
)
from PySide6.QtGui import QGuiApplication, QKeyEvent, QPalette
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.drawing_board import DrawingBoard

STATES: Final = ("open", "closed", "sealed")
NAME, SIZE = range(2)
_SIGNS: Final = {"room": "▭", "opening": "▯", "wall": "─", "": "?"}


def kind_words(kind: str) -> str:
    """Return what a kind of feature is called."""
    return {
        "room": tr("room"), "opening": tr("opening"), "wall": tr("wall"), "": tr("not used"),
    }[kind]  # fmt: skip


def state_words(state: str) -> str:
    """Return what a state is called; one that nobody knows stands as it is."""
    words = {"open": tr("open"), "closed": tr("closed"), "sealed": tr("sealed")}
    return words.get(state, state)


@dataclass(frozen=True)
class Part:
    """One row: a feature of the plan."""

    key: str
    kind: str
    name: str
    size: str
    state: str
    complaint: str


def _size_words(part: Part) -> str:
    return f"{state_words(part.state)} {part.size}" if part.kind == "opening" else part.size


class PartsModel(TitledModel):
    """The features of the draft; names and states can be edited."""

    renamed = Signal(str, str)
    state_wanted = Signal(str, str)

    def __init__(self, board: DrawingBoard, parent: QWidget) -> None:
        super().__init__((tr("Name"), tr("Size, state")), lambda: self.parts, parent)
        self.board = board
        self.round = ""
        """The round whose states are shown; empty: those of the plan."""
        self.parts: list[Part] = []

    def refresh(self) -> None:
        """Show the draft as it is now."""
        self.beginResetModel()
        self.parts = self._parts()
        self.endResetModel()

    def _parts(self) -> list[Part]:
        draft = self.board.draft
        if draft is None:
            return []
        said = self._said_in_round()
        found = []
        order = {"room": 0, "opening": 1, "wall": 2, "": 3}
        for one in sorted(draft.features, key=lambda one: (order[one.kind], one.number)):
            size = ""
            if one.geometry is not None and not one.complaint:
                area, length = float(shapely.area(one.geometry)), float(one.geometry.length)
                size = f"{area:.1f} m²" if one.kind == "room" else f"{length:.2f} m"
            name = one.name or one.id or tr("number {n}", n=one.number)
            state = said.get(one.id, one.state) if one.kind == "opening" else ""
            found.append(Part(one.key, one.kind, name, size, state, one.complaint))
        return found

    def _said_in_round(self) -> dict[str, str]:
        table = self.board.table
        for one in table.rounds if table and self.round else ():
            if one.name == self.round:
                return dict(one.openings.get(self.board.floor, {}))
        return {}

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says."""
        part, column = self.parts[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            if column == NAME:
                return f"{_SIGNS[part.kind]} {part.name}"
            return _size_words(part)
        if role == Qt.ItemDataRole.EditRole:
            return part.name if column == NAME else part.state or part.size
        if role == Qt.ItemDataRole.AccessibleTextRole:
            bad = f", {tr('cannot be used')}: {part.complaint}" if part.complaint else ""
            if column == NAME:
                return f"{kind_words(part.kind)} {part.name}{bad}"
            return _size_words(part)
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(part.complaint or f"{kind_words(part.kind)} {part.name}")
        if role == Qt.ItemDataRole.ForegroundRole and part.complaint:
            return QGuiApplication.palette().color(QPalette.ColorRole.BrightText)
        if role == Qt.ItemDataRole.TextAlignmentRole and column == SIZE:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if index.isValid():
            kind, column = self.parts[index.row()].kind, index.column()
            if (kind, column) in (("room", NAME), ("opening", SIZE)):
                flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def setData(  # noqa: N802
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Ask for the change; the plan's own rules say whether it is made."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        part = self.parts[index.row()]
        text = str(value).strip()
        if index.column() == NAME and text != part.name:
            self.renamed.emit(part.key, text)
        elif index.column() == SIZE and text != part.state:
            self.state_wanted.emit(part.key, text)
        return True


class StateDelegate(QStyledItemDelegate):
    """Chooses a state from the three there are."""

    def createEditor(  # noqa: N802
        self, parent: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> QWidget:
        """Return a box of the states."""
        box = QComboBox(parent)
        for state in STATES:
            box.addItem(state_words(state), state)
        box.activated.connect(lambda _=0: self._chosen(box))
        return box

    def _chosen(self, box: QComboBox) -> None:
        self.commitData.emit(box)
        self.closeEditor.emit(box)

    def setEditorData(self, editor: QWidget, index: Index) -> None:  # noqa: N802
        """Show the state that it has."""
        if isinstance(editor, QComboBox):
            at = editor.findData(index.data(Qt.ItemDataRole.EditRole))
            editor.setCurrentIndex(max(at, 0))

    def setModelData(  # noqa: N802
        self, editor: QWidget, model: QAbstractItemModel, index: Index
    ) -> None:
        """Take the state that was chosen."""
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentData())


class PartsTable(QTableView):
    """Shows the parts; what is chosen here is chosen on the plan, and the reverse."""

    delete_wanted = Signal()

    def __init__(self, board: DrawingBoard) -> None:
        super().__init__()
        self.board = board
        self.parts = PartsModel(board, self)
        self.setModel(self.parts)
        self.setAccessibleName(tr("Rooms, openings and walls"))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(24)
        head = self.horizontalHeader()
        head.setSectionResizeMode(NAME, QHeaderView.ResizeMode.Stretch)
        wide = self.fontMetrics().horizontalAdvance
        head.setSectionResizeMode(SIZE, QHeaderView.ResizeMode.Fixed)
        widest = max(wide(f"{state_words(one)} 0.90 m") for one in STATES)
        head.resizeSection(SIZE, max(widest, wide(tr("Size, state"))) + 18)
        self._delegate = StateDelegate(self)
        self.setItemDelegateForColumn(SIZE, self._delegate)
        self.selectionModel().selectionChanged.connect(self._selected)
        board.changed.connect(self.refresh)
        board.chosen_changed.connect(self.show_chosen)
        self._quiet = False

    def refresh(self) -> None:
        """Show the draft as it is now; what was chosen stays so."""
        self._quiet = True
        self.parts.refresh()
        self._quiet = False
        self.show_chosen()

    def show_chosen(self) -> None:
        """Mark the rows of what is chosen on the plan."""
        if self._quiet:
            return
        self._quiet = True
        rows = [n for n, one in enumerate(self.parts.parts) if one.key in self.board.chosen]
        selection = QItemSelection()
        for row in rows:
            selection.select(self.parts.index(row, 0), self.parts.index(row, 1))
        model = self.selectionModel()
        model.select(selection, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        if rows and self.currentIndex().row() not in rows:
            at = self.parts.index(rows[-1], 0)
            model.setCurrentIndex(at, QItemSelectionModel.SelectionFlag.NoUpdate)
            self.scrollTo(at)
        self._quiet = False

    def _selected(self) -> None:
        if self._quiet:
            return
        rows = sorted({index.row() for index in self.selectionModel().selectedRows()})
        keys = [self.parts.parts[row].key for row in rows]
        kept = [key for key in self.board.chosen if key in keys]
        self._quiet = True
        self.board.choose([*kept, *(key for key in keys if key not in kept)])
        self._quiet = False

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Delete takes what is chosen out; Enter edits."""
        if event.key() == Qt.Key.Key_Delete and self.board.chosen:
            self.delete_wanted.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.edit_current()
        else:
            super().keyPressEvent(event)

    def edit_current(self) -> None:
        """Edit the name of a room, or the state of an opening."""
        row = self.currentIndex().row()
        if 0 <= row < len(self.parts.parts):
            kind = self.parts.parts[row].kind
            if kind in ("room", "opening"):
                self.edit(self.parts.index(row, NAME if kind == "room" else SIZE))
