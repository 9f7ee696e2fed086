"""Is the plan sound? Its tools, what may be wrong with it, its rooms as a table, its floors."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QComboBox,
    QLabel,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.panels.ask_row import AskRow
from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.plan_findings import FindingsRow
from hgmap.desktop.panels.plan_floor import FloorPage
from hgmap.desktop.panels.plan_parts import STATES, PartsTable, state_words
from hgmap.desktop.panels.plan_tools import PlanTools
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.plan_view import PlanView
    from hgmap.questions.gather import Question

POINTS, PARTS, FLOOR = range(3)
_NEXT: Final = dict(zip(STATES, (*STATES[1:], STATES[0]), strict=True))


class PlanPanel(Panel):
    """Everything about a plan; ``show`` chooses which of the three tables is seen."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent)
        self.board = desk.board
        self.ask = AskRow()
        self.tools = PlanTools(desk, self.ask)
        self.body.insertWidget(1, self.tools)
        self.body.insertWidget(2, self.ask)
        self.pages = QTabWidget()
        self.pages.setAccessibleName(tr("Points, rooms and floor"))
        self.pages.setDocumentMode(True)
        self.body.removeWidget(self.points)
        self.findings = FindingsRow(desk, self.points, self.ask)
        points = QWidget()
        column = QVBoxLayout(points)
        column.setContentsMargins(0, 6, 0, 0)
        column.addWidget(self.points, 1)
        column.addWidget(self.findings)
        self.pages.addTab(points, tr("Points"))
        self.parts = PartsTable(self.board)
        self.pages.addTab(self._parts_page(), tr("Rooms"))
        self.floor_page = FloorPage(desk, self.tools, self.ask)
        scroll = QScrollArea()
        scroll.setAccessibleName(tr("Floor"))
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(self.floor_page)
        self.pages.addTab(scroll, tr("Floor"))
        self.body.addWidget(self.pages, 1)
        self._more_actions()
        self.parts.delete_wanted.connect(self.tools.delete)
        self.parts.parts.renamed.connect(self.tools.rename)
        self.parts.parts.state_wanted.connect(self.set_state)
        self.board.changed.connect(self.refresh)
        self.board.chosen_changed.connect(self.refresh)
        desk.session.choices_changed.connect(self._round_changed)
        desk.session.site_changed.connect(self._round_changed)
        self._enable(on=False)
        self.refresh()

    def _parts_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 6, 0, 0)
        column.addWidget(self.parts, 1)
        self.state_label = QLabel(tr("An opening that is chosen becomes"))
        self.state_label.setWordWrap(True)
        column.addWidget(self.state_label)
        row = QWidget()
        flow = FlowLayout(row)
        self.state_buttons: dict[str, QPushButton] = {}
        for state in STATES:
            button = QPushButton(state_words(state))
            button.clicked.connect(lambda _=False, state=state: self.set_states(state))
            self.state_buttons[state] = button
            flow.addWidget(button)
        column.addWidget(row)
        self.where = QComboBox()
        self.where.setAccessibleName(tr("For which rounds an opening's state is set"))
        self.where.setToolTip(self.where.accessibleName())
        self.where.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.where.activated.connect(self._where_chosen)
        column.addWidget(self.where)
        return page

    def _more_actions(self) -> None:
        add, findings = self.tools.add, self.findings
        add(tr("Next state of an opening"), "Ctrl+Alt+O", self.next_state, button=False)
        add(tr("Repair the chosen point"), "Ctrl+Alt+E", findings.mend, button=False)
        add(tr("Keep it as drawn"), "Ctrl+Shift+K", findings.keep_it, button=False)
        add(tr("Ask it again"), "Ctrl+Shift+G", findings.ask_again, button=False)
        add(tr("Repair all"), "Ctrl+Shift+J", findings.mend_all, button=False)
        for number, text in enumerate(
            (tr("Show the points"), tr("Show the rooms"), tr("Show the floor"))
        ):
            add(text, f"Alt+Shift+{number + 1}", partial(self.show_page, number), button=False)

    # -- coming and going

    def actions_of(self) -> Sequence[QAction]:
        """Return what can be done with a plan."""
        return self.tools.actions_here

    def enter(self) -> None:
        """Take the tools in hand."""
        self._enable(on=True)
        self.tools.enter()
        self.refresh()

    def leave(self) -> None:
        """Put them away; what is chosen is no longer shown."""
        self.tools.leave()
        self.ask.put_away()
        self.board.choose(())
        self._enable(on=False)
        super().leave()

    def _enable(self, *, on: bool) -> None:
        self.tools.on = on
        for one in self.tools.actions_here:
            one.setEnabled(on)
        if on:
            self.tools.refresh()

    def focus_table(self) -> None:
        """Go to the table that is seen."""
        page = self.pages.currentIndex()
        table: QWidget = (self.points, self.parts, self.floor_page.north)[page]
        table.setFocus()

    def show_page(self, number: int) -> None:
        """Show points, rooms or floor."""
        self.pages.setCurrentIndex(number)
        self.focus_table()

    def use(self, plan_view: PlanView) -> None:
        """Let the slider say how strongly the picture shows."""
        self.floor_page.picture.opacity.valueChanged.connect(
            lambda percent: plan_view.underlay.set_opacity(percent / 100.0)
        )

    def take(self, question: Question) -> None:
        """Show where the question stands."""
        super().take(question)
        count = question.open_points
        self.pages.setTabText(POINTS, f"{tr('Points')} ({count})" if count else tr("Points"))
        draft = self.board.draft
        if draft is not None and not draft.rooms and question.state != "settled":
            self.answer.setText(tr("No room is drawn on this floor yet: trace the first one."))
            self.answer.show()
        elif draft is None and self.board.why:
            self.answer.setText(self.board.why)
            self.answer.show()

    # -- openings

    def refresh(self) -> None:
        """Offer what can be done with what is chosen."""
        openings = self.board.features("opening")
        for button in self.state_buttons.values():
            button.setEnabled(bool(openings))
        if self.board.chosen and self.tools.on and self.pages.currentIndex() == POINTS:
            point = self.points.chosen()
            if point is None:
                self.pages.setCurrentIndex(PARTS)

    def _round_changed(self) -> None:
        session = self.desk.session
        site, chosen = session.site, session.round_name
        one = site.round(chosen) if site and chosen else None
        before = self.where.currentData()
        self.where.clear()
        self.where.addItem(tr("on the plan, for every round"), "")
        if one is not None:
            self.where.addItem(tr("only in the round {name}", name=one.title), one.name)
        self.where.setCurrentIndex(max(self.where.findData(before), 0))
        self._where_chosen()

    def _where_chosen(self) -> None:
        name = str(self.where.currentData() or "")
        if name != self.parts.parts.round:
            self.parts.parts.round = name
        self.parts.refresh()

    def set_states(self, state: str) -> None:
        """Set the state of every chosen opening."""
        for one in self.board.features("opening"):
            self.set_state(one.key, state)

    def set_state(self, key: str, state: str) -> None:
        """Set the state of an opening, on the plan or in the chosen round."""
        draft = self.board.draft
        feature = draft.by_key.get(key) if draft else None
        if feature is None:
            return
        words = state_words(state)
        text = tr("Opening {name}: {state}", name=feature.id, state=words)
        round_name, floor = self.parts.parts.round, self.board.floor
        if not round_name:
            from hgmap.editing.plan_openings import set_state

            self.board.edit(text, lambda now: set_state(now, key, state))
            return
        from hgmap.editing.round_settings import set_opening_in_round

        same = state == feature.state  # as the plan has it: the round need not say so
        self.desk.session.edit(
            text,
            lambda files: set_opening_in_round(
                files, round_name, floor, feature.id, None if same else state  # type: ignore[arg-type]
            ),
        )  # fmt: skip

    def next_state(self) -> None:
        """Go on from open to closed to sealed, and round again."""
        shown = {one.key: one.state for one in self.parts.parts.parts}
        for one in self.board.features("opening"):
            self.set_state(one.key, _NEXT.get(shown.get(one.key, one.state), STATES[0]))
