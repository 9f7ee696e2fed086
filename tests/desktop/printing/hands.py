"""What the tests of printing do with the page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.window import Window
from tests.desktop.patience import SLOW_MS


def calm(window: Window, qtbot: Any) -> None:
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)


def choose(dialog: PrintDialog, kind: str, window: Window, qtbot: Any) -> None:
    dialog.kind.setCurrentIndex(dialog.kind.findData(kind))
    calm(window, qtbot)


def write(dialog: PrintDialog, window: Window, qtbot: Any, out: Path) -> None:
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(out))
    dialog.files.write.click()
    calm(window, qtbot)
