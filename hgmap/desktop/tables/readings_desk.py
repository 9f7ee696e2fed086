"""What the narrow and the wide table of readings share: rows, what is chosen, every edit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import (
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QObject,
    QSignalBlocker,
    Qt,
    QTimer,
    Signal,
)

from hgmap.desktop.tables.blocks import block_of, has_titles
from hgmap.desktop.tables.reading_rows import EDITABLE, SHOWN, Known, ReadingRow, Wanted, rows_of
from hgmap.desktop.tables.readings_model import Edits, ReadingsModel
from hgmap.desktop.tables.text_table import TextTable
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.reading_edits import Location, check_rows, delete_rows, set_cells
from hgmap.editing.site_files import SiteFiles

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.site.model import Site
    from hgmap.site.reading import Reading

TYPED_MS: Final = 120
"""How long after a letter of the filter the rows are chosen anew."""
MOST_KEPT: Final = 300
"""Rows that stay chosen when others are shown; choosing more of them again would be felt."""
_Kept = tuple[list[tuple[str, int, int]], tuple[str, int] | None]
NARROW: Final = ("id", "value", "room", "verdict")
_WIDTHS: Final = {
    "id": 74, "floor": 80, "room": 74, "x": 66, "y": 66, "height": 98, "time": 140, "value": 78,
    "unit": 70, "instrument": 150, "kind": 110, "verdict": 110, "note": 340,
}  # fmt: skip


class ReadingsDesk(QObject):
    """One model, one selection, and what is done to them."""

    chosen_changed = Signal()
    shown = Signal()
    """Rows were read anew."""
    wanted_changed = Signal()
    rows_pasted = Signal(str)
    """Text that is more than cells to write over: rows to take in."""

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self.model = ReadingsModel(self._write, self)
        self.selection = QItemSelectionModel(self.model, self)
        self.selection.currentRowChanged.connect(self._current)
        self.selection.selectionChanged.connect(lambda *_: self.chosen_changed.emit())
        self.words, self.all_floors, self.held_only = "", False, False
        self._typed = QTimer(self)
        self._typed.setSingleShot(True)
        self._typed.setInterval(TYPED_MS)
        self._typed.timeout.connect(self._want)
        session = desk.session
        session.site_changed.connect(self.refresh)
        session.judged_changed.connect(self.refresh)
        session.opened.connect(self._opened)
        session.choices_changed.connect(self._want)

    # -- rows

    def refresh(self) -> None:
        """Read the rows anew, beside the window."""
        session = self.desk.session
        files, site = session.files, self.site
        if files is None or site is None:
            return  # what was read last stays
        # a floor whose plan cannot be read is one of the site's too
        floors = (*site.floors_without_a_plan, *(one.name for one in site.floors))
        known = Known(frozenset(one.name for one in site.rounds), frozenset(floors))
        self.desk.jobs.start(
            "readings table",
            lambda progress, cancelled: (rows_of(files, site, cancelled), known),
            self._take,
            lambda error: session.trouble.emit(str(error)),
        )

    @property
    def site(self) -> Site | None:
        """The site as it is judged by its log and by people; None before that is done."""
        judged = self.desk.session.judged
        return judged.check.site if judged is not None else None

    def _opened(self) -> None:
        """Show nothing of the last site, and nothing of this one before it is judged."""
        self.desk.jobs.drop("readings table")
        self._take(((), Known()))

    def _take(self, made: tuple[Sequence[ReadingRow], Known]) -> None:
        kept = self._kept()
        self.model.take(*made, more_comes=self.desk.session.late.busy)
        self._put_back(kept)
        self.shown.emit()

    def want(
        self,
        *,
        words: str | None = None,
        all_floors: bool | None = None,
        held_only: bool | None = None,
    ) -> None:
        """Choose which rows are shown; words are waited for, as they are typed."""
        if all_floors is not None:
            self.all_floors = all_floors
        if held_only is not None:
            self.held_only = held_only
        if words is not None and words != self.words:
            self.words = words
            self._typed.start()
            return
        self._want()

    def _want(self) -> None:
        self._typed.stop()
        choices = self.desk.session.choices
        wanted = Wanted(choices.round, "" if self.all_floors else choices.floor,
                        self.held_only, self.words)  # fmt: skip
        if wanted != self.model.wanted:
            kept = self._kept()
            self.model.want(wanted)
            self._put_back(kept)
        self.wanted_changed.emit()

    def _kept(self) -> _Kept:
        at = self.selection.currentIndex()
        current = (self.model.row(at).reading.where, at.column()) if at.isValid() else None
        if len(self._rows()) > MOST_KEPT:
            return [], current
        return [
            (self.model.row(row).reading.where, one.left(), one.right())
            for one in self.selection.selection().toList()
            for row in range(one.top(), one.bottom() + 1)
        ], current

    def _put_back(self, kept: _Kept) -> None:
        """Choose again what was chosen, as far as it is still shown; nothing is pointed at."""
        chosen, current = kept
        if self.selection.hasSelection() or not chosen:
            return
        selection = QItemSelection()
        for where, left, right in chosen:
            row = self.model.row_of(where)
            if row is not None:
                selection.select(self.model.index(row, left), self.model.index(row, right))
        blocker = QSignalBlocker(self.selection)
        self.selection.select(selection, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        row = self.model.row_of(current[0]) if current else None
        if row is not None and current is not None:
            self.selection.setCurrentIndex(
                self.model.index(row, current[1]), QItemSelectionModel.SelectionFlag.NoUpdate
            )
        del blocker
        self.chosen_changed.emit()

    # -- what is chosen

    def chosen(self) -> list[Reading]:
        """Return the readings that any chosen cell belongs to, in the order of the table."""
        rows = self._rows()
        if not rows and self.selection.currentIndex().isValid():
            rows = [self.selection.currentIndex().row()]
        return [self.model.row(row).reading for row in rows]

    @property
    def any_chosen(self) -> bool:
        """Whether any reading is chosen."""
        return self.selection.hasSelection() or self.selection.currentIndex().isValid()

    def choose(self, where: str) -> bool:
        """Choose the reading that stands there (file and row); tell if it is shown."""
        row = self.model.row_of(where)
        if row is None:
            return False
        here = self.selection.currentIndex()
        if here.isValid() and here.row() == row:
            return True
        flags = QItemSelectionModel.SelectionFlag
        index = self.model.index(row, 0)
        self.selection.setCurrentIndex(index, flags.ClearAndSelect | flags.Rows)
        return True

    def _current(self, current: QModelIndex, previous: QModelIndex) -> None:
        if current.isValid():
            self.desk.told.reading_chosen.emit(self.model.row(current).reading.where)

    # -- tables

    def table(self, columns: Sequence[str], name: str) -> TextTable:
        """Return a table of some columns; all tables share what is chosen."""
        view = TextTable(self.model)
        view.setSelectionModel(self.selection)
        view.setAccessibleName(name)
        for k, column in enumerate(SHOWN):
            view.setColumnHidden(k, column not in columns)
            view.setColumnWidth(k, _WIDTHS[column])
        header = view.horizontalHeader()
        # asking for sorting sorts by the indicator: it keeps the order that there is
        header.setSortIndicator(*self.model.sorting)
        view.setSortingEnabled(True)
        header.setSortIndicatorClearable(True)
        view.typed.connect(lambda index, text: self.type_in(view, index, text))
        view.empty_wanted.connect(lambda: self.empty(view))
        view.pasted.connect(lambda text: self.paste(view, text))

        def show_order(column: int, order: Qt.SortOrder) -> None:
            blocker = QSignalBlocker(header)
            header.setSortIndicator(column, order)
            del blocker
            header.viewport().update()

        self.model.sorted_by.connect(show_order)
        self.selection.currentRowChanged.connect(
            lambda now, before: view.scrollTo(now) if now.isValid() and view.isVisible() else None
        )
        return view

    # -- edits

    def type_in(self, view: TextTable, index: QModelIndex, text: str) -> None:
        """Write a text into a cell, or into all that are chosen where it is one of them."""
        cells = view.cells()
        if (index.row(), index.column()) not in cells:
            cells = [(index.row(), index.column())]
        # typing into a chosen row means the cell that is typed into, not its whole row
        columns = {column for _, column in cells}
        if len(columns) > 1:
            cells = [one for one in cells if one[1] == index.column()]
        self._set(cells, text)

    def same_value(self, view: TextTable) -> None:
        """Write what stands in the current cell into the chosen cells of its column."""
        at = view.currentIndex()
        if at.isValid():
            text = str(at.data(Qt.ItemDataRole.EditRole) or "")
            self._set([one for one in view.cells() if one[1] == at.column()], text)

    def empty(self, view: TextTable) -> None:
        """Empty the chosen cells."""
        self._set(view.cells(), "")

    def _set(self, cells: Sequence[tuple[int, int]], text: str) -> None:
        editable = [one for one in cells if SHOWN[one[1]] in EDITABLE]
        if cells and not editable:
            self._no_verdict()
            return
        self.model.set_texts(dict.fromkeys(editable, text))

    def _no_verdict(self) -> None:
        self.desk.session.trouble.emit(
            tr("The verdict is not typed: hold or release the reading, with initials and a reason.")
        )

    def delete(self) -> None:
        """Take the chosen readings out of their files."""
        where = {one.location: (one.reading.id,) for one in map(self.model.row, self._rows())}
        if not where:
            self.desk.say(tr("Choose the readings in the table first."))
            return

        def make(files: SiteFiles) -> SiteFiles:
            check_rows(files, where)
            return delete_rows(files, where)

        self.selection.clear()
        words = tr_count("Delete {n} reading", "Delete {n} readings", len(where))
        self.desk.session.late.do(words, make)

    def _rows(self) -> list[int]:
        # by ranges: 5,000 rows have 65,000 cells
        return sorted(
            {
                row
                for one in self.selection.selection().toList()
                for row in range(one.top(), one.bottom() + 1)
            }
        )

    def paste(self, view: TextTable, text: str) -> None:
        """Write pasted cells over those from the current one on, or take rows in."""
        block = block_of(text)
        if not block or not any(any(row) for row in block):
            self.desk.session.trouble.emit(tr("There is nothing to paste: copy cells first."))
            return
        at = view.currentIndex()
        shown = [k for k in range(len(SHOWN)) if not view.isColumnHidden(k)]
        if has_titles(block) or not at.isValid():
            self.rows_pasted.emit(text)
            return
        cells = view.cells()
        if len(block) == 1 and len(block[0]) == 1 and len(cells) > 1:
            self._set([one for one in cells if one[1] == at.column()], block[0][0])
            return
        top = min((row for row, _ in cells), default=at.row())
        left = min((column for _, column in cells), default=at.column())
        columns = shown[shown.index(left) :]
        if len(block) > self.model.rowCount() - top:
            titles = [SHOWN[k] for k in columns[: max(map(len, block))]]
            self.rows_pasted.emit("\t".join(titles) + "\n" + text)
            return
        texts: dict[tuple[int, int], str] = {}
        for k, row in enumerate(block):
            for column, one in zip(columns, row, strict=False):
                if SHOWN[column] in EDITABLE:
                    texts[top + k, column] = one
        if not texts:
            self._no_verdict()
            return
        if max(map(len, block)) > len(columns):
            self.desk.session.trouble.emit(
                tr("The pasted cells are more than the columns to the right; nothing was pasted.")
            )
            return
        self.model.set_texts(texts, tr("Paste cells"))

    def _write(self, said: str, edits: Edits) -> None:
        lines = {Location(name, row) for name, changes in edits.items() for row, _ in changes}
        seen = self.model.ids_of(lines)

        def make(files: SiteFiles) -> SiteFiles:
            check_rows(files, seen)
            for name, changes in edits.items():
                files = set_cells(files, name, changes)
            return files

        def done(ok: bool) -> Any:
            # refused, or nothing new: what is written stands in the cells again
            if not ok:
                self.model.forget_waiting()

        self.desk.session.late.do(said, make, done)
