"""The tools of a plan: which is in hand, and what becomes of what was drawn with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QComboBox, QPushButton, QToolButton, QVBoxLayout, QWidget

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.panels.ask_row import AskRow, Field
from hgmap.desktop.panels.plan_parts import STATES, state_words
from hgmap.desktop.tools.line_tools import DrawWall, PutOpening, SplitRoom
from hgmap.desktop.tools.pick_tool import PickTool
from hgmap.desktop.tools.places_tool import Place, PlacesTool
from hgmap.desktop.tools.tool import Tool
from hgmap.desktop.tools.trace_room import TraceRoom
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.editing.plan_draft import PlanDraft

Places = tuple[Place, ...]

DOOR: Final = "door"

ROOM_FOR_WORDS_PX: Final = 130.0
"""Nearer to the right edge of the plan, words stand on the left of the pointer."""


class PlanTools(QWidget):
    """A row of buttons; the one of the tool in hand is down."""

    def __init__(self, desk: Desk, ask: AskRow) -> None:
        super().__init__()
        self.desk, self.board, self.ask = desk, desk.board, ask
        self.on = False
        self.actions_here: list[QAction] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self._buttons = QWidget()
        self._row = FlowLayout(self._buttons)
        column.addWidget(self._buttons)
        self.opening_choices = QWidget()
        choices = FlowLayout(self.opening_choices)
        self.state = QComboBox()
        self.state.setAccessibleName(tr("State of the new opening"))
        for one in STATES:
            self.state.addItem(state_words(one), one)
        self.width_of = QComboBox()
        self.width_of.setAccessibleName(tr("How an opening is drawn"))
        self.width_of.addItem(tr("a click: 0.9 m wide"), DOOR)
        self.width_of.addItem(tr("two clicks: its jambs"), "")
        self.width_of.activated.connect(self._width_chosen)
        choices.addWidget(self.width_of)
        choices.addWidget(self.state)
        self.opening_choices.hide()
        column.addWidget(self.opening_choices)

        self.pick = PickTool(self.board, self.delete, self.name)
        self.trace = TraceRoom(self.board, self._room_traced, self.put_down)
        self.wall = DrawWall(self.board, self._wall_drawn, self.put_down)
        self.split = SplitRoom(self.board, self._split_drawn, self.put_down)
        self.opening = PutOpening(self.board, self._opening_drawn, self.put_down)
        self._pending: Places = ()
        self._group = QActionGroup(self)
        self.choose_action = self._tool(tr("Choose"), "Ctrl+Shift+C", self.pick)
        self.trace_action = self._tool(tr("Trace a room"), "Ctrl+Alt+R", self.trace)
        self.opening_action = self._tool(tr("Opening"), "Ctrl+Shift+D", self.opening)
        self.wall_action = self._tool(tr("Wall"), "Ctrl+Shift+W", self.wall)
        self.split_action = self._tool(tr("Split a room"), "Ctrl+Shift+L", self.split)
        self.merge_action = self.add(tr("Merge"), "Ctrl+Shift+M", self.merge)
        self.name_action = self.add(tr("Name"), "Ctrl+Shift+N", self.name)
        self.delete_action = self.add(tr("Delete"), "Ctrl+Shift+Backspace", self.delete)
        self.board.changed.connect(self.refresh)
        self.board.chosen_changed.connect(self.refresh)
        desk.canvas.clicked.connect(self._clicked)

    # -- buttons

    def add(
        self, text: str, shortcut: str, act: Callable[[], object], *, button: bool = True
    ) -> QAction:
        """Make something that can be done: in the menu, with a shortcut, and as a button."""
        action = QAction(text, self)
        action.setShortcut(QKeySequence(shortcut))
        action.setToolTip(f"{text} ({shortcut})")
        action.triggered.connect(lambda _=False: act())
        self.actions_here.append(action)
        if button:
            self._button(action)
        return action

    def _tool(self, text: str, shortcut: str, tool: Tool) -> QAction:
        action = self.add(text, shortcut, lambda: self.take(tool))
        action.setCheckable(True)
        self._group.addAction(action)
        action.setData(tool)
        return action

    def buttons(
        self, column: QVBoxLayout, what: Mapping[str, tuple[str, str, Callable[[], object]]]
    ) -> dict[str, QPushButton]:
        """Make a row of buttons elsewhere; each is in the menu too, with its shortcut."""
        row = QWidget()
        flow = FlowLayout(row)
        made = {}
        for key, (text, shortcut, act) in what.items():
            made[key] = button = QPushButton(text)
            button.setToolTip(f"{text} ({shortcut})")
            button.clicked.connect(lambda _=False, act=act: act())
            self.add(text, shortcut, button.click, button=False)
            flow.addWidget(button)
        column.addWidget(row)
        return made

    def _button(self, action: QAction) -> None:
        button = QToolButton()
        button.setDefaultAction(action)
        button.setProperty("tool", True)
        button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._row.addWidget(button)

    def _east(self) -> float:
        return self.desk.canvas.view.bounds[2] - ROOM_FOR_WORDS_PX / self.desk.canvas.px_per_m

    # -- which tool is in hand

    def enter(self) -> None:
        """Take the first tool."""
        self.on = True
        self.take(self.pick if self.board.draft is None or self.board.draft.rooms else self.trace)
        self.refresh()

    def leave(self) -> None:
        """Put the tool away."""
        self._settle()
        self.on = False
        self.desk.canvas.set_tool(None)

    def take(self, tool: Tool, action: QAction | None = None) -> None:
        """Take a tool in hand."""
        self._settle()
        if isinstance(tool, PlacesTool) and self.board.draft is None:
            self.desk.session.trouble.emit(
                self.board.why or tr("this floor has no plan to draw on")
            )
            tool = self.pick
        for one in self._group.actions():
            one.setChecked(one.data() is tool)
        self.opening_choices.setVisible(tool is self.opening)
        if isinstance(tool, PlacesTool):
            tool.sees = self._east
            if tool.waiting:  # taken in hand again: it begins anew
                self.ask.put_away()
                tool.cancel()
        self.desk.canvas.set_tool(tool)
        self.desk.canvas.setFocus()
        self.hint()

    def put_down(self) -> None:
        """Go back to choosing."""
        self.take(self.pick)

    def hint(self) -> None:
        """Say at the foot of the window what the tool in hand does."""
        tool = self.desk.canvas.tool
        if self.on and tool is not None:
            self.desk.say(tool.hint)

    def refresh(self) -> None:
        """Offer what can be done with what is chosen."""
        rooms, chosen = self.board.features("room"), self.board.features()
        self.merge_action.setEnabled(self.on and len(rooms) > 1)
        self.name_action.setEnabled(self.on and len(rooms) == 1)
        self.delete_action.setEnabled(self.on and bool(chosen))
        if self.desk.canvas.tool is self.pick:
            self.desk.canvas.update()
            self.hint()

    def _clicked(self, x: float, y: float) -> None:
        """Choose what was clicked; Shift adds it."""
        if not self.on or self.desk.canvas.tool is not self.pick or self.board.draft is None:
            return
        from hgmap.desktop.tools.places_tool import REACH_PX
        from hgmap.editing.plan_pick import feature_at

        reach = REACH_PX / max(self.desk.canvas.px_per_m, 1e-9)
        key = feature_at(self.board.draft, (x, y), reach)
        if key is None:
            if not self.pick.adding:
                self.board.choose(())
        elif self.pick.adding:
            self.board.also_choose(key)
        else:
            self.board.choose([key])

    # -- rooms

    def _room_traced(self, places: Places) -> bool:
        from hgmap.editing.plan_edits import add_room, new_room_id

        draft = self.board.draft
        if draft is None:
            return False
        try:
            add_room(draft, places)
        except HgmapError as error:  # refused while the corners still can be mended
            self.desk.session.trouble.emit(str(error))
            return False
        self._pending = places
        self.ask.ask(
            tr("What is this room called?"),
            [Field("name", tr("Name"), new_room_id(draft))],
            tr("Draw it"),
            lambda said: self._add_room(said["name"]),
            refused=self._give_room_up,
            no=tr("Give it up"),
        )
        return True

    def _add_room(self, name: str) -> bool:
        from hgmap.editing.plan_edits import add_room

        places = self._pending
        text = tr("Trace the room {name}", name=name.strip() or tr("without a name"))
        if not self.board.edit(text, lambda now: add_room(now, places, name)):
            return False
        self._give_room_up()
        if self.board.draft is not None:
            self.board.choose([self.board.draft.rooms[-1].key])
        return True

    def _give_room_up(self) -> None:
        self._pending = ()
        self.trace.cancel()
        self.desk.canvas.update()
        self.desk.canvas.setFocus()

    def _settle(self) -> None:
        """Nothing that was drawn is lost: a room that waits for its name gets the next free one."""
        if self._pending and self.ask.asking:
            self.ask.put_away()
            self._add_room("")
        self._pending = ()

    def merge(self) -> None:
        """Make one room of the chosen ones."""
        from hgmap.editing.plan_areas import merging

        keys = [one.key for one in self.board.features("room")]
        told: list[tuple[str, str]] = []

        def make(now: PlanDraft) -> PlanDraft:
            made = merging(now, keys)
            told.append((made.key, made.text))
            return made.draft

        if self.board.edit(tr("Merge rooms"), make) and told:
            self.board.choose([told[-1][0]])
            self.desk.say(told[-1][1])

    def name(self) -> None:
        """Ask for another name of the chosen room."""
        rooms = self.board.features("room")
        if len(rooms) != 1:
            self.desk.session.trouble.emit(tr("choose one room: only rooms have names"))
            return
        key = rooms[0].key
        self.ask.ask(
            tr("Another name for {room}", room=rooms[0].title),
            [Field("name", tr("Name"), rooms[0].name)],
            tr("Name it"),
            lambda said: self.rename(key, said["name"]),
            refused=self.desk.canvas.setFocus,
        )

    def rename(self, key: str, name: str) -> bool:
        """Give a room another name."""
        from hgmap.editing.plan_edits import rename_room

        done = self.board.edit(
            tr("Name a room {name}", name=name), lambda now: rename_room(now, key, name)
        )
        if done:
            self.desk.canvas.setFocus()
        return done

    def delete(self) -> None:
        """Take out the chosen corner, or all that is chosen."""
        from hgmap.editing.plan_edits import delete_corner

        board = self.board
        if board.draft is None or not board.chosen:
            return
        corner, keys = board.corner, board.chosen
        if corner is not None:
            board.edit(
                tr("Take a corner out"), lambda now: delete_corner(now, keys[0], corner)
            )  # fmt: skip
            board.choose(keys)
            return
        titles = ", ".join(one.title for one in board.features()[:3])
        if board.edit(
            tr("Delete {what}", what=titles), lambda now: now.edited(dict.fromkeys(keys))
        ):
            self.desk.say(tr("Taken out: {what}. Ctrl+Z brings it back.", what=titles))

    # -- lines

    def _split_drawn(self, places: Places) -> bool:
        from shapely import LineString

        from hgmap.editing.plan_areas import split_room
        from hgmap.editing.plan_pick import feature_at

        draft, chosen = self.board.draft, self.board.features("room")
        if draft is None:
            return False
        line = LineString(places)
        middle = line.interpolate(0.5, normalized=True)
        inside = [
            key for key, room in draft.sound_rooms.items() if room.polygon.covers(middle)
        ]  # fmt: skip
        key = chosen[0].key if len(chosen) == 1 else next(iter(inside), None)
        key = key or feature_at(draft, (middle.x, middle.y), 0.0)
        if key is None:
            self.desk.session.trouble.emit(tr("the line lies in no room: draw it across one"))
            return False
        if not self.board.edit(tr("Split a room"), lambda now: split_room(now, key, line)):
            return False
        new = self.board.draft.rooms[-1] if self.board.draft else None
        if new is not None:
            self.board.choose([new.key])
            self.put_down()
            self.desk.say(
                tr("The larger half keeps its name and its readings; the other is {name}: Enter "
                   "names it.", name=new.name)
            )  # fmt: skip
        return True

    def _wall_drawn(self, places: Places) -> bool:
        from hgmap.editing.plan_openings import add_wall

        return self.board.edit(tr("Draw a wall"), lambda now: add_wall(now, places))

    def _width_chosen(self) -> None:
        self.opening.one_click = self.width_of.currentData() == DOOR
        self.desk.canvas.update()
        self.hint()

    def _opening_drawn(self, places: Places) -> bool:
        from hgmap.editing.door_at import door_at
        from hgmap.editing.plan_openings import add_opening

        state = str(self.state.currentData())

        def make(now: PlanDraft) -> PlanDraft:
            ends = places if len(places) == 2 else door_at(now, places[0])
            return add_opening(now, ends[0], ends[1], state)

        if not self.board.edit(tr("Put an opening"), make):
            return False
        if self.board.draft is not None:
            self.board.choose([self.board.draft.openings[-1].key])
        return True
