"""Can it be released? Every room by the rules of clearance, and two rounds beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import QCheckBox, QComboBox, QFormLayout, QPushButton

from hgmap.desktop.panels.release_words import about_room, change_row, of_change, of_run
from hgmap.desktop.panels.rows import Row, RowsTable
from hgmap.desktop.panels.tall_panel import TallPanel, label
from hgmap.desktop.rounds_desk import RoundsDesk
from hgmap.desktop.window_words import for_window
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.clearance.judge import Outcome
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import Question
    from hgmap.report.drawing import Drawing
    from hgmap.scene.key import Key
    from hgmap.scene.two_rounds import TwoSides
    from hgmap.site.building import Floor

    Laid = tuple[Drawing, float]

OVERLAY: Final = "release"


class ReleasePanel(TallPanel):
    """The rooms and what stands against each."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        session = desk.session
        self.body.removeWidget(self.points)
        self.points.hide()
        self.rooms = RowsTable(desk, ["", tr("Room"), tr("Outcome")], tr("Rooms"), wide=1)
        self.rooms.setMinimumHeight(130)
        self.points = self.rooms  # type: ignore[assignment]
        self.body.addWidget(self.rooms, 2)
        self.about = label("")
        self.about.setAccessibleName(tr("About the chosen room"))
        self.top.addWidget(self.about)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.rule = _box(tr("Rule"))
        self.rule.activated.connect(lambda _: self.ask())
        form.addRow(tr("Rule"), self.rule)
        self.with_map = QCheckBox(tr("Ask the map too (takes longer)"))
        self.with_map.toggled.connect(lambda _: self.ask())
        form.addRow(self.with_map)
        self.top.addLayout(form)
        self.against = label("")
        self.against.setProperty("warn", True)
        self.top.addWidget(self.against)
        self.licensed = label("", soft=True)
        self.top.addWidget(self.licensed)
        self.rounds = RoundsDesk(desk)
        self._lay_out_rounds()
        self.top.addStretch(1)
        self.rooms.row_chosen.connect(lambda row: self.about.setText(row.tip))
        self.change_rooms.row_chosen.connect(lambda row: self.desk.say(row.tip.splitlines()[0]))
        session.clearance_changed.connect(self.refresh)
        session.behind_changed.connect(self.refresh)
        session.choices_changed.connect(self.refresh)
        session.map_changed.connect(self._ask_again)
        session.site_changed.connect(self._fill)
        desk.canvas.view_settled.connect(self._view_settled)
        self.rounds.changed.connect(self.say_rounds)
        self._make_actions()
        self._fill()
        self.say_rounds()

    def _lay_out_rounds(self) -> None:
        self.top.addWidget(label(tr("Two rounds beside each other"), title=True))
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.before, self.after = _box(tr("Round before")), _box(tr("Round after"))
        form.addRow(tr("Before"), self.before)
        form.addRow(tr("After"), self.after)
        self.top.addLayout(form)
        for box in (self.before, self.after):
            box.activated.connect(lambda _: self._rounds_chosen())
        self.compare = QPushButton(tr("Compare"))
        self.compare.setCheckable(True)
        self.compare.toggled.connect(self._toggle_compare)
        self.top.addWidget(self.compare)
        self.said = label("")
        self.said.setAccessibleName(tr("Comparison"))
        self.top.addWidget(self.said)
        self.change_rooms = RowsTable(
            self.desk, [tr("Room"), tr("Air"), tr("Ratio (95 %)")], tr("Rooms compared"), wide=0
        )
        self.top.addWidget(self.change_rooms)
        self.notes_title = label(tr("To be known with this release"), title=True)
        self.top.addWidget(self.notes_title)
        self.notes = label("", soft=True)
        self.notes.setAccessibleName(self.notes_title.text())
        self.top.addWidget(self.notes)

    def _make_actions(self) -> None:
        self.offer(tr("&Rule on the rooms again"), "Ctrl+Shift+R", self.ask)
        self.offer(tr("&Compare the two rounds"), "Ctrl+Shift+B", self.compare.toggle)

    def enter(self) -> None:
        """Ask for the rooms, and show them on the plan."""
        self.entered = True
        if self.desk.session.clearance is None:
            self.ask()
        self.refresh()

    def leave(self) -> None:
        """Take the overlays away."""
        self.entered = False
        self.compare.setChecked(False)
        self.desk.canvas.set_overlay(OVERLAY, ())
        self.desk.told.key_wanted.emit(None)
        super().leave()

    def take(self, question: Question) -> None:
        """Show where the question stands; the rooms come from the clearance."""
        self.answer.setText(question.answer)
        self.answer.setVisible(bool(question.answer) and self.desk.session.clearance is not None)

    def ask(self) -> None:
        """Ask whether the rooms can be released."""
        session = self.desk.session
        if session.site is None or not self.entered:
            return
        session.clearance = None
        session.clearance_changed.emit()
        session.questions_changed.emit()  # what another rule said is no answer to this one
        session.rule_on_rooms(self.rule.currentData(), with_map=self.with_map.isChecked())

    def _ask_again(self) -> None:
        session = self.desk.session
        if self.entered and session.clearance is None and not session.jobs.awaits("release"):
            self.ask()

    def _fill(self) -> None:
        from hgmap.decide.clearance.rules import clearance_rules

        site = self.desk.session.site
        rules = [(tr("every rule"), None), *((one.name, one.name) for one in clearance_rules())]
        _refill(self.rule, rules, 0)
        names = [(one.title, one.name) for one in site.rounds] if site else []
        _refill(self.before, names, max(0, len(names) - 2))
        _refill(self.after, names, len(names) - 1)
        self.compare.setEnabled(len(names) > 1)
        if len(names) < 2:
            self.compare.setChecked(False)

    def _view_settled(self) -> None:
        """Set the words anew: another scale has room for others."""
        if self.entered:
            self.refresh()

    # -- rooms

    def refresh(self) -> None:
        """Show the rooms anew; what is of before the last change is not shown."""
        from hgmap.site.cautions import LICENSED

        session, canvas = self.desk.session, self.desk.canvas
        self.licensed.setText(tr(LICENSED))
        behind, run = self.say_if_behind(), session.clearance
        if run is None:
            self.rooms.take([])
            self.about.setText("" if behind or not self.entered else tr("It is being ruled on."))
            for widget in (self.against, self.answer, self.notes, self.notes_title):
                widget.hide()
            canvas.set_overlay(OVERLAY, ())
            self._explain_the_key({})
            return
        from hgmap.scene.release_scene import SIGNS, room_outcomes

        outcomes = {floor.name: room_outcomes(run.levels, floor.name) for floor in run.site.floors}
        rows = []
        for level in run.levels[:1]:
            for floor in level.floors:
                for room in floor.rooms:
                    outcome = outcomes[floor.floor.name][room.room.id]
                    tip = "\n".join(
                        for_window(about_room(one_level, found))
                        for one_level in run.levels
                        for one_floor in one_level.floors
                        if one_floor.floor.name == floor.floor.name
                        for found in one_floor.rooms
                        if found.room.id == room.room.id
                    )
                    rows.append(
                        Row((SIGNS[outcome], room.room.name, tr(outcome)), tip, room.room.polygon,
                            floor.floor.name, f"{floor.floor.name}/{room.room.id}")
                    )  # fmt: skip
        self.rooms.take(rows)
        chosen = self.rooms.chosen()
        self.about.setText("" if chosen is None else chosen.tip)
        self._say_of_run(run)
        self._show_outcomes(run, outcomes)

    def _say_of_run(self, run: ClearanceRun) -> None:
        """Say what goes with the whole ruling: what stands against it, and what to know of it."""
        against, notes = of_run(run)
        self.against.setText(for_window("\n".join(against)))
        self.against.setVisible(bool(against))
        self.notes.setText(for_window("\n".join(notes)))
        for widget in (self.notes, self.notes_title):
            widget.setVisible(bool(notes))

    def _show_outcomes(
        self, run: ClearanceRun, outcomes: Mapping[str, Mapping[str, Outcome]]
    ) -> None:
        """Lay the outcomes over the plan, its doors as they stood in the round."""
        from hgmap.scene.release_scene import release_scene
        from hgmap.scene.screen import mm_per_m
        from hgmap.site.round_openings import floor_in_round

        canvas, here = self.desk.canvas, self.desk.session.floor
        if not self.entered or here is None or self.rounds.wanted:
            canvas.set_overlay(OVERLAY, ())
        else:
            scale, found = mm_per_m(canvas.px_per_m), outcomes.get(here.name, {})
            canvas.set_overlay(
                OVERLAY, release_scene(floor_in_round(here, run.round), found, scale)
            )
        self._explain_the_key(outcomes)

    def _explain_the_key(self, outcomes: Mapping[str, Mapping[str, Outcome]]) -> None:
        """Have the key explain what lies over the plan, not what it hides."""
        if not self.entered:
            return
        here, sides = self.desk.session.floor, self.rounds.sides
        key: Key | None = None
        if self.rounds.wanted:
            if sides is not None:
                key = partial(_key_of_rounds, sides)
        elif here is not None and here.name in outcomes:
            key = partial(_key_of_release, here, outcomes[here.name])
        self.desk.told.key_wanted.emit(key)

    # -- two rounds

    def _rounds_chosen(self) -> None:
        if self.compare.isChecked():
            self.rounds.compare(self.before.currentData(), self.after.currentData())

    def _toggle_compare(self, on: bool) -> None:
        if on:
            self.rounds.compare(self.before.currentData(), self.after.currentData())
        else:
            self.rounds.stop()
        self.refresh()

    def say_rounds(self) -> None:
        """Say what became of every room."""
        one = self.rounds
        if one.wanted is not None and self.entered:
            self._explain_the_key({})
        self.said.setVisible(one.wanted is not None)
        self.change_rooms.setVisible(one.change is not None)
        if one.wanted is None:
            return
        if one.change is None:
            self.said.setText(one.why or tr("The two rounds are being compared."))
            return
        floor = one.change.after.evidence.floor.name
        lines = [tr("Drag the line on the plan, or move it with the arrow keys."), *one.warnings,
                 *of_change(one.change), *one.notes]  # fmt: skip
        self.said.setText(for_window("\n".join(lines)))
        self.change_rooms.take([change_row(room, floor) for room in one.change.rooms])
        self.change_rooms.fit_rows(8)


def _key_of_release(floor: Floor, outcomes: Mapping[str, Outcome], width_mm: float) -> Laid:
    from hgmap.scene.key import key_of_release

    return key_of_release(floor, outcomes, width_mm)


def _key_of_rounds(sides: TwoSides, width_mm: float) -> Laid:
    from hgmap.scene.key import key_of_rounds

    return key_of_rounds(sides, width_mm)


def _box(name: str) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    box.setMinimumContentsLength(8)
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    return box


def _refill(box: QComboBox, rows: Sequence[tuple[str, str | None]], usual: int) -> None:
    """Fill a box; what was chosen stays chosen where it still is there."""
    held = box.currentData() if box.count() else None
    if [(box.itemText(k), box.itemData(k)) for k in range(box.count())] == list(rows):
        return
    blocker = QSignalBlocker(box)
    box.clear()
    for text, data in rows:
        box.addItem(text, data)
    found = next((k for k, (_, data) in enumerate(rows) if data == held), usual)
    box.setCurrentIndex(found if held is not None else usual)
    blocker.unblock()
