"""The plan of the first floor: a drawing, an image, a room schedule, or nothing yet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtWidgets import QComboBox, QLineEdit, QPushButton

from hgmap.desktop.beginning.asked import AskedRow
from hgmap.desktop.beginning.drawing_questions import DrawingQuestions
from hgmap.desktop.beginning.part import (
    FileField,
    Part,
    first_notes,
    sentence,
    table_of_clipboard,
)
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.begin import DrawnPlan, PicturedPlan, PlanOfBytes
from hgmap.editing.begin_plan import (
    PlanLook,
    look_at_drawing,
    look_at_picture,
    look_at_schedule,
)
from hgmap.editing.room_schedule import LengthUnit
from hgmap.errors import HgmapError
from hgmap.site.files import read_bytes
from hgmap.site.importers.readers import TABLES, drawing_endings, plan_readers
from hgmap.site.pictures.pages import PICTURES, SeveralPages

if TYPE_CHECKING:
    from hgmap.desktop.work import Jobs
    from hgmap.site.pictures.read_picture import ReadPicture

SCHEDULES: Final = (*TABLES, ".txt")


class PlanPart(Part):
    """The first floor and its plan; a file is looked at as soon as it is named."""

    def __init__(self, jobs: Jobs) -> None:
        super().__init__(tr("The plan"))
        self.jobs = jobs
        self.floor = QLineEdit(tr("ground"))
        self.row(tr("Name of the f&loor"), self.floor)
        self.way = QComboBox()
        formats = ", ".join(one.name for one in plan_readers() if one.endings != TABLES)
        self.way.addItem(tr("nothing yet: it is drawn in the window"), "none")
        self.way.addItem(tr("a drawing ({formats})", formats=formats), "drawing")
        self.way.addItem(tr("an image to trace (PNG, JPEG, TIFF, a page of a PDF)"), "image")
        self.way.addItem(tr("a room schedule (CSV, XLSX, or pasted cells)"), "schedule")
        self.row(tr("The &plan is"), self.way)
        self.file = FileField(tr("File of the plan"))
        self.paste = QPushButton(tr("Paste"))
        self.paste.setToolTip(tr("Take a room schedule that was copied from a spreadsheet"))
        self.row(tr("Its file"), self.file, self.paste)
        self.lengths = QComboBox()
        self.lengths.addItem(tr("metres"), "m")
        self.lengths.addItem(tr("feet"), "ft")
        self.lengths_row = self.row(tr("Lengths are in"), self.lengths)
        self.asked = DrawingQuestions()
        self.column.addWidget(self.asked)
        self.page = AskedRow()
        self.column.addWidget(self.page)
        self.said = sentence()
        self.trouble = sentence(kind="alarm")
        self.column.addWidget(self.said)
        self.column.addWidget(self.trouble)
        self.pasted: bytes | None = None
        self.page_said: int | None = None
        self.ready: DrawnPlan | PicturedPlan | PlanOfBytes | None = None
        self.waiting = False
        self.floor.editingFinished.connect(self._look)
        self.way.currentIndexChanged.connect(self._look)
        self.lengths.currentIndexChanged.connect(self._look)
        self.file.changed.connect(self._named)
        self.paste.clicked.connect(self.take_clipboard)
        self.asked.changed.connect(self._look)
        self.page.answered.connect(self._page_said)
        self._look()

    @property
    def kind(self) -> str:
        """Which way was chosen."""
        return str(self.way.currentData())

    def take_file(self, path: Path) -> bool:
        """Take a file that was dropped, if it is one of a plan; tell whether it is."""
        if self._kind_of(path) not in ("drawing", "image"):
            return False
        self.file.text.setText(str(path))
        return True

    def take_clipboard(self) -> None:
        """Take the text of the clipboard as a room schedule."""
        try:
            self.pasted = table_of_clipboard(self.file)
        except HgmapError as error:
            self._failed(error)
            return
        if self.kind == "schedule":
            self._look()
        else:
            self.way.setCurrentIndex(self.way.findData("schedule"))

    def _kind_of(self, path: Path) -> str:
        """Return what a file is by its ending; empty where it cannot be a plan."""
        ending = path.suffix.casefold()
        if ending in SCHEDULES:
            return "schedule"
        if ending in PICTURES:
            return "image"
        return "drawing" if ending in drawing_endings() else ""

    def _named(self) -> None:
        """Follow the ending of the file, which says what it is."""
        path = self.file.path
        self.asked.of_file(path)
        self.page_said = None
        if path is not None:
            self.pasted = None
        kind = self.kind if path is None else self._kind_of(path) or self.kind
        if kind != self.kind:
            self.way.setCurrentIndex(self.way.findData(kind))  # which looks at it
            return
        self._look()

    def _look(self) -> None:
        """Look at what is named, beside the window."""
        self.ready, self.waiting = None, False
        kind, path = self.kind, self.file.path
        self.lengths_row.setVisible(kind == "schedule")
        self.said.hide()
        self.trouble.hide()
        self.asked.setVisible(kind == "drawing")
        self.page.ask("")
        self.jobs.drop("new plan")
        if kind != "schedule":
            self.pasted = None
        pasted = self.pasted
        if kind == "none" or (path is None and pasted is None):
            if kind == "none":
                self._say(tr("The floor begins empty; its rooms are drawn under the first question."
                             ))  # fmt: skip
            self.changed.emit()
            return
        floor, answers, every = self.floor.text(), self.asked.answers, self.asked.every_storey
        lengths: LengthUnit = "ft" if self.lengths.currentData() == "ft" else "m"
        self.waiting = True
        self.changed.emit()
        if kind == "image" and path is not None:
            image = PicturedPlan(path, self.page_said)
            self.jobs.start("new plan", lambda progress, cancelled: look_at_picture(image),
                            lambda read: self._take_image(image, read), self._failed,
                            wait_ms=120)  # fmt: skip
            return

        def work(progress: object, cancelled: object) -> PlanLook:
            if path is None:
                return look_at_schedule(pasted or b"", tr("pasted"), lengths)
            if kind == "drawing":
                return look_at_drawing(DrawnPlan(path, answers, every), floor)
            return look_at_schedule(read_bytes(path, where=path.name), path.name, lengths)

        self.jobs.start("new plan", work, self._take, self._failed, wait_ms=120)

    def _page_said(self, option: str, ours: str, text: str) -> None:
        self.page_said = int(text)
        self._look()

    def _take_image(self, image: PicturedPlan, read: ReadPicture) -> None:
        self.ready, self.waiting = image, False
        wide, high = read.kept_px
        text = tr(
            "{wide} by {high} pixels. Its scale is set in the window: two points, and the metres "
            "between them. Then the rooms are traced.", wide=wide, high=high,
        )  # fmt: skip
        self._say(" ".join((text, *read.notes)))
        self.changed.emit()

    def _take(self, found: PlanLook) -> None:
        self.ready, self.waiting = found.plan, False
        text = tr_count("{n} room, {area} m², {wide} by {high} m.",
                        "{n} rooms, {area} m², {wide} by {high} m.", found.rooms,
                        area=f"{found.area_m2:.4g}", wide=f"{found.width_m:.4g}",
                        high=f"{found.height_m:.4g}")  # fmt: skip
        if self.kind == "drawing":
            self.asked.take(None)
        if found.floors > 1:
            text = tr("{n} floors: {text}", n=found.floors, text=text)
        if found.repairs:
            text += " " + tr_count(
                "{n} repair. To look at it or refuse it, bring the drawing in again once the "
                "survey is open.",
                "{n} repairs. To look at them or refuse some, bring the drawing in again once the "
                "survey is open.",
                found.repairs,
            )  # fmt: skip
        if found.doubts:
            text += " " + tr_count(
                "{n} place is in doubt and has to be looked at on the plan.",
                "{n} places are in doubt and have to be looked at on the plan.",
                found.doubts,
            )  # fmt: skip
        self._say(self.asked.by_its_name(f"{text} {first_notes(found.said)}".rstrip()))
        self.changed.emit()

    def _failed(self, error: Exception) -> None:
        self.ready, self.waiting = None, False
        asks = self.kind == "drawing"
        if isinstance(error, SeveralPages):
            self.page.ask("page", "", [(str(n), str(n)) for n in range(1, error.pages + 1)])
        self.trouble.setText(self.asked.take(error) if asks else in_one_line(error))
        self.trouble.show()
        self.changed.emit()

    def _say(self, text: str) -> None:
        self.said.setText(text)
        self.said.show()
