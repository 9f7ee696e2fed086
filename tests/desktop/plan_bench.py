"""An open site of one floor, to whose plan something is brought."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication

from hgmap.desktop.bring_in.look_page import LookPage
from hgmap.desktop.window import Window
from hgmap.site.building import Floor
from tests.desktop.patience import SLOW_MS

SITE = """\
schema_version = 1
name = "A shed (invented)"
analyte = "elemental mercury vapour"
medium = "air"
invented = true

[[floors]]
name = "ground"
plan = "plans/ground.geojson"
"""


class PlanBench:
    """The window, and what a person does with a page that lies over it."""

    def __init__(self, window: Window, qtbot: Any, folder: Path, plan: str) -> None:
        self.window, self.qtbot, self.folder = window, qtbot, folder
        site = folder / "shed"
        (site / "plans").mkdir(parents=True)
        (site / "site.toml").write_text(SITE, "utf-8")
        (site / "plans" / "ground.geojson").write_text(plan, "utf-8")
        assert window.open_site(site, ask=False)
        self.settle()

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.window.jobs.busy, timeout=SLOW_MS)

    def open(self, what: str, file: Path | None = None) -> None:
        self.window.plan_pages.open(what, file)
        self.settle()

    @property
    def look_page(self) -> LookPage:
        page = self.window.plan_pages.page
        assert page is not None
        return page

    def take(self) -> None:
        self.look_page.yes.click()
        self.settle()

    def floors(self) -> tuple[Floor, ...]:
        site = self.window.session.site
        assert site is not None
        return tuple(site.floors)

    def drop(self, path: Path) -> bool:
        """Drop a file on the plan; tell whether it was taken."""
        data = QMimeData()
        data.setUrls([QUrl.fromLocalFile(str(path))])
        about = (Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
                 Qt.KeyboardModifier.NoModifier)  # fmt: skip
        enters = QDragEnterEvent(QPoint(5, 5), *about)
        enters.ignore()
        QApplication.sendEvent(self.window.canvas, enters)
        QApplication.sendEvent(self.window.canvas, QDropEvent(QPointF(5, 5), *about))
        return enters.isAccepted()
