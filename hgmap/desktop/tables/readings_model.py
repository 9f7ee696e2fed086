"""The readings as a table: what is written stands in the cells, what is said against it beside."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, Final

from PySide6.QtCore import QModelIndex, QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPalette

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.tables.reading_rows import (
    SHOWN,
    Known,
    ReadingRow,
    Wanted,
    changes_of,
    chosen_rows,
    sort_key,
)
from hgmap.desktop.tables.signs import sign
from hgmap.desktop.tables.titled_model import Index, TitledModel
from hgmap.desktop.words import tr
from hgmap.editing.reading_edits import Location

Edits = dict[str, dict[tuple[int, str], str]]
"""By file: texts by row and column."""

TITLES: Final = {
    "id": "Id", "floor": "Floor", "room": "Room", "x": "x (m)", "y": "y (m)",
    "height": "Height (m)", "time": "Time", "value": "Value", "unit": "Unit",
    "instrument": "Instrument", "kind": "Kind", "verdict": "Verdict", "note": "Note",
}  # fmt: skip
HELPS: Final = {
    "value": "As written: <0.05 was not detected, >100 was beyond the scale, ~3 is approximate",
    "height": "Above the floor",
    "verdict": "What the tool says of the reading; hold or release it to decide otherwise",
}
_VERDICT: Final = SHOWN.index("verdict")
# asked for every cell that is chosen, so that it has to be quick
_READ: Final = Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEnabled
_TYPED: Final = _READ | Qt.ItemFlag.ItemIsEditable
_NUMBERS: Final = frozenset({"x", "y", "height", "value"})


class ReadingsModel(TitledModel):
    """Rows that are wanted, in the order that is wanted.

    ``write`` puts edits into the files; until they are read back the new text stands in its cell.
    """

    counted = Signal(int, int)
    """Rows that are shown, and all of the round."""
    sorted_by = Signal(int, Qt.SortOrder)

    def __init__(self, write: Callable[[str, Edits], None], parent: QObject | None = None) -> None:
        super().__init__([tr(TITLES[one]) for one in SHOWN], lambda: self.order, parent)
        self.rows: tuple[ReadingRow, ...] = ()
        self.order: list[int] = []
        self.wanted = Wanted()
        self.waiting: dict[tuple[str, int, str], str] = {}
        self._write = write
        self._known = Known()
        self._column, self._direction = -1, Qt.SortOrder.AscendingOrder
        self._at: dict[str, int] = {}
        self._counted: tuple[tuple[ReadingRow, ...], str, int] = ((), "", 0)

    # -- what is shown

    def take(self, rows: Sequence[ReadingRow], known: Known, *, more_comes: bool = False) -> None:
        """Show what was read anew; rows that are the same ones keep their place.

        ``more_comes``: edits are still on their way, and their texts stay in their cells.
        """
        same = [one.reading.where for one in rows] == [one.reading.where for one in self.rows]
        before = self.order
        if not more_comes:
            self.waiting.clear()
        self._known = known
        if same:
            self.rows = tuple(rows)
            found = set(chosen_rows(self.rows, self.wanted, known))
            if found == set(before):
                self._everything_changed()
                self.tell_count()
                return
        self.beginResetModel()
        self.rows = tuple(rows)
        self._arrange()
        self.endResetModel()
        self.tell_count()

    def want(self, wanted: Wanted) -> None:
        """Show other rows."""
        if wanted == self.wanted:
            return
        self.beginResetModel()
        self.wanted = wanted
        self._arrange()
        self.endResetModel()
        self.tell_count()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort by a column; chosen cells stay chosen. A column below zero: as in the files."""
        self._column, self._direction = column, order
        self.layoutAboutToBeChanged.emit()
        old = self.persistentIndexList()
        at = [(self.order[one.row()], one.column()) for one in old]
        self._arrange()
        place = {k: row for row, k in enumerate(self.order)}
        new = [self.index(place[k], c) if k in place else QModelIndex() for k, c in at]
        self.changePersistentIndexList(old, new)
        self.layoutChanged.emit()
        self.sorted_by.emit(column, order)

    @property
    def sorting(self) -> tuple[int, Qt.SortOrder]:
        """Return the column that rows are sorted by, below zero for none, and the direction."""
        return self._column, self._direction

    def _arrange(self) -> None:
        order = chosen_rows(self.rows, self.wanted, self._known)
        if self._column >= 0:
            key = sort_key(SHOWN[self._column])
            rows = self.rows
            keys = {k: key(rows[k]) for k in order}
            down = self._direction == Qt.SortOrder.DescendingOrder
            order.sort(key=lambda k: keys[k], reverse=down)
            if down and self._column != _VERDICT:
                order.sort(key=lambda k: keys[k][0])  # what has nothing there stays last
        self.order = order
        self._at = {self.rows[k].reading.where: row for row, k in enumerate(order)}

    def _everything_changed(self) -> None:
        if self.order:
            last = self.index(len(self.order) - 1, len(SHOWN) - 1)
            self.dataChanged.emit(self.index(0, 0), last)

    def tell_count(self) -> None:
        """Say how many rows are shown, and how many the round has."""
        if self._counted[0] is not self.rows or self._counted[1] != self.wanted.round:
            known, wanted = self._known.rounds, self.wanted.round
            rounds = [one.reading.round for one in self.rows]
            n = sum(not wanted or one == wanted or one not in known for one in rounds)
            self._counted = (self.rows, wanted, n)
        self.counted.emit(len(self.order), self._counted[2])

    def row(self, index: Index | int) -> ReadingRow:
        """Return the reading of a row."""
        return self.rows[self.order[index if isinstance(index, int) else index.row()]]

    def row_of(self, where: str) -> int | None:
        """Return the row of the reading that stands there (file and row); None: it is not shown."""
        return self._at.get(where)

    def ids_of(self, locations: Collection[Location]) -> dict[Location, tuple[str, ...]]:
        """Return what the readings of some lines are called, and are about to be called."""
        return {
            one.location: tuple(
                text
                for text in (one.reading.id, self.waiting.get((one.name, one.line, "id")))
                if text is not None
            )
            for one in self.rows
            if one.location in locations
        }

    # -- Qt's questions

    def headerData(  # noqa: N802
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Return the title of a column, or what stands in it."""
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.ToolTipRole:
            name = SHOWN[section]
            return tr(HELPS[name]) if name in HELPS else tr(TITLES[name])
        return super().headerData(section, orientation, role)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return whether a cell is edited: all but the verdict."""
        return _READ if index.column() == _VERDICT else _TYPED

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows or says, always as text."""
        if not index.isValid():
            return None
        row, column = self.row(index), SHOWN[index.column()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            text = self.written(row, column)
            if role == Qt.ItemDataRole.DisplayRole:
                return (
                    _verdict(text) if column == "verdict" else text or row.derived.get(column, "")
                )
            return text
        complaints = row.complaints.get(column, ())
        if column == "verdict":
            complaints = tuple(one for some in row.complaints.values() for one in some)
        if role == Qt.ItemDataRole.DecorationRole and complaints:
            return sign(any(one.held for one in complaints))
        if role == Qt.ItemDataRole.ToolTipRole:
            tip = self._tooltip(row, column)
            return None if tip is None else plain_tip(tip)
        if role == Qt.ItemDataRole.ForegroundRole:
            return self._ink(row, column)
        if role == Qt.ItemDataRole.FontRole and not self.written(row, column):
            slanted = QFont()
            slanted.setItalic(True)
            return slanted
        if role == Qt.ItemDataRole.TextAlignmentRole and column in _NUMBERS:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == Qt.ItemDataRole.AccessibleTextRole and complaints:
            said = "; ".join(one.text for one in complaints)
            return f"{self.written(row, column)} ({said})"
        return None

    def written(self, row: ReadingRow, column: str) -> str:
        """Return what stands in a cell, or is on its way there."""
        return self.waiting.get((row.name, row.line, column), row.text(column))

    def _tooltip(self, row: ReadingRow, column: str) -> str | None:
        if column == "verdict":
            one = row.reading
            lines = [*(f"{tr('held')}: {text}" for text in one.held),
                     *(f"{tr('caution')}: {text}" for text in one.cautions)]  # fmt: skip
            lines += [f"{tr('overruled')}: {f.text}" for f in one.findings if f.overruled]
            return "\n".join(lines) or None
        lines = [one.text for one in row.complaints.get(column, ())]
        if not row.text(column) and column in row.derived:
            lines.append(tr("nothing is written here; this is what it was taken for"))
        return "\n".join(lines) or None

    def _ink(self, row: ReadingRow, column: str) -> QColor | None:
        palette = QGuiApplication.palette()
        complaints = row.complaints.get(column, ())
        if any(one.held for one in complaints) or (column == "verdict" and row.reading.held):
            return palette.color(QPalette.ColorRole.BrightText)
        if not self.written(row, column) or (row.name, row.line, column) in self.waiting:
            return palette.color(QPalette.ColorRole.PlaceholderText)
        return None

    # -- editing

    def setData(  # noqa: N802
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Write what was typed into one cell."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        return self.set_texts({(index.row(), index.column()): str(value)})

    def set_texts(self, texts: Mapping[tuple[int, int], str], said: str = "") -> bool:
        """Write texts into cells (row, column of the table), as one step; tell if any is new."""
        edits: Edits = {}
        for (at, position), text in texts.items():
            row, column = self.row(at), SHOWN[position]
            changes = changes_of(row, column, text)
            for key, new in changes.items():
                edits.setdefault(row.name, {})[row.line, key] = new
            if changes:
                self.waiting[row.name, row.line, column] = " ".join(text.split())
                self.dataChanged.emit(self.index(at, position), self.index(at, position))
        if edits:
            self._write(said or tr("Edit readings"), edits)
        return bool(edits)

    def forget_waiting(self) -> None:
        """Show what is written again, for what was typed was refused."""
        if self.waiting:
            self.waiting.clear()
            self._everything_changed()


def _verdict(text: str) -> str:
    words = {
        "usable": tr("usable"), "usable with a caution": tr("caution"),
        "held": tr("held"),
    }  # fmt: skip
    return words.get(text, text)
