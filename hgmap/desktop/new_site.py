"""Beginning a survey on one page: the building, the plan, the readings, the level.

Nothing is written before *Begin*; then all of it, or nothing.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from hgmap.desktop.beginning.level_part import LevelPart
from hgmap.desktop.beginning.part import first_notes, sentence
from hgmap.desktop.beginning.place_part import PlacePart, why_text
from hgmap.desktop.beginning.plan_part import PlanPart
from hgmap.desktop.beginning.readings_part import ReadingsPart
from hgmap.desktop.words import tr
from hgmap.editing.begin import Beginning, Begun, PicturedPlan, begin_site
from hgmap.site.cautions import SCREENING

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

WIDE = 820


def set_scale(window: Window) -> None:
    """Take up the tool that scales the picture, as soon as the plan's panel has it."""
    from hgmap.desktop.panels.plan_underlay import PictureBox

    window.choose_question(1)
    for box in window.column.findChildren(PictureBox):
        box.take_picture_scale()


class NewSitePage(QWidget):
    """One page of few fields."""

    def __init__(self, window: Window) -> None:
        super().__init__()
        self.window_ = window
        self.setAcceptDrops(True)
        self.place = PlacePart(window.files.places.documents)
        self.plan = PlanPart(window.jobs)
        self.readings = ReadingsPart(window.jobs)
        self.level = LevelPart()
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(16, 14, 16, 14)
        column.setSpacing(10)
        title = QLabel(tr("Begin a new survey"))
        title.setStyleSheet("font-size: 16pt; font-weight: bold;")
        column.addWidget(title)
        column.addWidget(sentence(tr("Files may be dropped anywhere on this page. Nothing is "
                                     "written before Begin.")))  # fmt: skip
        for part in (self.place, self.plan, self.readings, self.level):
            column.addWidget(part)
            part.changed.connect(self._look)
        column.addStretch(1)
        inner.setMaximumWidth(WIDE)
        centred = QWidget()
        middle = QHBoxLayout(centred)
        middle.setContentsMargins(0, 0, 0, 0)
        middle.addStretch(1)
        middle.addWidget(inner, 100)
        middle.addStretch(1)
        area = QScrollArea()
        area.setAccessibleName(tr("Begin a new survey"))
        area.setWidgetResizable(True)
        area.setWidget(centred)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area, 1)
        whole.addWidget(self._foot())
        QShortcut(QKeySequence("Ctrl+Return"), self, self.begin_now)
        QShortcut(QKeySequence("Esc"), self, self.leave)
        self.place.site_wanted.connect(self._open_instead)
        window.jobs.busy_changed.connect(self._idle)
        self._look()

    def _foot(self) -> QWidget:
        foot = QWidget()
        row = QHBoxLayout(foot)
        row.setContentsMargins(16, 8, 16, 8)
        self.why = sentence()
        self.back = QPushButton(tr("Back"))
        self.back.setToolTip(tr("Nothing is written") + " (Esc)")
        self.begin = QPushButton(tr("Begin"))
        self.begin.setToolTip(tr("Write the site and open it") + " (Ctrl+Return)")
        self.begin.setDefault(True)
        self.begin.setMinimumWidth(120)
        caution = sentence(tr(SCREENING))
        words = QVBoxLayout()
        words.addWidget(self.why)
        words.addWidget(caution)
        row.addLayout(words, 1)
        row.addWidget(self.back)
        row.addWidget(self.begin)
        self.back.clicked.connect(self.leave)
        self.begin.clicked.connect(self.begin_now)
        return foot

    # -- what is filled in

    def why_not(self) -> str:
        """Say what keeps the site from being begun; empty where nothing does."""
        if not self.place.name.text().strip():
            return tr("Name the building.")
        if self.place.state.why:
            return why_text(self.place.state.standing)
        if not self.plan.floor.text().strip():
            return tr("Name the floor.")
        if self.plan.waiting or self.readings.waiting:
            return tr("The files are being looked at.")
        if self.plan.kind != "none" and self.plan.ready is None:
            return tr("The plan is not there yet.")
        if self.readings.wanted and self.readings.ready is None:
            return tr("The readings cannot be read yet.")
        return self.level.why_not

    def beginning(self) -> Beginning:
        """Return what the page says."""
        use = self.place.use.currentData()
        return Beginning(
            folder=self.place.path or Path(),
            name=self.place.name.text(),
            use=None if use is None else str(use),
            floor=self.plan.floor.text().strip(),
            plan=self.plan.ready if self.plan.kind != "none" else None,
            readings=self.readings.ready if self.readings.wanted else None,
            level=self.level.request,
        )

    def _idle(self, text: str, share: float) -> None:
        """Somebody may have stopped the work: then nothing is waited for."""
        if not self.window_.jobs.busy and (self.plan.waiting or self.readings.waiting):
            self.plan.waiting = self.readings.waiting = False
            self._look()

    def _look(self) -> None:
        use = self.place.use.currentData()
        if use != self.level._use:
            self.level.of_use(use)
            return
        self.readings.of_floor(self.plan.floor.text().strip())
        why = self.why_not()
        self.why.setText(why or tr("Ready: the folder appears when you begin."))
        self.begin.setEnabled(not why)

    # -- what is done

    def begin_now(self) -> None:
        """Write the site, beside the window, and open it."""
        self.place.look()
        if self.why_not():
            self._look()
            return
        wanted = self.beginning()
        self.begin.setEnabled(False)
        self.back.setEnabled(False)
        self.why.setText(tr("The site is being written."))
        self.window_.jobs.start(
            "begin",
            lambda progress, cancelled: begin_site(wanted),
            lambda begun: self._begun(begun, wanted),
            self._failed,
        )

    def _failed(self, error: Exception) -> None:
        self.back.setEnabled(True)
        self.place.look()
        self._look()
        self.window_.notice.say(str(error))

    def _begun(self, begun: Begun, wanted: Beginning) -> None:
        window = self.window_
        if not window.files.open(begun.folder, ask=False):
            return
        window.pages.removeWidget(self)
        self.deleteLater()
        window.choose_question(1 if wanted.plan is None or not wanted.readings else 3)
        if isinstance(wanted.plan, PicturedPlan):
            window.choose_question(1)
            from hgmap.desktop.panels.plan_underlay import not_scaled

            window.notice.say(not_scaled(), [(tr("Set the scale"), lambda: set_scale(window))])
        elif begun.said:
            window.notice.say(first_notes(begun.said))

    def _open_instead(self, folder: Path) -> None:
        if self.window_.files.open(folder):
            self.window_.pages.removeWidget(self)
            self.deleteLater()

    def leave(self) -> None:
        """Go back; nothing was written."""
        for name in ("new plan", "new readings", "begin"):
            self.window_.jobs.drop(name)
        self.window_.pages.removeWidget(self)
        self.deleteLater()
        if self.window_.session.files is None:
            self.window_.show_start()
        else:
            self.window_.show_survey()

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802
        """Begin with the name."""
        super().showEvent(event)
        self.place.name.setFocus()

    # -- files that are dropped

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        """Take files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        """Put each file where it belongs."""
        self.take_files([Path(one.toLocalFile()) for one in event.mimeData().urls()])
        event.acceptProposedAction()

    def take_files(self, paths: list[Path]) -> None:
        """Take plans and tables by their endings; what is neither is said."""
        strange = [one.name for one in paths
                   if not (self.plan.take_file(one) or self.readings.take_file(one))]  # fmt: skip
        if strange:
            self.window_.notice.say(tr("Neither a plan nor a table of readings: {files}.",
                                       files=", ".join(strange[:3])))  # fmt: skip
