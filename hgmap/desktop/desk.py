"""What every part of the window works with: the survey, the plan, and ways to point and speak."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QMainWindow
from shapely.geometry.base import BaseGeometry

from hgmap.desktop.drawing_board import DrawingBoard
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.canvas import Canvas
    from hgmap.desktop.session import Session
    from hgmap.desktop.work import Jobs

POINTER = "pointer"


class Told(QObject):
    """Carries what one part of the window tells the others."""

    reading_chosen = Signal(str)
    """Where a reading stands (file and row)."""
    room_chosen = Signal(str)
    question_wanted = Signal(str)
    page_wanted = Signal(str)
    """A page about the plan: ``"drawing"``, ``"rooms"`` or ``"walls"``; see ``plan_pages.py``."""
    mended = Signal(str)
    """A trouble that was said and holds no more."""
    key_wanted = Signal(object)
    """What makes the key of something that lies over the plan; None: the plan's own."""


@dataclass
class Desk:
    """The survey, the plan it is drawn on, and the work beside the window."""

    window: QMainWindow
    session: Session
    canvas: Canvas
    jobs: Jobs
    told: Told
    pointed: tuple[float, float] | None = None
    """The place (m) that a table points at; None where none does."""
    _said_far_off: bool = False

    def __post_init__(self) -> None:
        """Lay the plan of the chosen floor on the drawing board."""
        self.board = DrawingBoard(self.session)

    def point_at(self, shape: BaseGeometry | None, floor: str = "") -> None:
        """Show a place of the plan (m) with a sign; None takes the sign away.

        ``floor`` is chosen first where it is another than the one on the screen. A place on a
        floor that the site does not have is nowhere; one far off every plan is only said.
        """
        if self._said_far_off:
            self._said_far_off = False
            self.say("")
        site = self.session.site
        if floor and site is not None and site.floor(floor) is None:
            # one whose plan cannot be read is there all the same
            shape = shape if floor in site.floors_without_a_plan else None
        if shape is None or shape.is_empty:
            self.pointed = None
            self.canvas.set_overlay(POINTER, ())
            return
        from hgmap.scene.highlight import shape_sign

        if floor and floor != self.session.choices.floor:
            self.session.choose(floor=floor)
        self.canvas.set_overlay(POINTER, shape_sign(shape))
        place = shape.representative_point()
        self.pointed = (float(place.x), float(place.y))
        if self._far_off(*self.pointed):  # nothing could be seen there, and the plan were gone
            self._said_far_off = True
            self.say(tr("That place, ({x:.1f}, {y:.1f}) m, lies far off the plan.",
                        x=place.x, y=place.y))  # fmt: skip
        else:
            self.canvas.show_place(*self.pointed)

    def _far_off(self, x: float, y: float) -> bool:
        """Tell whether a place (m) is farther from the chosen floor than the floor is long."""
        floor = self.session.floor
        if floor is None or not floor.rooms:
            return False
        from hgmap.report.extent import extent

        west, south, east, north = extent(floor)
        long = max(east - west, north - south)
        return not (west - long <= x <= east + long and south - long <= y <= north + long)

    def say(self, text: str) -> None:
        """Say something in the line at the foot of the window."""
        self.session.said.emit(text)
