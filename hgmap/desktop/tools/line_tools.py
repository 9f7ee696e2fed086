"""Tools of a line: walls, openings, a cut through a room, and two points with a known length."""

from __future__ import annotations

from typing import ClassVar

from hgmap.desktop.tools import sketch
from hgmap.desktop.tools.places_tool import PlacesTool
from hgmap.desktop.words import tr
from hgmap.report.drawing import Drawing


class DrawWall(PlacesTool):
    """A wall of as many pieces as are wanted."""

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr("Click along the wall, or type lengths; Enter ends it; Esc gives up.")


class SplitRoom(PlacesTool):
    """A line of two clicks across a room."""

    most: int | None = 2

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr("Click twice: a line across the room; it is drawn on to the walls by itself.")


class PutOpening(PlacesTool):
    """A door of the usual width at a click, or two clicks along a wall."""

    most: int | None = 1

    @property
    def one_click(self) -> bool:
        """Whether a click puts the usual door; else both jambs are clicked."""
        return self.most == 1

    @one_click.setter
    def one_click(self, on: bool) -> None:
        self.most = 1 if on else 2
        self.cancel()

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        if self.one_click:
            return tr("Click on a wall: a door is put there; or type x and y and Enter.")
        return tr("Click both jambs of the opening, on the wall; or type a length and an arrow.")


class SetScale(PlacesTool):
    """Two points of the plan that lie a known length apart."""

    most: int | None = 2
    waits: ClassVar[bool] = True

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr("Click on two corners whose distance you measured in the building.")


class ScalePicture(PlacesTool):
    """Two points of the image under the plan that lie a known length apart."""

    most: int | None = 2
    waits: ClassVar[bool] = True
    snaps: ClassVar[bool] = False

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr("Click on two points of the picture whose distance is known, far apart.")


class PlacePoints(PlacesTool):
    """Points of the image under the plan whose places are known: two, or more to check them."""

    most: int | None = 8
    waits: ClassVar[bool] = True
    snaps: ClassVar[bool] = False

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        return tr("Click on points of the picture whose x and y you know, far apart; a third one "
                  "checks the others; Enter ends.")  # fmt: skip

    def _draw(self) -> Drawing:
        """Draw the points with their numbers, by which their places are asked for."""
        snap = None if self.waiting else self._snap()
        return (*sketch.numbered(self.places), *(sketch.aim(snap) if snap is not None else ()))
