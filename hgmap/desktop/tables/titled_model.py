"""What Qt asks of every table of rows under titles."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Sized
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt

Index = QModelIndex | QPersistentModelIndex


class TitledModel(QAbstractTableModel):
    """A table as wide as its titles and as long as ``lines`` gives rows; cells are its own."""

    def __init__(
        self, titles: Sequence[str], lines: Callable[[], Sized], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.titles = tuple(titles)
        self._lines = lines

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802
        """Return how many rows there are."""
        return 0 if parent.isValid() else len(self._lines())

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(self.titles)

    def headerData(  # noqa: N802
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Return the title of a column."""
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self.titles[section]
        return None
