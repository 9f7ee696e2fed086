"""One release of the window's library lost references to None until the process aborted."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Signal
from PySide6.QtGui import QPaintEvent, QPixmap
from PySide6.QtWidgets import QTableView, QWidget
from pytestqt.qtbot import QtBot

from hgmap.desktop.canvas import Canvas
from hgmap.report.drawing import Dot

CALLS = 3000
SLACK = 500
"""What a test run itself may let go of; a leak of one a call is six times as much."""

Index = QModelIndex | QPersistentModelIndex


class Teller(QObject):
    told = Signal(object)


class Painted(QWidget):
    times = 0

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        self.times += 1


class Empty(QAbstractTableModel):
    asked = 0

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802
        return 3

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008, N802
        return 3

    def data(self, index: Index, role: int = 0) -> Any:
        self.asked += 1
        return None


def lost(call: Callable[[], object]) -> int:
    """How many references to None are gone after many calls."""
    call()
    before = sys.getrefcount(None)
    for _ in range(CALLS):
        call()
    return before - sys.getrefcount(None)


# where None never dies its count stands still, and there is nothing to see
pytestmark = pytest.mark.skipif(sys.version_info >= (3, 12), reason="None lives for ever")


def test_the_watch_sees_what_is_kept() -> None:
    kept: list[None] = []
    assert lost(lambda: kept.append(None)) <= -CALLS + SLACK


def test_a_slot_that_returns_none_costs_none(qtbot: QtBot) -> None:
    teller = Teller()
    heard: list[int] = []

    def slot(what: object) -> None:
        heard[:] = [*heard[-1:], 1]

    teller.told.connect(slot)
    assert abs(lost(lambda: teller.told.emit(None))) < SLACK
    assert heard


def test_an_override_that_returns_none_costs_none(qtbot: QtBot) -> None:
    widget = Painted()
    qtbot.addWidget(widget)
    widget.resize(8, 8)
    surface = QPixmap(8, 8)
    assert abs(lost(lambda: widget.render(surface))) < SLACK
    assert widget.times >= CALLS


def test_a_model_that_has_nothing_to_say_costs_none(qtbot: QtBot) -> None:
    model = Empty()
    view = QTableView()
    qtbot.addWidget(view)
    view.setModel(model)
    size = lambda: view.sizeHintForIndex(model.index(1, 1))  # noqa: E731
    assert abs(lost(size)) < SLACK
    assert model.asked >= CALLS


def test_the_canvas_painted_and_moved_costs_none(qtbot: QtBot) -> None:
    canvas = Canvas()
    qtbot.addWidget(canvas)
    canvas.resize(130, 100)
    canvas.set_drawing((Dot(1.0, 1.0, 4.0, fill="#000000"),), (0.0, 0.0, 2.0, 2.0))
    surface = QPixmap(130, 100)
    step = iter(range(10 * CALLS))

    def move() -> None:
        canvas.pan_by(1.0 if next(step) % 2 else -1.0, 0.0)
        canvas.render(surface)

    assert abs(lost(move)) < SLACK
