"""Readings are put where they were taken: dragged, or moved by the arrow keys."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from shapely import LineString

from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.desktop.words import tr
from hgmap.report.drawing import Dot, Drawing, Label, Path, Pen
from hgmap.report.palette import PAPER
from hgmap.scene.highlight import POINTER
from hgmap.scene.pick import reading_at, room_at
from hgmap.site.building import Floor
from hgmap.site.reading import Reading

REACH_PX: Final = 9.0
STILL_PX: Final = 4.0
"""A press that moves less is a click."""
STEP_M: Final = 0.1
FINE_M: Final = 0.01
REST_MS: Final = 450
"""After the last arrow key the reading stays there: one step back for all of them."""
_ARROWS: Final = {
    Qt.Key.Key_Left: (-1.0, 0.0), Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0), Qt.Key.Key_Down: (0.0, -1.0),
}  # fmt: skip


class DragReading(QObject, Tool):
    """The usual tool of the readings' question.

    Parameters
    ----------
    readings : callable
        Those that are on the plan now.
    floor : callable
        The floor that is on the plan.
    choose : callable
        Told which reading was pressed, by file and row.
    move : callable
        Puts a reading at a place (m); all of a drag, or of a row of arrow keys, at once.
    changed : callable
        Told that the overlay is another.
    """

    def __init__(
        self,
        readings: Callable[[], Sequence[Reading]],
        floor: Callable[[], Floor | None],
        choose: Callable[[str], object],
        move: Callable[[Reading, float, float], object],
        changed: Callable[[], object],
    ) -> None:
        super().__init__()
        self.cursor = Qt.CursorShape.ArrowCursor
        self.hint = tr("Drag a reading to where it was taken; the arrow keys move it by 10 cm, "
                       "with Shift by 1 cm.")  # fmt: skip
        self._readings, self._floor = readings, floor
        self._choose, self._move, self._changed = choose, move, changed
        self.chosen: Reading | None = None
        self._held: Reading | None = None
        self._pressed = (0.0, 0.0)
        self._grip = (0.0, 0.0)
        self._place: tuple[float, float] | None = None
        self._drawing: Drawing = ()
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self.put_down)

    def press(self, event: PointerEvent) -> bool:
        """Take hold of the reading that is near."""
        self.put_down()
        if event.button != Qt.MouseButton.LeftButton:
            return False
        reach = REACH_PX * event.m_per_px
        found = reading_at(self._readings(), event.x_m, event.y_m, reach)
        if found is None or found.x is None or found.y is None:
            return False
        self._held = self.chosen = found
        self._pressed = (event.x_px, event.y_px)
        # the reading does not jump to the pointer
        self._grip = (found.x - event.x_m, found.y - event.y_m)
        self._choose(found.where)
        return True

    def move(self, event: PointerEvent) -> bool:
        """Carry it."""
        if self._held is None:
            return False
        apart = math.dist(self._pressed, (event.x_px, event.y_px))
        if self._place is None and apart < STILL_PX:
            return True
        self._carry(self._held, event.x_m + self._grip[0], event.y_m + self._grip[1])
        return True

    def release(self, event: PointerEvent) -> bool:
        """Put it down; a press that went nowhere only chose it."""
        self._held = None
        self.put_down()
        return True

    def key(self, event: QKeyEvent) -> bool:
        """Move the chosen reading by a step."""
        key = event.key()
        if key not in _ARROWS or self.chosen is None or self._held is not None:
            return False
        one = self.chosen
        if one.x is None or one.y is None:
            return False
        step = FINE_M if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else STEP_M
        across, up = _ARROWS[Qt.Key(key)]
        x, y = self._place or (one.x, one.y)
        self._carry(one, x + across * step, y + up * step)
        self._rest.start()
        return True

    def _carry(self, one: Reading, x: float, y: float) -> None:
        self._place = (x, y)
        self._drawing = carried(one, x, y, self._floor())
        self._changed()

    def put_down(self) -> None:
        """Let the reading be where it was carried to."""
        self._rest.stop()
        place, one = self._place, self.chosen
        self._place = None
        if place is None or one is None:
            return
        x, y = (round(each, 3) for each in place)
        if (x, y) == (one.x, one.y):
            self.cancel()
            return
        # further arrow keys go on from here before the files have been read again
        self.chosen = one._replace(x=x, y=y)
        self._move(one, x, y)

    def read_again(self, reading: Reading | None) -> None:
        """Take the chosen reading as it now stands; what is being carried goes on."""
        if self._place is None:
            self.chosen = reading
            self.forget_overlay()

    def forget_overlay(self) -> None:
        """Draw nothing over the plan."""
        if self._drawing:
            self._drawing = ()
            self._changed()

    def cancel(self) -> None:
        """Put it back where it was."""
        self._rest.stop()
        self._held = self._place = None
        self.forget_overlay()

    def overlay(self) -> Drawing:
        """Return the reading on its way."""
        return self._drawing


def carried(one: Reading, x: float, y: float, floor: Floor | None) -> Drawing:
    """Draw a reading on its way: from where, how far, and the room that it would be in."""
    if one.x is None or one.y is None:
        return ()
    apart = math.hypot(x - one.x, y - one.y)
    room = room_at(floor, x, y) if floor is not None else None
    where = (
        tr("in no room") if room is None
        else room.id if room.name in ("", room.id) else f"{room.id} {room.name}"
    )  # fmt: skip
    line = LineString([(one.x, one.y), (x, y)])
    look = Pen(POINTER, 1.6)
    return (
        Path(line, Pen(PAPER, 4.0)), Path(line, Pen(POINTER, 1.4, (4.0, 3.0))),
        Dot(one.x, one.y, 9.0, "circle", None, look),
        Dot(x, y, 9.0, "circle", PAPER if room is None else POINTER, look),
        Label(x, y, f"{apart:.2f} m, {where}", 9.0, POINTER, bold=True, up="middle", halo=PAPER,
              offset_pt=(9.0, 9.0)),
    )  # fmt: skip
