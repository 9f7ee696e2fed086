"""Which files are written, where, and what was: the last part of the print page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QUrl, Signal
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QCheckBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.export_work import Export, Exported, export, proposed_folder
from hgmap.desktop.theme import dress_again
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.print_sheets import Known, Wanted
    from hgmap.desktop.sheet_form import SheetForm

NAME = "export"


class ExportForm(QWidget):
    """Writes beside the window; it can be stopped, and leaves nothing half-written."""

    sheets_changed = Signal()
    """Every sheet of a floor is wanted, or not: they are numbered together."""

    def __init__(self, desk: Desk, chosen: SheetForm, known: Callable[[], Known | None]) -> None:
        super().__init__()
        self.desk, self.chosen, self.known = desk, chosen, known
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 8, 8, 4)
        column.setSpacing(4)
        self.parts = {
            "map": QCheckBox(tr("Maps, lists and tables")),
            "sheets": QCheckBox(tr("Every sheet of each floor")),
            "diagnostics": QCheckBox(tr("How the estimate was made")),
            "clearance": QCheckBox(tr("Release of the rooms")),
            "change": QCheckBox(tr("Change since the round before")),
        }
        self.parts["map"].setChecked(True)
        for box in self.parts.values():
            column.addWidget(box)
        self.also, self.report = _also_ticks(), _report_ticks()
        column.addWidget(_heading(tr("Maps also as")))
        column.addLayout(_in_rows(self.also))
        column.addWidget(_heading(tr("The whole report")))
        column.addLayout(_in_rows(self.report))
        for box in (*self.parts.values(), *self.also.values(), *self.report.values()):
            box.toggled.connect(self._ticked)
        self._by_hand = self._proposing = self._writing = self._own_folder = False
        """Whether a person ticked something, ticks are proposed just now, files are being written,
        a folder was chosen."""
        self._every_sheet_before = False
        self.dpi = QLineEdit("200")
        self.dpi.setMaximumWidth(70)
        self.dpi.setAccessibleName(tr("Dots per inch of pictures"))
        row = QHBoxLayout()
        label = QLabel(tr("Dots per inch of pictures"))
        label.setBuddy(self.dpi)
        row.addWidget(label, 1)
        row.addWidget(self.dpi)
        column.addLayout(row)
        self._lay_out_folder(column)
        self._lay_out_buttons(column)
        self.done: Exported | None = None
        self._busy(False)
        self.listed.hide()
        self.open.hide()
        self.folder.textEdited.connect(self._typed)
        desk.jobs.busy_changed.connect(self._progressed)

    def _lay_out_folder(self, column: QVBoxLayout) -> None:
        row = QHBoxLayout()
        self.folder = QLineEdit()
        self.folder.setAccessibleName(tr("Folder for the files"))
        self.choose = QPushButton("...")
        self.choose.setAccessibleName(tr("Choose the folder"))
        self.choose.setToolTip(tr("Choose the folder"))
        self.choose.clicked.connect(self._choose)
        row.addWidget(self.folder, 1)
        row.addWidget(self.choose)
        column.addWidget(_heading(tr("Into the folder")))
        column.addLayout(row)

    def _lay_out_buttons(self, column: QVBoxLayout) -> None:
        self.write = QPushButton(tr("&Write the files"))
        self.stop = QPushButton(tr("Stop"))
        self.open = QPushButton(tr("Open the folder"))
        self.progress = QProgressBar()
        self.progress.setRange(0, 100)
        self.progress.setTextVisible(False)
        self.progress.setAccessibleName(tr("How far the files are"))
        buttons = QHBoxLayout()
        for button in (self.write, self.stop, self.open):
            buttons.addWidget(button)
        column.addLayout(buttons)
        column.addWidget(self.progress)
        self.said = QLabel()
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        self.said.setWordWrap(True)
        column.addWidget(self.said)
        self.listed = QListWidget()
        self.listed.setAccessibleName(tr("Files that were written"))
        self.listed.setMinimumHeight(70)
        column.addWidget(self.listed, 1)
        column.addStretch(0)
        self.write.clicked.connect(self.start)
        self.stop.clicked.connect(self.stop_now)
        self.open.clicked.connect(self._open)

    @property
    def every_sheet(self) -> bool:
        """Whether every sheet of a floor is to be written."""
        used = (self.parts["map"], *self.report.values())
        return self.parts["sheets"].isChecked() and any(box.isChecked() for box in used)

    def propose(self, wanted: Wanted) -> None:
        """Follow what is chosen; propose the folder of the run."""
        self._proposing = True
        self.parts["change"].setEnabled(bool(wanted.before))
        if not wanted.before:
            self.parts["change"].setChecked(False)
        if not self._by_hand:  # who looks at the report is about to want it
            for key, box in (*self.parts.items(), *self.report.items()):
                box.setChecked(key in self.report if wanted.kind == "report" else key == "map")
        self._proposing = False
        site = self.desk.session.site
        if site is None or self._own_folder:
            return
        try:
            choices = self.desk.session.choices
            self.folder.setText(str(proposed_folder(site, choices, wanted.floor)))
        except HgmapError as error:
            self._say(in_one_line(error), alarm=True)
        self.refresh()

    def refresh(self) -> None:
        """Say what the export is of, where that is not what lies on the disk."""
        if self.desk.session.unsaved and self.done is None:
            self._say(tr("There are unsaved changes: what is written is what the window shows, "
                         "not what was saved last."))  # fmt: skip
        maps = self.parts["map"].isChecked()
        for box in (self.parts["diagnostics"], *self.also.values()):
            box.setEnabled(maps)
        self.parts["sheets"].setEnabled(maps or bool(self._ticks(self.report)))
        self.write.setEnabled(bool(self._parts() or self._ticks(self.report)) and not self._writing)

    def _ticked(self) -> None:
        self._by_hand = self._by_hand or not self._proposing
        self.refresh()
        if self.every_sheet != self._every_sheet_before:
            self._every_sheet_before = self.every_sheet
            self.sheets_changed.emit()

    def _parts(self) -> frozenset[str]:
        return frozenset(self._ticks(self.parts))

    def _ticks(self, boxes: dict[str, QCheckBox]) -> tuple[str, ...]:
        return tuple(key for key, box in boxes.items() if box.isChecked() and box.isEnabled())

    def start(self) -> None:
        """Write, beside the window."""
        session = self.desk.session
        site = session.site
        text = self.folder.text().strip()
        if site is None or not text:
            self._say(tr("Say where the files go."), alarm=True)
            return
        if not session.current:
            why = session.why_no_site or tr("The site is being read again.")
            self._say(why, alarm=True)
            return
        parts = self._parts()
        wanted = Export(
            Path(text).expanduser(), parts,
            self.chosen.wanted(sheets="sheets" in parts, dpi=self.dpi.text()),
            self._ticks(self.also), self._ticks(self.report),
        )  # fmt: skip
        choices, known, files = session.choices, self.known(), session.files
        self._say("")
        self.listed.hide()
        self.open.hide()
        self._busy(True)
        self.desk.jobs.start(
            NAME,
            lambda progress, cancelled: export(site, choices, wanted, progress, known),
            lambda done: self._written(done, session.files is files),
            self._failed,
        )

    def stop_now(self) -> None:
        """Stop; what is not whole is not left behind."""
        self.desk.jobs.drop(NAME)
        self._busy(False)
        self._say(tr("Stopped: nothing half-written was left."))

    def _written(self, done: Exported, of_now: bool) -> None:
        self.done = done
        self._busy(False)
        text = tr_count("{n} file was written.", "{n} files were written.", len(done.files))
        if not of_now:
            text += " " + tr("They are of what the window showed before the last change.")
        elif self.desk.session.unsaved:
            text += " " + tr("They are of what the window shows, with the unsaved changes.")
        if done.lost:
            text += "\n" + tr("Not among them: {lost}", lost="; ".join(done.lost))
        self._say(" ".join((text, *done.said[:2])), alarm=bool(done.lost) or not of_now)
        self.listed.clear()
        self.listed.addItems(list(done.files))
        self.listed.show()
        self.open.show()

    def _failed(self, error: Exception) -> None:
        self._busy(False)
        self._say(in_one_line(error), alarm=True)

    def _say(self, text: str, *, alarm: bool = False) -> None:
        self.said.setText(for_window(text))
        self.said.setProperty("alarm", alarm)
        dress_again(self.said)
        self.said.setVisible(bool(text))

    def _busy(self, busy: bool) -> None:
        self._writing = busy
        self.stop.setVisible(busy)
        self.progress.setVisible(busy)
        self.write.setEnabled(not busy)

    def _progressed(self, text: str, share: float) -> None:
        if self._writing:
            self.progress.setValue(round(100.0 * share))

    def _typed(self, text: str) -> None:
        self._own_folder = bool(text.strip())

    def _choose(self) -> None:
        found = QFileDialog.getExistingDirectory(self, tr("Folder for the files"))
        if found:
            self._own_folder = True
            self.folder.setText(found)

    def _open(self) -> None:
        if self.done is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.done.folder)))


def _also_ticks() -> dict[str, QCheckBox]:
    """Make a tick for each further format, in the core's order."""
    about = {
        "geojson": (tr("GeoJSON"), tr("Zones, rooms and readings, a file for each")),
        "geotiff": (tr("GeoTIFF"), tr("The estimate as a raster, with its bands")),
        "dxf": (tr("DXF"), tr("The plan with a layer for everything on it")),
        "xlsx": (tr("XLSX"), tr("The tables as one workbook")),
        "svg": (tr("SVG"), tr("The sheets as drawings")),
    }
    return {key: _tick(*words) for key, words in about.items()}


def _report_ticks() -> dict[str, QCheckBox]:
    about = {
        "pdf": (tr("PDF"), tr("To print and to send")),
        "docx": (tr("DOCX"), tr("To edit; its maps are pictures")),
        "html": (tr("HTML"), tr("One page for a screen or a phone; it needs no network")),
    }
    return {key: _tick(*words) for key, words in about.items()}


def _tick(text: str, about: str) -> QCheckBox:
    box = QCheckBox(text)
    box.setToolTip(about)
    box.setAccessibleDescription(about)
    return box


def _in_rows(boxes: dict[str, QCheckBox]) -> QGridLayout:
    grid = QGridLayout()
    for place, box in enumerate(boxes.values()):
        grid.addWidget(box, place // 3, place % 3)
    return grid


def _heading(text: str) -> QLabel:
    label = QLabel(text)
    label.setProperty("soft", True)
    return label
