"""Which files are written, where, and what was: the foot of the print page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QCheckBox,
    QFileDialog,
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
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk

NAME = "export"


class ExportForm(QWidget):
    """Writes beside the window; it can be stopped, and leaves nothing half-written."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.floor, self.before = "", ""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self.parts = {
            "map": QCheckBox(tr("Maps, lists and tables")),
            "clearance": QCheckBox(tr("Release of the rooms")),
            "change": QCheckBox(tr("Change since the round before")),
            "diagnostics": QCheckBox(tr("How the estimate was made")),
        }
        self.parts["map"].setChecked(True)
        for box in self.parts.values():
            column.addWidget(box)
            box.toggled.connect(self.refresh)
        row = QHBoxLayout()
        self.folder = QLineEdit()
        self.folder.setAccessibleName(tr("Folder for the files"))
        self.choose = QPushButton("...")
        self.choose.setAccessibleName(tr("Choose the folder"))
        self.choose.setToolTip(tr("Choose the folder"))
        self.choose.clicked.connect(self._choose)
        row.addWidget(self.folder, 1)
        row.addWidget(self.choose)
        column.addLayout(row)
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
        self.write.clicked.connect(self.start)
        self.stop.clicked.connect(self.stop_now)
        self.open.clicked.connect(self._open)
        self.done: Exported | None = None
        self._own_folder = False
        self._busy(False)
        self.listed.hide()
        self.open.hide()
        self.folder.textEdited.connect(self._typed)
        desk.jobs.busy_changed.connect(self._progressed)

    def propose(self, floor: str, before: str) -> None:
        """Follow the floor and the round before; propose the folder of the run."""
        self.floor, self.before = floor, before
        self.parts["change"].setEnabled(bool(before))
        if not before:
            self.parts["change"].setChecked(False)
        site = self.desk.session.site
        if site is None or self._own_folder:
            return
        try:
            self.folder.setText(str(proposed_folder(site, self.desk.session.choices, floor)))
        except HgmapError as error:
            self._say(in_one_line(error), alarm=True)
        self.refresh()

    def refresh(self) -> None:
        """Say what the export is of, where that is not what lies on the disk."""
        if self.desk.session.unsaved and self.done is None:
            self._say(tr("There are unsaved changes: what is written is what the window shows, "
                         "not what was saved last."))  # fmt: skip
        self.write.setEnabled(
            any(box.isChecked() for box in self.parts.values()) and not self.stop.isVisible()
        )

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
        parts = frozenset(key for key, box in self.parts.items() if box.isChecked())
        wanted = Export(Path(text).expanduser(), parts, self.floor, self.before)
        choices = session.choices
        self._say("")
        self.listed.hide()
        self.open.hide()
        self._busy(True)
        self.desk.jobs.start(
            NAME,
            lambda progress, cancelled: export(site, choices, wanted, progress),
            self._written,
            self._failed,
        )

    def stop_now(self) -> None:
        """Stop; what is not whole is not left behind."""
        self.desk.jobs.drop(NAME)
        self._busy(False)
        self._say(tr("Stopped: nothing half-written was left."))

    def _written(self, done: Exported) -> None:
        self.done = done
        self._busy(False)
        text = tr_count("{n} file was written.", "{n} files were written.", len(done.files))
        if self.desk.session.unsaved:
            text += " " + tr("They are of what the window shows, with the unsaved changes.")
        if done.lost:
            text += "\n" + tr("Not among them: {lost}", lost="; ".join(done.lost))
        self._say(" ".join((text, *done.said[:2])), alarm=bool(done.lost))
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
        self.said.style().unpolish(self.said)
        self.said.style().polish(self.said)
        self.said.setVisible(bool(text))

    def _busy(self, busy: bool) -> None:
        self.stop.setVisible(busy)
        self.progress.setVisible(busy)
        self.write.setEnabled(not busy)

    def _progressed(self, text: str, share: float) -> None:
        if self.stop.isVisible():
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
