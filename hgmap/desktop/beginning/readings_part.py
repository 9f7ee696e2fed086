"""The first readings: from a file or the clipboard, or later; how they are read is shown."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLineEdit, QPushButton, QTableWidget
from PySide6.QtWidgets import QTableWidgetItem as Cell

from hgmap.desktop.beginning.asked import AskedRow, asked_of
from hgmap.desktop.beginning.part import FileField, Part, sentence, table_of_clipboard
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.begin_readings import (
    PASTED,
    FirstReadings,
    look_at_readings,
    readings_from_file,
    titles_of,
)
from hgmap.errors import HgmapError
from hgmap.site.intake.answers import Answers

if TYPE_CHECKING:
    from hgmap.desktop.work import Jobs
    from hgmap.site.intake.import_readings import ImportedReadings

ASKS: Final = ("unit", "column", "dates", "decimal", "sheet", "date")
MOST_ROWS: Final = 6
Looked = tuple[FirstReadings, "ImportedReadings"]


class _AskedError(HgmapError):
    """An error with the table's titles beside it, for the question."""

    def __init__(self, error: HgmapError, titles: tuple[str, ...]) -> None:
        super().__init__(error.message, where=error.where, todo=error.todo)
        self.titles = titles


class ReadingsPart(Part):
    """A table of readings; what is ambiguous in it is asked, nothing is guessed."""

    def __init__(self, jobs: Jobs) -> None:
        super().__init__(tr("The readings"), tr("They can also come later."))
        self.jobs = jobs
        self.file = FileField(tr("File of the readings (CSV, TSV, XLSX)"))
        self.paste = QPushButton(tr("Paste"))
        self.paste.setToolTip(tr("Take the table that was copied from a spreadsheet")
                              + " (Ctrl+Alt+V)")  # fmt: skip
        self.row(tr("&Readings"), self.file, self.paste)
        self.round = QLineEdit(tr("survey"))
        self.row(tr("Name of the v&isit"), self.round)
        self.day = QLineEdit()
        self.day.setPlaceholderText(tr("2026-03-02; it is written on every map"))
        self.row(tr("Its d&ay"), self.day)
        self.asked = AskedRow()
        self.column.addWidget(self.asked)
        self.said = sentence()
        self.trouble = sentence(kind="alarm")
        self.column.addWidget(self.said)
        self.column.addWidget(self.trouble)
        self.mapping = QTableWidget(0, 4)
        self.mapping.setHorizontalHeaderLabels([tr("here"), tr("in the table"), tr("first cell"),
                                                tr("known by")])  # fmt: skip
        self.mapping.setAccessibleName(tr("How the columns are read"))
        self.mapping.verticalHeader().hide()
        self.mapping.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.mapping.setTabKeyNavigation(False)
        self.mapping.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.column.addWidget(self.mapping)
        self.mapping.hide()
        self.floor = "ground"
        self.answers = Answers()
        self.pasted: bytes | None = None
        self.ready: FirstReadings | None = None
        self.waiting = False
        self.file.changed.connect(self._named)
        self.round.editingFinished.connect(self.look)
        self.day.editingFinished.connect(self._day_said)
        self.paste.clicked.connect(self.take_clipboard)
        self.asked.answered.connect(self._answered)
        QShortcut(QKeySequence("Ctrl+Alt+V"), self, self.take_clipboard)
        self.said.hide()
        self.trouble.hide()

    @property
    def wanted(self) -> bool:
        """Whether there is a table at all."""
        return self.pasted is not None or self.file.path is not None

    def take_file(self, path: Path) -> bool:
        """Take a file that was dropped, if it is a table; tell whether it is."""
        if path.suffix.casefold() not in (".csv", ".tsv", ".txt", ".xlsx"):
            return False
        self.file.text.setText(str(path))
        return True

    def take_clipboard(self) -> None:
        """Take the text of the clipboard as the table."""
        try:
            pasted = table_of_clipboard(self.file)
        except HgmapError as error:
            self._fail(str(error))
            return
        self.pasted, self.answers = pasted, Answers()
        self.look()

    def of_floor(self, floor: str) -> None:
        """Say of which floor readings are that name none."""
        if floor != self.floor:
            self.floor = floor
            self.look()

    def _named(self) -> None:
        if self.file.path is not None:
            self.pasted = None
        self.answers = Answers()
        self.look()

    def _answered(self, option: str, ours: str, text: str) -> None:
        try:
            if option == "column":
                columns = {**self.answers.columns, ours: text}
                self.answers = self.answers.model_copy(update={"columns": columns})
            elif option == "date":
                self.day.setText(dt.date.fromisoformat(text).isoformat())
            else:
                self.answers = self.answers.model_copy(update={option: text})
        except ValueError:
            self._fail(tr("{text} is not a day; write it as 2026-03-02.", text=text))
            return
        self.look()

    def _day_said(self) -> None:
        if self.day.isModified():
            self.day.setModified(False)
            self.look()

    def look(self) -> None:
        """Find out, beside the window, how the table is read."""
        self.ready, self.waiting = None, self.wanted
        self.asked.ask("", "")
        for widget in (self.said, self.trouble, self.mapping):
            widget.hide()
        self.jobs.drop("new readings")
        self.changed.emit()
        if not self.wanted:
            return
        said = self.day.text().strip()
        try:
            day = dt.date.fromisoformat(said) if said else None
        except ValueError:
            self.waiting = False
            self._fail(tr("{text} is not a day; write it as 2026-03-02.", text=said))
            return
        path, pasted = self.file.path, self.pasted
        answers = self.answers.model_copy(update={"date": day})
        floor, visit = self.floor, self.round.text().strip()

        def work(progress: object, cancelled: object) -> Looked:
            if pasted is not None or path is None:
                name, data = PASTED, pasted or b""
            else:
                name, data = readings_from_file(path)
            first = FirstReadings(name, data, answers, visit)
            try:
                return first, look_at_readings(first, floor)
            except HgmapError as error:
                raise _AskedError(error, titles_of(first)) from None

        self.jobs.start("new readings", work, self._take, self._failed, wait_ms=120)

    def _take(self, looked: Looked) -> None:
        self.ready, found = looked
        self.waiting = False
        parts = [tr_count("{n} reading.", "{n} readings.", found.rows)]
        left = sum(one.last - one.first + 1 for one in found.left_out)
        if left:
            parts.append(tr_count("{n} row is no reading.", "{n} rows are no readings.", left))
        if found.doubtful:
            parts.append(tr_count("{n} is held, with its question.",
                                  "{n} are held, each with its question.",
                                  found.doubtful))  # fmt: skip
        self.said.setText(" ".join((*parts, *found.notes[:3])))
        self.said.show()
        self.mapping.setRowCount(len(found.matches))
        for row, one in enumerate(found.matches):
            for column, text in enumerate((one.ours, one.theirs, one.example, one.why)):
                cell = Cell(text)
                cell.setToolTip(text)
                cell.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                self.mapping.setItem(row, column, cell)
        self.mapping.resizeRowsToContents()
        shown = min(len(found.matches), MOST_ROWS)
        high = self.mapping.horizontalHeader().sizeHint().height() + 6
        high += sum(self.mapping.rowHeight(row) for row in range(shown))
        self.mapping.setFixedHeight(high)
        self.mapping.show()
        self.changed.emit()

    def _failed(self, error: Exception) -> None:
        self.waiting = False
        option, ours = asked_of(error, ASKS) if isinstance(error, HgmapError) else ("", "")
        titles = error.titles if option == "column" and isinstance(error, _AskedError) else ()
        self.asked.ask(option, ours, [(one, one) for one in titles])
        if option and isinstance(error, HgmapError):
            self._fail(f"{error.where}: {error.message}" if error.where else error.message)
        else:
            self._fail(in_one_line(error))

    def _fail(self, text: str) -> None:
        self.trouble.setText(text)
        self.trouble.show()
        self.changed.emit()
