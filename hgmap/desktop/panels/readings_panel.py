"""Can the readings be trusted? All of them as a table, on the plan, and along their day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QDockWidget,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)
from shapely import Point

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.panels.ask_row import AskRow
from hgmap.desktop.panels.log_page import LogPage
from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.points import PointsPage
from hgmap.desktop.panels.readings_add import Add
from hgmap.desktop.panels.readings_decide import Decide
from hgmap.desktop.panels.readings_paste import Paste
from hgmap.desktop.panels.readings_visit import NewVisit
from hgmap.desktop.panels.shelf import Shelf
from hgmap.desktop.tables.filter_row import FilterRow
from hgmap.desktop.tables.reading_rows import SHOWN
from hgmap.desktop.tables.readings_desk import NARROW, ReadingsDesk
from hgmap.desktop.tables.text_table import TextTable
from hgmap.desktop.tools.drag_reading import DragReading
from hgmap.desktop.words import tr
from hgmap.editing.reading_edits import move_reading

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import Question
    from hgmap.site.reading import Reading

_NARROW_WIDTHS: Final = {"id": 54, "value": 60, "room": 46, "verdict": 116}
WIDE_PX: Final = 230


class ReadingsPanel(Panel):
    """The open points, the readings and the instrument log, each behind a tab."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent)
        self.ask = AskRow()
        self.work = ReadingsDesk(desk, self)
        self.decide = Decide(self.work, self.ask)
        self.visit = NewVisit(self.work, self.ask)
        self.paste = Paste(self.work, self.ask, self.visit)
        self.add = Add(self.work, self.ask, self.visit, self._usual_tool)
        self.tool = DragReading(self._on_plan, lambda: desk.session.floor, self._pressed,
                                self._move, desk.canvas.update)  # fmt: skip
        self.dock: QDockWidget | None = None
        self.wide: TextTable | None = None
        self._in_hand = False
        self.body.removeWidget(self.points)
        self.pages = QTabWidget()
        self.pages.setAccessibleName(tr("Readings, points and log"))
        self.pages.setDocumentMode(True)
        self.narrow = self.work.table(NARROW, tr("Readings"))
        for column, width in _NARROW_WIDTHS.items():
            self.narrow.setColumnWidth(SHOWN.index(column), width)
        self.narrow.horizontalHeader().setStretchLastSection(True)
        header = self.narrow.horizontalHeader()
        header.moveSection(header.visualIndex(SHOWN.index("value")), 1)
        self.buttons = QWidget()
        self.flow = FlowLayout(self.buttons)
        self._actions: list[QAction] = []
        self._fill_actions()
        self.pages.addTab(self._table_page(), tr("Readings"))
        self.body.insertWidget(1, Shelf(self.ask, (self.answer, self.buttons)))
        self.pages.addTab(PointsPage(self.points), tr("Points"))
        self.log = LogPage(self.work, self.ask)
        scroll = QScrollArea()
        scroll.setAccessibleName(tr("Instrument log"))
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(self.log)
        self.pages.addTab(scroll, tr("Log"))
        self.body.addWidget(self.pages, 1)
        desk.told.reading_chosen.connect(self._told)
        self.work.shown.connect(self._read_again)
        self.work.chosen_changed.connect(self._enable)
        self._enable()

    def _table_page(self) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 6, 0, 0)
        self.filter = FilterRow(self.work)
        column.addWidget(self.filter)
        column.addWidget(self.narrow, 1)
        column.addWidget(self.buttons)
        column.addStretch(0)
        return page

    # -- what can be done

    def _fill_actions(self) -> None:
        self.hold_action = self._action(tr("Hold ..."), "Alt+Shift+H", self.decide.hold)
        self.release_action = self._action(tr("Release ..."), "Alt+Shift+U", self.decide.release)
        self.withdraw_action = self._action(
            tr("Withdraw the decision"), "Alt+Shift+B", self.decide.withdraw
        )
        self.add_action = self._action(tr("New reading"), "Alt+Shift+N", self.add.begin)
        self._action(tr("New round"), "Alt+Shift+V", self.visit.begin)
        self.delete_action = self._action(tr("Delete"), "Alt+Shift+X", self.work.delete)
        self.wide_action = self._action(tr("Wide table"), "Alt+Shift+W", self.toggle_wide)
        self.wide_action.setCheckable(True)
        self.same_action = self._action(
            tr("Same value in the chosen cells"), "Alt+Shift+S", self.same_value, button=False
        )
        self._action(
            tr("Show the readings"), "Alt+Shift+T", lambda: self.show_page(0), button=False
        )
        self._action(
            tr("Show what is open"), "Alt+Shift+P", lambda: self.show_page(1), button=False
        )
        self._action(
            tr("Show the instrument log"), "Alt+Shift+I", lambda: self.show_page(2), button=False
        )
        self._action(tr("Add a check ..."), "Alt+Shift+K", self._add_check, button=False)

    def _action(
        self, text: str, keys: str, act: Callable[[], object], *, button: bool = True
    ) -> QAction:
        action = QAction(text, self)
        action.setShortcut(QKeySequence(keys))
        action.setToolTip(f"{text} ({keys})")
        action.triggered.connect(lambda _=False: self._here(act))
        self._actions.append(action)
        if button:
            push = QPushButton(text.removesuffix(" ..."))
            push.setToolTip(action.toolTip())
            push.clicked.connect(action.trigger)

            def follow() -> None:
                push.setEnabled(action.isEnabled())
                push.setCheckable(action.isCheckable())
                push.setChecked(action.isChecked())

            action.changed.connect(follow)
            self.flow.addWidget(push)
        return action

    def _here(self, act: Callable[[], object]) -> None:
        """Do something of this question; it is chosen first where another one is."""
        if not self._in_hand:
            self.desk.told.question_wanted.emit("readings")
        act()

    def actions_of(self) -> Sequence[QAction]:
        """Return what can be done with readings."""
        return self._actions

    def _enable(self) -> None:
        some = self.work.any_chosen
        for one in (self.hold_action, self.release_action, self.withdraw_action,
                    self.delete_action, self.same_action):  # fmt: skip
            one.setEnabled(some)

    def show_page(self, number: int) -> None:
        """Show readings, open points or the instrument log, and go there."""
        self.pages.setCurrentIndex(number)
        (self._view(), self.points, self.log.timeline)[number].setFocus()

    def focus_table(self) -> None:
        """Go to the readings, in the wide table where that is open."""
        if self.dock is not None and self.dock.isVisible() and self.wide is not None:
            self.wide.setFocus()
            return
        self.show_page(0)

    def _view(self) -> TextTable:
        """Return the table that is worked in."""
        if self.wide is not None and self.dock is not None and self.dock.isVisible():
            return self.wide
        return self.narrow

    def same_value(self) -> None:
        """Write the current cell's text into the chosen cells of its column."""
        self.work.same_value(self._view())

    def _add_check(self) -> None:
        self.show_page(2)
        self.log.ask_check()

    def toggle_wide(self) -> None:
        """Show the table over the width of the window, or put it away."""
        if self.dock is None:
            self.dock = self._make_dock()
        self._show_dock()
        if self.wide_action.isChecked() and self.wide is not None:
            self.wide.scrollTo(self.work.selection.currentIndex())
            self.wide.setFocus()

    def _show_dock(self) -> None:
        """Show one of the two tables: in the column, or over the width of the window."""
        wide = self.wide_action.isChecked() and self.dock is not None
        if self.dock is not None:
            self.dock.setVisible(wide)
        self.narrow.setVisible(not wide)
        self.filter.setVisible(not wide)

    def _make_dock(self) -> QDockWidget:
        window = self.desk.window
        dock = QDockWidget(tr("Readings"), window)
        dock.setObjectName("wide readings")
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(8, 4, 8, 6)
        column.addWidget(FilterRow(self.work))
        self.wide = self.work.table(SHOWN, tr("Readings, all columns"))
        column.addWidget(self.wide, 1)
        dock.setWidget(page)
        window.addDockWidget(Qt.DockWidgetArea.BottomDockWidgetArea, dock)
        window.resizeDocks([dock], [WIDE_PX], Qt.Orientation.Vertical)
        dock.visibilityChanged.connect(self._dock_seen)
        self.work.want()
        return dock

    def _dock_seen(self, seen: bool) -> None:
        if not seen and self._in_hand and self.dock is not None and not self.dock.isVisible():
            self.wide_action.setChecked(False)
            self._show_dock()

    # -- coming and going

    def enter(self) -> None:
        """Let readings be dragged."""
        self._in_hand = True
        self._usual_tool()
        self._show_dock()

    def leave(self) -> None:
        """Give the plan back; what is asked is not asked any more."""
        self._in_hand = False
        self.tool.put_down()
        self.ask.put_away()
        self.add.tool.cancel()
        if self.dock is not None:
            self.dock.hide()
        super().leave()

    def _usual_tool(self) -> None:
        if self._in_hand:
            self.desk.canvas.set_tool(self.tool)

    def take(self, question: Question) -> None:
        """Show where the question stands."""
        super().take(question)
        self.answer.setVisible(bool(question.answer) and not self.ask.asking)
        n = question.open_points
        self.pages.setTabText(1, f"{tr('Points')} ({n})" if n else tr("Points"))

    # -- the plan

    def _on_plan(self) -> list[Reading]:
        session = self.desk.session
        choices = session.choices
        if session.site is None:
            return []
        return [
            one for one in session.site.readings
            if one.floor == choices.floor and one.round == choices.round
        ]  # fmt: skip

    def _pressed(self, where: str) -> None:
        if not self.work.choose(where):
            self.desk.told.reading_chosen.emit(where)
            self.desk.say(tr("That reading is not among those that the table shows."))

    def _move(self, one: Reading, x: float, y: float) -> None:
        floor = self.desk.session.floor

        def done(ok: bool) -> None:
            if not ok:
                self.tool.read_again(one)

        self.desk.session.late.do(
            tr("Move {id}", id=one.id),
            lambda files: move_reading(files, one, x, y, floor=floor),
            done,
        )

    def _told(self, where: str) -> None:
        """Show on the plan, and in the table, what was chosen anywhere."""
        if not self._in_hand:
            return
        site = self.work.site
        one = next((r for r in site.readings if r.where == where), None) if site else None
        if one is None:
            return
        self.tool.put_down()
        self.tool.chosen = one
        self.work.choose(where)
        self._point_at(one)

    def _point_at(self, one: Reading) -> None:
        if one.x is None or one.y is None or one.floor == "":
            self.desk.point_at(None)
            return
        self.desk.point_at(Point(one.x, one.y), one.floor)

    def _read_again(self) -> None:
        """Take the chosen reading as it stands now."""
        if not self._in_hand or self.desk.session.late.busy:
            return
        old = self.tool.chosen
        site = self.work.site
        if old is None or site is None:
            return
        one = next((r for r in site.readings if r.where == old.where and r.id == old.id), None)
        self.tool.read_again(one)
        if one is not None and one.x is not None and one.floor == self.desk.session.choices.floor:
            from hgmap.desktop.desk import POINTER
            from hgmap.scene.highlight import place_sign

            self.desk.canvas.set_overlay(POINTER, place_sign(one.x, one.y or 0.0))
