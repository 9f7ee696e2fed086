"""No screen is needed: Qt paints into memory. Nothing is written to the person's own places."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True)
def nothing_stays() -> Iterator[None]:
    """Take every window away after its test: those that stay are dressed anew with each look."""
    yield
    from PySide6.QtCore import QCoreApplication, QEvent
    from PySide6.QtWidgets import QApplication

    from hgmap.desktop.window import Window

    if not isinstance(QApplication.instance(), QApplication):
        return
    for widget in QApplication.topLevelWidgets():
        if isinstance(widget, Window):
            widget.close_for_good()
        widget.close()
        widget.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


@pytest.fixture
def open_window(qtbot: Any, tmp_path: Path) -> Iterator[Callable[..., Window]]:
    """Make windows whose recovery, demo and settings lie in a folder of the test."""
    from hgmap.desktop.window import Window

    made: list[Window] = []

    def open_one(*, remembering: bool = False) -> Window:
        window = Window(remembering=remembering, home=tmp_path / "home")
        made.append(window)
        window.show()
        return window

    yield open_one
    for window in made:
        window.close_for_good()
        window.deleteLater()
