"""The instrument log: the day of an analyser drawn, its checks as a table, a check to add."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QModelIndex, QSignalBlocker, QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.day_timeline import DayTimeline, readings_of
from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.hands import Haste
from hgmap.desktop.panels.ask_row import Answers, AskRow, Field
from hgmap.desktop.tables.log_model import COLUMNS, LogModel
from hgmap.desktop.tables.text_table import TextTable
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.log_edits import add_check, delete_checks, log_sheet, set_log_cells
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import HgmapError
from hgmap.report.timeline_days import Day, days_of
from hgmap.site.instruments.log_cells import KINDS
from hgmap.site.records import LOG_FILE

if TYPE_CHECKING:
    from hgmap.desktop.tables.readings_desk import ReadingsDesk
    from hgmap.editing.sheet import ReadingsSheet
    from hgmap.site.reading import Reading

Made = tuple[list[Day], list["list[Reading]"], int, "ReadingsSheet | None"]
TABLE_PX = 150
_AT_TOP: Final = QAbstractItemView.ScrollHint.PositionAtTop


PRINCIPLES: Final = ("gold film", "atomic absorption", "atomic fluorescence")


class LogPage(QWidget):
    """Shows one day of one analyser and lets its checks be written down."""

    def __init__(self, work: ReadingsDesk, ask: AskRow) -> None:
        super().__init__()
        self.work, self.ask = work, ask
        self.days: list[Day] = []
        self._of_day: list[list[Reading]] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        self.says = QLabel()
        self.says.setWordWrap(True)
        column.addWidget(self.says)
        self.day = QComboBox()
        self.day.setAccessibleName(tr("Day and instrument"))
        self.day.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.day.currentIndexChanged.connect(self._show_day)
        column.addWidget(self.day)
        self.timeline = DayTimeline()
        self.timeline.reading_chosen.connect(self._chosen)
        column.addWidget(self.timeline)
        self.model = LogModel(self._write, self)
        self.table = TextTable(self.model)
        self.table.setAccessibleName(tr("Checks of the instruments"))
        self.table.setMinimumHeight(TABLE_PX)
        for k, width in enumerate((96, 130, 130, 60, 140, 110, 110, 90, 160)):
            self.table.setColumnWidth(k, width)
        self.table.typed.connect(self._typed)
        self.table.empty_wanted.connect(lambda: self._set(self.table.cells(), ""))
        self.table.pasted.connect(self._paste)
        row = QWidget()
        flow = FlowLayout(row)
        self.add_button = QPushButton(tr("Add a check"))
        self.add_button.clicked.connect(self.ask_check)
        self.delete_button = QPushButton(tr("Delete checks"))
        self.delete_button.clicked.connect(self.delete)
        flow.addWidget(self.add_button)
        flow.addWidget(self.delete_button)
        column.addWidget(row)  # above the table, so that a low window does not hide it
        column.addWidget(self.table, 1)
        column.addStretch(0)
        work.shown.connect(self.refresh)
        work.desk.session.choices_changed.connect(self.refresh)
        work.desk.told.reading_chosen.connect(self.timeline.choose)
        self._say(None, 0)

    # -- what is shown

    def refresh(self) -> None:
        """Gather the days anew, beside the window."""
        session = self.work.desk.session
        site, judged, files, round_ = (
            self.work.site, session.judged, session.files, session.choices.round
        )  # fmt: skip
        if site is None or files is None:
            return
        level = judged.check.level if judged is not None else None

        def work(progress: object, cancelled: object) -> Made:
            from hgmap.report.quality_files import spans_of

            of_round = [one for one in site.readings if one.round == round_]
            days, without = days_of(of_round, site.log, spans_of(site, level, of_round))
            try:
                sheet = log_sheet(files)
            except HgmapError:
                sheet = None  # the site's problems say why
            return days, [readings_of(one, of_round, site.log) for one in days], without, sheet

        self.work.desk.jobs.start(
            "instrument log", work, self._take, lambda error: session.trouble.emit(str(error)),
            haste=Haste.LATER,
        )  # fmt: skip

    def _take(self, made: Made) -> None:
        days, of_day, without, sheet = made
        site = self.work.site
        old = self.day.currentText()
        self.days, self._of_day = days, of_day
        blocker = QSignalBlocker(self.day)
        self.day.clear()
        for one in days:
            self.day.addItem(f"{one.day}, {one.instrument}")
        self.day.setCurrentIndex(max(self.day.findText(old), 0 if days else -1))
        del blocker
        problems = site.log.problems if site is not None and site.log is not None else ()
        self.model.take(sheet, problems)
        self._say(sheet, without)
        self._show_day()

    def _say(self, sheet: ReadingsSheet | None, without: int) -> None:
        lines = []
        session = self.work.desk.session
        if sheet is None and session.files is not None and LOG_FILE in session.files.contents:
            lines.append(tr("The instrument log cannot be read; every reading is held until it "
                            "can be."))  # fmt: skip
        elif sheet is None:
            lines.append(
                tr(
                    "There is no instrument log: nothing shows that the analyser read right, and "
                    "nothing is held for it. Add the first check, and instruments/log.csv begins "
                    "(instrument, principle, check, start, values, reference, unit, result); from "
                    "then on readings are judged by it."
                )
            )
        if without:
            lines.append(tr_count("{n} reading has no time of day and stands on no timeline.",
                                  "{n} readings have no time of day and stand on no timeline.",
                                  without))  # fmt: skip
        self.says.setText("\n".join(lines))
        self.says.setVisible(bool(lines))
        self.table.setVisible(sheet is not None)
        self.delete_button.setVisible(sheet is not None)

    def _show_day(self) -> None:
        k = self.day.currentIndex()
        there = 0 <= k < len(self.days)
        self.timeline.take(self.days[k] if there else None, self._of_day[k] if there else ())
        self.day.setVisible(bool(self.days))
        self._to_day()

    def _to_day(self) -> None:
        """Bring the checks of the chosen day into sight."""
        k = self.day.currentIndex()
        row = self.model.first_of(f"{self.days[k].day:%Y-%m-%d}") if k >= 0 else None
        if row is not None:
            self.table.scrollTo(self.model.index(row, 0), _AT_TOP)

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Go to the day: a table that nobody saw does not know how far it can be scrolled."""
        super().showEvent(event)
        QTimer.singleShot(0, self, self._to_day)

    def _chosen(self, where: str) -> None:
        if not self.work.choose(where):
            self.work.desk.say(tr("That reading is not among those that the table shows."))

    # -- edits

    def _typed(self, index: QModelIndex, text: str) -> None:
        cells = [one for one in self.table.cells() if one[1] == index.column()]
        here = (index.row(), index.column())
        self._set(cells if here in cells else [here], text)

    def _set(self, cells: Sequence[tuple[int, int]], text: str) -> None:
        self.model.set_texts(dict.fromkeys(cells, text))

    def _paste(self, text: str) -> None:
        from hgmap.desktop.tables.blocks import block_of

        at = self.table.currentIndex()
        block = block_of(text)
        fits = at.isValid() and block and (
            at.row() + len(block) <= self.model.rowCount()
            and at.column() + max(map(len, block)) <= len(COLUMNS)
        )  # fmt: skip
        if not fits:
            self.work.desk.session.trouble.emit(
                tr("The pasted cells do not fit into the checks from here on; nothing was changed.")
            )
            return
        self.model.set_texts({
            (at.row() + i, at.column() + j): one
            for i, row in enumerate(block) for j, one in enumerate(row)
        })  # fmt: skip

    def _write(self, changes: dict[tuple[int, str], str]) -> None:
        self.work.desk.session.late.do(
            tr("Edit the instrument log"), lambda files: set_log_cells(files, changes)
        )

    def delete(self) -> None:
        """Take the chosen checks out of the log."""
        rows = [self.model.lines[row] for row in self.table.chosen_rows()]
        if not rows:
            self.work.desk.say(tr("Choose the checks in the table first."))
            return
        words = tr_count("Delete {n} check", "Delete {n} checks", len(rows))
        self.work.desk.session.late.do(words, lambda files: delete_checks(files, rows))

    def ask_check(self) -> None:
        """Ask for a check."""
        k = self.day.currentIndex()
        site = self.work.site
        known = site.log.instruments if site is not None and site.log is not None else ()
        name = self.days[k].instrument if 0 <= k < len(self.days) else ""
        instrument = next((one for one in known if one.name == name), known[0] if known else None)
        now = datetime.now()
        when = (
            datetime.combine(self.days[k].day, now.time()) if 0 <= k < len(self.days) else now
        ).isoformat(timespec="minutes")
        fields = [
            Field("check", tr("Check"), "zero-air", [(one, tr(one)) for one in KINDS]),
            Field("start", tr("Start"), when),
            Field("minutes", tr("Minutes")),
            Field("values", tr("Values")),
            Field("reference", tr("Reference")),
            Field("unit", tr("Unit"), "ug/m3"),
            Field("result", tr("Result"), "pass",
                  [("pass", tr("pass")), ("fail", tr("fail")), ("done", tr("done")),
                   ("", tr("not stated"))]),
            Field("instrument", tr("Instrument"), instrument.name if instrument else ""),
            Field("principle", tr("Principle"),
                  (instrument.principle or "") if instrument else "",
                  [("", tr("not stated")), *((one, tr(one)) for one in PRINCIPLES)]),
        ]  # fmt: skip
        text = tr("A check of an instrument. Values of one check with spaces between them; for a "
                  "span, the reference is what it should have read.")  # fmt: skip
        self.ask.ask(text, fields, tr("Write it down"), self._add)

    def _add(self, said: Answers) -> bool:
        session = self.work.desk.session
        cells: dict[str, Any] = dict(said)
        cells |= self._known(said["instrument"])
        if not (said["values"].strip() or said["reference"].strip()):
            cells["unit"] = ""
        for name in ("instrument", "start"):
            if not said[name].strip():
                session.trouble.emit(
                    tr("A check has an instrument and a start; nothing was written.")
                )
                self.ask.fields[name].setFocus()
                return False

        def make(files: SiteFiles) -> SiteFiles:
            return add_check(files, cells)

        session.late.do(tr("Add a check"), make)
        return True

    def _known(self, instrument: str) -> dict[str, str]:
        """Return what the log says of an instrument already: serial number and certificate."""
        site = self.work.site
        log = site.log if site is not None else None
        known = log.instrument(instrument) if log is not None else None
        if known is None:
            return {}
        date = known.certificate.isoformat() if known.certificate else ""
        return {"serial": known.serial, "certificate": date}
