"""Chooses what lies under the pointer, and moves corners: neighbours come along.

A click on anything chooses it (Shift adds), a drag of a chosen feature's corner moves it. From the
keyboard: ``N`` goes to the next corner, a length and an arrow key move it that far.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from hgmap.desktop.tools import sketch
from hgmap.desktop.tools.places_tool import REACH_PX
from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.desktop.tools.typed import DIRECTIONS, Typed
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError
from hgmap.report.drawing import Drawing

if TYPE_CHECKING:
    from hgmap.desktop.drawing_board import DrawingBoard
    from hgmap.editing.plan_draft import PlanDraft
    from hgmap.editing.snapping import Snap

Place = tuple[float, float]

_CLICK_PX: Final = 4.0


class PickTool(Tool):
    """Looks and chooses; ``delete`` and ``rename`` are what those keys do."""

    cursor = Qt.CursorShape.ArrowCursor

    def __init__(
        self, board: DrawingBoard, delete: Callable[[], None], rename: Callable[[], None]
    ) -> None:
        self.board, self.delete, self.rename = board, delete, rename
        self.typed = Typed()
        self.adding = False
        """Whether Shift was down at the last press."""
        self._at: tuple[float, float, float] | None = None
        self._pressed: Place | None = None
        self._others: PlanDraft | None = None
        self._to: Snap | None = None
        self._drawing: Drawing | None = None
        board.changed.connect(self._forget)
        board.chosen_changed.connect(self._forget)

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        if self.board.corner is not None:
            return tr(
                "Drag the corner, or type a length and an arrow key; Delete takes it out; "
                "N goes to the next."
            )
        if self.board.chosen:
            return tr(
                "Drag a corner; Insert: a corner under the pointer; Enter: name; Delete; "
                "Shift and click: also; N: next corner."
            )
        return tr("Click a room, an opening or a wall to choose it.")

    # -- pointer

    def press(self, event: PointerEvent) -> bool:
        """Take hold of a corner of what is chosen; else the canvas pans, or says what was hit."""
        self.adding = bool(event.modifiers & Qt.KeyboardModifier.ShiftModifier)
        self._remember(event)
        if event.button != Qt.MouseButton.LeftButton or self.adding or self.board.draft is None:
            return False
        from hgmap.editing.plan_pick import corner_at

        reach = REACH_PX * event.m_per_px
        for key in self.board.chosen:
            corner = corner_at(self.board.draft, key, (event.x_m, event.y_m), reach)
            if corner is not None:
                rest = [one for one in self.board.chosen if one != key]
                self.board.choose([key, *rest], corner)
                self._pressed = (event.x_px, event.y_px)
                self._others = None
                self._to = None
                return True
        return False

    def move(self, event: PointerEvent) -> bool:
        """Drag the corner, drawn to other corners, walls and right angles."""
        self._remember(event)
        if self._pressed is None:
            return False
        far = max(abs(event.x_px - self._pressed[0]), abs(event.y_px - self._pressed[1]))
        if self._to is None and far < _CLICK_PX:
            return True
        from hgmap.editing.snapping import Snap, snap

        at = (event.x_m, event.y_m)
        if event.modifiers & Qt.KeyboardModifier.ControlModifier:
            self._to = Snap(*at)
        else:
            reach = REACH_PX * event.m_per_px
            self._to = snap(at, self._rest(), reach, self._neighbours())
        self._drawing = None
        return True

    def release(self, event: PointerEvent) -> bool:
        """Let the corner go."""
        to, self._to, self._pressed, self._others = self._to, None, None, None
        self._drawing = None
        if to is not None:
            self._move_to((to.x, to.y))
        return True

    def _remember(self, event: PointerEvent) -> None:
        self._at = (event.x_m, event.y_m, event.m_per_px)

    # -- keys

    def key(self, event: QKeyEvent) -> bool:
        """Take Delete, Enter, Insert, ``N``, and a length with an arrow key."""
        key = Qt.Key(event.key())
        self._drawing = None
        board = self.board
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            if not self.typed.back() and board.chosen:
                self.delete()
            return True
        if key == Qt.Key.Key_Escape:
            taken = bool(self.typed.text or board.chosen or self._pressed)
            if self._pressed is not None or self.typed.text:
                self.cancel()
            else:
                board.choose(())
            return taken
        if not board.chosen:
            return False
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.rename()
            return True
        if key == Qt.Key.Key_Insert:
            self._insert()
            return True
        if key == Qt.Key.Key_N and event.modifiers() == Qt.KeyboardModifier.NoModifier:
            self._next_corner()
            return True
        if board.corner is None:
            return False
        if key in DIRECTIONS and self.typed.text:
            self._by_keys(*DIRECTIONS[key])
            return True
        return self.typed.take(event)

    def cancel(self) -> None:
        """Leave the corner where it was."""
        self._to, self._pressed, self._others = None, None, None
        self.typed = Typed()
        self._drawing = None

    def _by_keys(self, dx: float, dy: float) -> None:
        length, at = self.typed.length(), self._corner()
        self.typed = Typed()
        if length is None or at is None:
            self.board.session.trouble.emit(tr("type a length above 0, such as 0.25"))
            return
        self._move_to((at[0] + dx * length, at[1] + dy * length))

    def _next_corner(self) -> None:
        corners = self._corners()
        if len(corners):
            now = self.board.corner
            self.board.choose(self.board.chosen, 0 if now is None else (now + 1) % len(corners))

    def _insert(self) -> None:
        from hgmap.editing.plan_edits import insert_corner
        from hgmap.editing.plan_pick import edge_at

        board = self.board
        key = board.chosen[0]
        found = None
        if board.draft is not None and self._at is not None:
            x, y, m_per_px = self._at
            found = edge_at(board.draft, key, (x, y), REACH_PX * m_per_px)
        if found is None:
            board.session.trouble.emit(
                tr("no wall of it is under the pointer: point at the wall that gets a corner")
            )
            return
        edge, place = found
        done = board.edit(tr("Put a corner in"), lambda now: insert_corner(now, key, edge, place))
        if done:
            board.choose([key], edge + 1)

    def _move_to(self, place: Place) -> None:
        from hgmap.editing.plan_edits import move_corner

        board = self.board
        key, corner = (board.chosen or ("",))[0], board.corner
        if corner is not None:
            board.edit(tr("Move a corner"), lambda now: move_corner(now, key, corner, place))

    # -- what is chosen

    def _corners(self) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        from hgmap.editing.plan_edits import corners_of

        found = self.board.features()
        shape = found[0].geometry if found else None
        return corners_of(shape) if shape is not None else np.empty((0, 2))

    def _corner(self) -> Place | None:
        corners, number = self._corners(), self.board.corner
        if number is None or not 0 <= number < len(corners):
            return None
        return float(corners[number][0]), float(corners[number][1])

    def _neighbours(self) -> list[Place]:
        """Return the two corners before, so that a right angle to their wall counts."""
        corners, number = self._corners(), self.board.corner
        if number is None or len(corners) < 3:
            return []
        return [(float(corners[number - k][0]), float(corners[number - k][1])) for k in (2, 1)]

    def _rest(self) -> PlanDraft:
        """Return the plan without what moves along: nothing is drawn to itself."""
        from hgmap.editing.plan_draft import PlanDraft

        if self._others is None:
            draft, at = self.board.draft or PlanDraft(), self._corner()
            moving: dict[str, None] = {}
            for one in draft.features:
                if at is None or one.geometry is None:
                    continue
                places = shapely.get_coordinates(one.geometry)
                if len(places) and np.hypot(*(places - at).T).min() <= 1e-3:
                    moving[one.key] = None
            self._others = draft.edited(moving)
        return self._others

    def _forget(self) -> None:
        self._drawing = None

    # -- what is seen

    def overlay(self) -> Drawing:
        """Return what is chosen, and where the corner would go."""
        if self._drawing is None:
            try:
                self._drawing = self._draw()
            except HgmapError:
                self._drawing = ()
        return self._drawing

    def _draw(self) -> Drawing:
        shapes = [one.geometry for one in self.board.features() if one.geometry is not None]
        corners = [
            (float(x), float(y)) for shape in shapes for x, y in shapely.get_coordinates(shape)
        ]
        items = sketch.chosen_signs(shapes, corners)
        at = self._corner()
        if at is not None:
            items += sketch.corner_sign(*at)
        if self._to is not None and at is not None:
            every, number = self._corners(), self.board.corner or 0
            for side in (-1, 1):
                other = every[(number + side) % len(every)]
                line = [(float(other[0]), float(other[1])), (self._to.x, self._to.y)]
                items += sketch.drawn_line(line)
            items += sketch.aim(self._to)
        if self.typed.text and at is not None:
            items += sketch.typed_box(*at, self.typed.text)
        return items
