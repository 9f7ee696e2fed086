"""The pages about a plan that lie over the window, and files that are dropped on the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from hgmap.desktop.dropped import Dropped
from hgmap.desktop.panels.plan_panel import PlanPanel
from hgmap.site.importers.readers import TABLES, drawing_endings
from hgmap.site.pictures.pages import PICTURES

if TYPE_CHECKING:
    from hgmap.desktop.bring_in.look_page import LookPage
    from hgmap.desktop.window import Window


class PlanPages(QObject):
    """Opens them; one is open at a time."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window = window
        self.page: LookPage | None = None
        window.told.page_wanted.connect(self.open)
        Dropped(window.canvas, self._endings, self._dropped)

    def open(self, what: str, file: Path | None = None) -> None:
        """Open a page: ``"drawing"``, ``"rooms"`` or ``"walls"``."""
        window = self.window
        if window.session.files is None:
            return
        window.choose_question(1)
        window.session.late.settle()
        self.page = self._made(what, file)
        self.page.open()

    def _made(self, what: str, file: Path | None) -> LookPage:
        desk = self.window.desk
        if what == "rooms":
            from hgmap.desktop.bring_in.rooms_dialog import RoomsOfWallsDialog

            return RoomsOfWallsDialog(desk)
        if what == "walls":
            from hgmap.desktop.bring_in.walls_dialog import WallsDialog

            return WallsDialog(desk, self.window.plan_view.underlay)
        from hgmap.desktop.bring_in.dialog import BringInDialog

        return BringInDialog(desk, file)

    # -- files that are dropped on the plan

    def _endings(self) -> tuple[str, ...]:
        """Return the endings of what is taken where it is dropped: tables may be readings."""
        if self.window.session.files is None:
            return ()
        asked_of_plan = self.window.column.key == "plan"
        drawings = drawing_endings()
        return (*(one for one in drawings if asked_of_plan or one not in TABLES), *PICTURES)

    def _dropped(self, file: Path) -> None:
        """Look at a drawing; lay a picture under the plan."""
        panel = self.window.column.panels["plan"]
        if file.suffix.casefold() not in PICTURES or not isinstance(panel, PlanPanel):
            self.open("drawing", file)
            return
        self.window.choose_question(1)
        panel.show_page(2)
        panel.floor_page.picture.take_picture(file)
