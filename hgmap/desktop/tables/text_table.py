"""A table whose cells are edited as text: typing, copying and pasting as in a spreadsheet."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from hgmap.desktop.tables.blocks import block_text
from hgmap.desktop.words import tr

Index = QModelIndex | QPersistentModelIndex


class TextDelegate(QStyledItemDelegate):
    """Edits every cell as a line of text: no spin box loses a digit."""

    def createEditor(  # noqa: N802
        self, parent: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> QWidget:
        """Return a line to type into."""
        line = QLineEdit(parent)
        line.setFrame(False)
        return line

    def setEditorData(self, editor: QWidget, index: Index) -> None:  # noqa: N802
        """Put into the line what is written in the cell."""
        if isinstance(editor, QLineEdit):
            editor.setText(str(index.data(Qt.ItemDataRole.EditRole) or ""))

    def setModelData(  # noqa: N802
        self, editor: QWidget, model: QAbstractItemModel, index: Index
    ) -> None:
        """Write what was typed, into all chosen cells where several are chosen."""
        view = self.parent()
        if isinstance(editor, QLineEdit) and isinstance(view, TextTable):
            view.typed.emit(model.index(index.row(), index.column()), editor.text())


class TextTable(QTableView):
    """Rows and cells that are chosen, typed over, copied and pasted."""

    typed = Signal(QModelIndex, str)
    pasted = Signal(str)
    empty_wanted = Signal()

    def __init__(self, model: QAbstractItemModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setModel(model)
        self.setItemDelegate(TextDelegate(self))
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setAlternatingRowColors(True)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        rows = self.verticalHeader()
        rows.hide()
        # one height for all: no cell is asked for before it is seen
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        rows.setDefaultSectionSize(self.fontMetrics().height() + 9)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setMinimumSectionSize(28)
        self._own(tr("Copy"), QKeySequence(QKeySequence.StandardKey.Copy), self.copy)
        self._own(tr("Paste"), QKeySequence(QKeySequence.StandardKey.Paste), self.paste)
        self._own(tr("Empty the chosen cells"), QKeySequence("Delete"), self.empty_wanted.emit)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.ActionsContextMenu)

    def _own(self, text: str, keys: QKeySequence, act: Any) -> None:
        action = QAction(text, self)
        action.setShortcut(keys)
        action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        action.triggered.connect(lambda _=False: act())
        self.addAction(action)

    def cells(self) -> list[tuple[int, int]]:
        """Return the chosen cells (row, column) that are shown, in the order of the table."""
        found = {
            (row, column)
            for one in self.selectionModel().selection().toList()
            for column in range(one.left(), one.right() + 1)
            if not self.isColumnHidden(column)
            for row in range(one.top(), one.bottom() + 1)
        }
        current = self.currentIndex()
        if not found and current.isValid():
            found.add((current.row(), current.column()))
        return sorted(found)

    def chosen_rows(self) -> list[int]:
        """Return the rows that any chosen cell stands in."""
        return sorted({row for row, _ in self.cells()})

    def copy(self) -> None:
        """Copy the chosen cells, tabs between them; cells between that are not chosen are empty."""
        cells = set(self.cells())
        if not cells:
            return
        columns = sorted({column for _, column in cells})
        model = self.model()
        text = block_text(
            [
                [
                    str(model.index(row, column).data(Qt.ItemDataRole.EditRole) or "")
                    if (row, column) in cells
                    else ""
                    for column in columns
                ]
                for row in self.chosen_rows()
            ]
        )
        QGuiApplication.clipboard().setText(text)

    def paste(self) -> None:
        """Hand on what the clipboard holds."""
        self.pasted.emit(QGuiApplication.clipboard().text())
