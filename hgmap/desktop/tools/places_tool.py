"""A tool that gathers places on the plan, by the pointer or from the keyboard alone.

Clicks are drawn to corners, walls and right angles, and that is shown. Digits make a length box:
Enter sets the length along the pointer, an arrow key along the plan's axes; two numbers are x and
y of the place. What is done with the places is told by who made the tool.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from hgmap.desktop.tools import sketch
from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.desktop.tools.typed import DIRECTIONS, Typed
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError
from hgmap.report.drawing import Drawing

if TYPE_CHECKING:
    from hgmap.desktop.drawing_board import DrawingBoard
    from hgmap.editing.snapping import Snap

Place = tuple[float, float]
Finished = Callable[[tuple[Place, ...]], bool]

REACH_PX: Final = 10.0
"""How near (pixels) the pointer has to be to what it is drawn to."""


class PlacesTool(Tool):
    """Gathers places; ``finished`` takes them and tells whether they were good."""

    most: int | None = None
    """Ends by itself with so many; None: with Enter."""
    least: ClassVar[int] = 2
    closes: ClassVar[bool] = False
    """Whether a click on the first place ends it."""
    waits: ClassVar[bool] = False
    """Whether what was drawn is seen until the question about it is answered."""
    snaps: ClassVar[bool] = True

    def __init__(
        self, board: DrawingBoard, finished: Finished, given_up: Callable[[], None]
    ) -> None:
        self.board, self.finished, self.given_up = board, finished, given_up
        self.places: list[Place] = []
        self.typed = Typed()
        self.sees: Callable[[], float] = lambda: math.inf
        """How far east (m) there is room for words on the right of the pointer."""
        self._at: tuple[float, float, float] | None = None
        self._free = False
        self._drawing: Drawing | None = None
        self._closed = False

    @property
    def waiting(self) -> bool:
        """Whether what was drawn waits for an answer."""
        return self._closed

    # -- pointer

    def press(self, event: PointerEvent) -> bool:
        """Take a place."""
        if event.button != Qt.MouseButton.LeftButton:
            return False
        self.move(event)
        snap = self._snap()
        if snap is not None:
            self.typed = Typed()
            self._take((snap.x, snap.y))
        return True

    def move(self, event: PointerEvent) -> bool:
        """Show where a click would go."""
        self._at = (event.x_m, event.y_m, event.m_per_px)
        self._free = bool(event.modifiers & Qt.KeyboardModifier.ControlModifier)
        self._drawing = None
        return True

    def release(self, event: PointerEvent) -> bool:
        """Nothing hangs on it: places are taken as the button goes down."""
        return True

    # -- keys

    def key(self, event: QKeyEvent) -> bool:
        """Take digits, Enter, Backspace, Escape, and arrows behind a length."""
        key = Qt.Key(event.key())
        self._drawing = None
        try:
            if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                return self._enter()
            if key in DIRECTIONS:
                return self._along(*DIRECTIONS[key])
        except HgmapError as error:
            self.board.session.trouble.emit(str(error))
            return True
        if key == Qt.Key.Key_Backspace:
            if not self.typed.back() and self.places:
                self.places.pop()
                self._closed = False
            return True
        if key == Qt.Key.Key_Escape:
            if self.typed.text:
                self.typed = Typed()
            elif self.places:
                self.cancel()
            else:
                self.given_up()
            return True
        return self.typed.take(event)

    def cancel(self) -> None:
        """Forget the places."""
        self.places, self.typed, self._closed = [], Typed(), False
        self._drawing = None

    def _enter(self) -> bool:
        if self.typed.text:
            numbers = self.typed.numbers()
            if len(numbers) == 2:
                self._typed_place((numbers[0], numbers[1]))
                return True
            snap = self._snap()
            if not self.places or snap is None or snap.what != "length":
                self.board.session.trouble.emit(
                    tr("a length needs a corner before it and a direction: type x and y of the "
                       "first corner, then a length and an arrow key")
                )  # fmt: skip
                return True
            self._typed_place((snap.x, snap.y))
            return True
        if len(self.places) >= max(self.least, 3 if self.closes else 2):
            self._finish()
            return True
        return False

    def _along(self, dx: float, dy: float) -> bool:
        if not self.typed.text:
            return False
        length = self.typed.length()
        if length is None or not self.places:
            self.typed.numbers()
            self.board.session.trouble.emit(
                tr("type x and y of the first corner, such as 2.5 4, and press Enter")
            )
            return True
        x, y = self.places[-1]
        self._typed_place((x + dx * length, y + dy * length))
        return True

    def _typed_place(self, place: Place) -> None:
        self.typed = Typed()
        self._take(place)

    # -- places

    def _take(self, place: Place) -> None:
        self._drawing = None
        if self._closed:  # a click goes on with the next one
            return
        first = self.places[0] if self.places else None
        if (
            self.closes
            and first is not None
            and len(self.places) >= 3
            and math.dist(first, place) <= 1e-6
        ):
            self._finish()
            return
        if self.places and math.dist(self.places[-1], place) <= 1e-6:
            return
        self.places.append(place)
        if self.most is not None and len(self.places) >= self.most:
            self._finish()

    def _finish(self) -> None:
        places = tuple(self.places)
        self._closed = self.waits  # before it is asked: the question may be settled at once
        if self.finished(places):
            if not self.waits:
                self.cancel()
        else:
            self._closed = False
            if self.most is not None:
                self.places = []
        self._drawing = None

    def _snap(self) -> Snap | None:
        """Return where a click would go, at the pointer."""
        from hgmap.editing.plan_draft import PlanDraft
        from hgmap.editing.snapping import Snap, snap

        if self._at is None:
            return None
        x, y, m_per_px = self._at
        length = self.typed.length() if self.places else None
        if (self._free or not self.snaps) and length is None:
            return Snap(x, y)
        draft = self.board.draft if self.snaps and not self._free else None
        reach = REACH_PX * m_per_px if self.snaps and not self._free else 1e-9
        return snap((x, y), draft or PlanDraft(), reach, self.places, length)

    # -- what is seen

    def overlay(self) -> Drawing:
        """Return the places, and where the next would go."""
        if self._drawing is None:
            self._drawing = self._draw()
        return self._drawing

    def _draw(self) -> Drawing:
        snap = None if self._closed else self._snap()
        items = sketch.drawn_line(self.places, closed=self._closed)
        last = self.places[-1] if self.places else None
        if snap is not None:
            items += sketch.aim(snap, last, left=snap.x > self.sees())
        if self.typed.text:
            at = (snap.x, snap.y) if snap is not None else last or self._middle()
            items += sketch.typed_box(*at, self.typed.text, left=at[0] > self.sees())
        return items

    def _middle(self) -> Place:
        """Return where typed numbers are shown while there is neither pointer nor corner."""
        from hgmap.scene.draft_scene import EMPTY_M, draft_extent

        draft = self.board.draft
        west, south, east, north = (draft and draft_extent(draft)) or EMPTY_M
        return (west + east) / 2, (south + north) / 2
