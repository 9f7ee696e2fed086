"""What can be done about a finding of the plan: mend it, or keep it as drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.panels.scale_all_the_same import scale_all_the_same
from hgmap.desktop.words import tr, tr_count

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.panels.ask_row import AskRow
    from hgmap.desktop.panels.points import PointsTable
    from hgmap.editing.plan_draft import PlanDraft
    from hgmap.questions.gather import OpenPoint


class FindingsRow(QWidget):
    """Buttons for the chosen finding, and one that mends all there is to mend."""

    def __init__(self, desk: Desk, points: PointsTable, ask: AskRow) -> None:
        super().__init__()
        self.desk, self.board, self.points, self.ask = desk, desk.board, points, ask
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        column.addWidget(self.text)
        row = QWidget()
        buttons = FlowLayout(row)
        self.repair = QPushButton(tr("Repair"))
        self.keep = QPushButton(tr("Keep as drawn"))
        self.again = QPushButton(tr("Ask again"))
        self.every = QPushButton()
        for button, act in (
            (self.repair, self.mend), (self.keep, self.keep_it), (self.again, self.ask_again),
            (self.every, self.mend_all),
        ):  # fmt: skip
            button.clicked.connect(lambda _=False, act=act: act())
            buttons.addWidget(button)
        column.addWidget(row)
        points.selectionModel().currentRowChanged.connect(lambda *_: self._chosen())
        points.points.modelReset.connect(self.refresh)
        self.board.changed.connect(self.refresh)
        self.refresh()

    def _chosen(self) -> None:
        """Go to the point's floor also where the point lies nowhere on it."""
        point = self.points.chosen()
        if point is not None and point.floor and point.floor != self.board.floor:
            self.desk.session.choose(floor=point.floor)
        self.refresh()

    def refresh(self) -> None:
        """Offer what the chosen finding allows."""
        point = self.points.chosen()
        finding = point.finding if point else None
        repair = finding.repair if finding else None
        text = ""
        if point is not None:
            parts = [point.todo]
            if finding is not None and finding.kept:
                parts = [tr("Kept as drawn.")]
            if repair is not None:
                parts.append(tr("Repair: {what}", what=repair.text))
            text = "\n".join(one for one in parts if one)
        self.text.setText(text)
        self.text.setVisible(bool(text))
        self.repair.setVisible(repair is not None and finding is not None and not finding.kept)
        self.keep.setVisible(
            finding is not None and not finding.kept and finding.severity != "error"
        )
        self.again.setVisible(finding is not None and finding.kept)
        count = len(self._mendable())
        self.every.setText(tr_count("Repair all ({n})", "Repair all ({n})", count))
        self.every.setVisible(count > 1)

    def _mendable(self) -> list[OpenPoint]:
        """Return the findings of the chosen floor that can be mended."""
        return [
            one
            for one in self.points.points.points
            if one.finding is not None
            and one.finding.repair is not None
            and one.finding.repair.factor is None
            and not one.finding.kept
            and one.floor == self.board.floor
        ]

    def _point(self) -> OpenPoint | None:
        """Return the chosen finding, its floor on the board."""
        point = self.points.chosen()
        if point is None or point.finding is None:
            return None
        if point.floor and point.floor != self.board.floor:
            self.desk.session.choose(floor=point.floor)
        return point

    def mend(self) -> None:
        """Repair the chosen finding."""
        point = self._point()
        repair = point.finding.repair if point and point.finding else None
        if repair is None:
            return
        text, factor, floor = (
            tr("Repair: {what}", what=repair.text),
            repair.factor,
            self.board.floor,
        )

        def said(done: bool) -> bool:
            if done:
                self.desk.say(
                    tr("Repaired: {what}. Ctrl+Z takes it back.", what=repair.text)
                )  # fmt: skip
            return done

        if factor is None:
            said(self.board.edit(text, repair.apply))
            return
        from hgmap.editing.plan_of_floor import scale_floor  # the picture goes along

        scale_all_the_same(
            self.ask, self.desk.session, floor,
            lambda: said(self.desk.session.edit(text, lambda now: scale_floor(now, floor, factor))),
            self.desk.canvas.setFocus,
        )  # fmt: skip

    def keep_it(self) -> None:
        """Note that the chosen finding is no mistake."""
        from hgmap.editing.soundness import keep_as_drawn

        point = self._point()
        finding = point.finding if point else None
        if finding is not None:
            self.board.edit(tr("Keep as drawn"), lambda now: keep_as_drawn(now, finding))

    def ask_again(self) -> None:
        """Let the chosen finding be open again."""
        from hgmap.editing.soundness import ask_again

        point = self._point()
        finding = point.finding if point else None
        if finding is not None:
            self.board.edit(tr("Ask again"), lambda now: ask_again(now, finding))

    def mend_all(self) -> None:
        """Repair everything on this floor that can be repaired, as one step."""
        from hgmap.editing.soundness import repair_all

        draft = self.board.draft
        if draft is None:
            return

        def done(made: tuple[PlanDraft, tuple[str, ...]]) -> None:
            after, what = made
            if self.board.draft is not draft:  # somebody drew on meanwhile
                self.desk.say(tr("The plan has changed since; nothing was repaired: ask again."))
                return
            text = tr_count("Repair {n} finding", "Repair {n} findings", len(what))
            if self.board.edit(text, lambda now: after):
                self.desk.say("; ".join(what))

        def failed(error: Exception) -> None:
            self.desk.session.trouble.emit(str(error))

        self.desk.jobs.start("repair", lambda progress, cancelled: repair_all(draft), done, failed)
