"""Bringing a drawing into the open site: what it would be is shown before anything is changed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSignalBlocker
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QLabel,
    QLineEdit,
)

from hgmap.desktop.beginning.drawing_questions import DrawingQuestions
from hgmap.desktop.beginning.part import FileField, sentence
from hgmap.desktop.bring_in.look_page import LookPage
from hgmap.desktop.bring_in.repairs import RepairList
from hgmap.desktop.tables.tick_table import TickRow
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.bring_in import BroughtFloor, BroughtIn, WantedPlan, bring_in
from hgmap.editing.plan_draft import PlanDraft
from hgmap.site.importers.add_floor import REPLACED
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.readers import drawing_endings, plan_readers

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk

NEW, REPLACE = "new", "replace"


class BringInDialog(LookPage):
    """The drawing and what is asked of it on the left, its plan on the right."""

    job = "drawing"

    def __init__(self, desk: Desk, file: Path | None = None) -> None:
        super().__init__(
            desk, tr("Bring in a drawing"), tr("Repairs of the drawing, and what was left out"),
            (tr("made"), tr("refused")), tr("Bring in"),
        )  # fmt: skip
        self.setAcceptDrops(True)
        self.found: BroughtIn | None = None
        self.lists: dict[str, RepairList] = {}
        self._typed_name = ""
        filters = tr(
            "Drawings ({endings})", endings=" ".join(f"*{one}" for one in drawing_endings())
        )
        self.file = FileField(tr("Drawing"), filters)
        self.goes = QComboBox()
        self.goes.setAccessibleName(tr("What the drawing becomes"))
        self.goes.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.name = QLineEdit()
        self.name.setAccessibleName(tr("Name of the floor"))
        self.name_label = QLabel()
        self.questions = DrawingQuestions()
        self.shown = QComboBox()
        self.shown.setAccessibleName(tr("Which floor is shown"))
        self._lay_out()
        self._fill_goes()
        self._listen()
        if file is not None:
            self.file.text.setText(str(file))
        self.finish()

    def _lay_out(self) -> None:
        formats = ", ".join(one.name for one in plan_readers())
        self.top.addWidget(self.file)
        self.top.addWidget(sentence(tr("Read are: {formats}.", formats=formats)))
        form = QFormLayout()
        form.addRow(tr("It becomes"), self.goes)
        form.addRow(self.name_label, self.name)
        self.top.addLayout(form)
        self.top.addWidget(self.questions)
        self.middle.addWidget(self.shown)

    def _fill_goes(self) -> None:
        board = self.desk.board
        self.goes.addItem(tr("a new floor"), NEW)
        entry = board.entry
        if entry is not None:
            self.goes.addItem("", REPLACE)  # see _call_goes
            empty = board.draft is not None and not board.draft.features
            self.goes.setCurrentIndex(1 if empty else 0)

    def _listen(self) -> None:
        self.file.changed.connect(self._another_file)
        self.goes.currentIndexChanged.connect(lambda _: self._look_anew())
        self.name.textEdited.connect(self._typed)
        self.name.editingFinished.connect(self.look)
        self.questions.changed.connect(self._look_anew)
        self.shown.activated.connect(lambda _: self._show_floor())
        self.table.ticks.ticked.connect(self._ticked)

    # -- what is wanted

    def _another_file(self) -> None:
        self.questions.of_file(self.file.path)
        self._typed_name = ""
        self._look_anew()

    def _typed(self, text: str) -> None:
        self._typed_name = text.strip()
        self.forget()

    def _look_anew(self) -> None:
        """Look at another plan: its repairs are others."""
        self.lists = {}
        self.look()

    @property
    def replaces(self) -> bool:
        """Whether the drawing takes the place of a plan."""
        return bool(self.goes.currentData() == REPLACE)

    def _call_goes(self, every: bool) -> None:
        """Say what the drawing becomes: every storey goes to the floor that is called like it."""
        entry, row = self.desk.board.entry, self.goes.findData(REPLACE)
        self.goes.setItemText(
            self.goes.findData(NEW), tr("new floors") if every else tr("a new floor")
        )
        if entry is not None and row >= 0:
            title = entry.title or entry.name
            self.goes.setItemText(
                row, tr("the plans of floors called so, or new ones") if every
                else tr("the new plan of {floor}", floor=title),
            )  # fmt: skip
        self.goes.setToolTip(self.goes.currentText())

    def _propose_name(self) -> None:
        every = self.questions.every_storey
        self._call_goes(every)
        self.name_label.setText(tr("A word before each") if every else tr("Called"))
        self.name.setEnabled(every or not self.replaces)
        if self.replaces and not every:
            self.name.setText(self.desk.board.floor)
        elif self._typed_name:
            self.name.setText(self._typed_name)
        else:
            path, storey = self.file.path, self.questions.answers.get("storey", "")
            stem = one_line_text(path.stem)[:60].strip() if path is not None else ""
            self.name.setText("" if every else storey or stem)

    def wanted(self) -> WantedPlan | None:
        """Return what the page says; None while no file is named."""
        path = self.file.path
        if path is None:
            return None
        return WantedPlan(
            path, self.name.text().strip(), self.questions.answers, self.replaces,
            self.questions.every_storey,
            {floor: one.refused for floor, one in self.lists.items() if one.refused},
        )  # fmt: skip

    # -- a look at it

    def forget(self) -> None:
        """Let nothing be brought in of before the last change."""
        super().forget()
        self.found = None

    def look(self) -> None:
        """Look at the drawing, beside the window."""
        self.forget()
        self._propose_name()
        files, wanted = self.desk.session.files, self.wanted()
        if files is None or wanted is None:
            self._show(None)
            self.say(tr("Choose a drawing, or drop it here. Nothing is changed before it was "
                        "looked at."))  # fmt: skip
            return
        self.say(tr("The drawing is being looked at."))
        self.work(lambda: bring_in(files, wanted), self._take)

    def _ticked(self, key: str, ticked: bool) -> None:
        """Make the plan anew without a repair, or with it."""
        floor = str(self.shown.currentData())
        if floor in self.lists:
            self.lists[floor].refuse(key, refused=not ticked)
            self.look()

    def _take(self, found: BroughtIn) -> None:
        self.found = found
        self.questions.take(None)
        for one in found.floors:
            self.lists.setdefault(one.name, RepairList()).take(
                one.report.numbered, [two for two in one.report.doubts if two.rule != REPLACED]
            )
        blocker = QSignalBlocker(self.shown)
        before = self.shown.currentData()
        self.shown.clear()
        for one in found.floors:
            self.shown.addItem(tr("Floor {name}", name=one.name), one.name)
        self.shown.setCurrentIndex(max(self.shown.findData(before), 0))
        blocker.unblock()
        self._show_floor()
        self.yes.setEnabled(True)

    def failed(self, error: Exception) -> None:
        """Ask what the file has to be told, or say why it cannot be used."""
        self._show(None)
        self.say("", trouble=self.questions.take(error))

    def _show_floor(self) -> None:
        name = self.shown.currentData()
        if self.found is not None:
            self._show(next(one for one in self.found.floors if one.name == name))

    def _show(self, floor: BroughtFloor | None) -> None:
        """Show a floor as it would be, or nothing."""
        self.shown.setVisible(floor is not None and self.shown.count() > 1)
        now = self._plan_of_now(floor)
        self.preview.show_of_now(now)
        self.below.setText(
            tr("Broken blue lines: the plan of {floor} as the site has it now.",
               floor=self.desk.board.floor) if now is not None else ""
        )  # fmt: skip
        if floor is None:
            self.show_rows((), None, ())
            return
        report, repairs = floor.report, self.lists[floor.name]
        gone = [one.text for one in report.doubts if one.rule == REPLACED]
        named = map(
            self.questions.by_its_name, (*floor.also, *gone, *report.repairs, *report.skipped)
        )
        lost = self.found.readings if self.found else ()
        notes = (*lost, *named)  # what a map loses comes first
        count = len(repairs.shown)
        how = tr_count("{n} repair. Unticked, it is refused.",
                       "{n} repairs. One that is unticked is refused.", count)  # fmt: skip
        self.show_rows(
            (*repairs.rows, *map(TickRow, notes)), floor.draft, repairs.signs, how if count else ""
        )
        self.say(
            tr("Rooms: {rooms}; openings: {openings}; walls: {walls}; {area} m², {wide} by {high} "
               "m.", rooms=report.rooms, openings=report.openings, walls=report.walls,
               area=f"{report.area_m2:.4g}", wide=f"{report.width_m:.4g}",
               high=f"{report.height_m:.4g}"),
            warned=_warning(self.found) if self.found else "",
        )  # fmt: skip

    def _plan_of_now(self, floor: BroughtFloor | None) -> PlanDraft | None:
        """Return the plan that the drawing takes the place of, if anything is drawn there."""
        draft = self.desk.board.draft
        here = floor is not None and floor.name == self.desk.board.floor
        return draft if here and draft is not None and draft.rooms else None

    # -- taken

    def do_it(self) -> None:
        """Make one edit of it, which one step back undoes."""
        found = self.found
        if found is None:
            return
        session, names = self.desk.session, [one.name for one in found.floors]
        text = tr("Bring in {file}", file=self.file.path.name if self.file.path else "")
        if not session.edit(text, found.taken_into):
            self.look()
            return
        session.choose(floor=names[0])
        self.desk.canvas.fit(self.preview.whole)
        self.desk.say(tr("Brought in: {floors}. Ctrl+Z takes it back.", floors=", ".join(names)))
        self.accept()

    # -- files that are dropped

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        """Take files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        """Look at the file that was dropped."""
        for one in event.mimeData().urls()[:1]:
            self.file.text.setText(one.toLocalFile())
        event.acceptProposedAction()


def _warning(found: BroughtIn) -> str:
    """Say what of the plans would mislead a map, and what it would lose, whichever is shown."""
    shut = [one.name for one in found.floors if one.report.openings == 0 and one.report.rooms > 1]
    said = []
    if found.held:
        said.append(
            tr_count("{n} reading will be held because of the new plan; the list says why.",
                     "{n} readings will be held because of the new plan; the list says which, "
                     "and why.", found.held)
        )  # fmt: skip
    if shut:
        said.append(
            tr("No opening on: {floors}. To the estimate no air passes there from room to room. "
               "Draw them before the map is used.", floors=", ".join(shut))
        )  # fmt: skip
    return " ".join(said)
