"""A hand that does anything at all: no failure that nobody foresaw, and nothing that is lost."""

from __future__ import annotations

import random
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt, QtMsgType, qInstallMessageHandler
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QDialog,
    QFileDialog,
    QLineEdit,
    QMessageBox,
    QPlainTextEdit,
    QToolButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from hgmap.desktop.window import Window
from hgmap.editing.site_files import SiteFiles, changed, site_of
from hgmap.errors import HgmapError
from tests.desktop.patience import SLOW_MS

MakeSite = Callable[..., Path]
OpenWindow = Callable[..., Window]

STEPS = 60

LEAVES = ("quit", "open", "new survey", "save", "recent", "print", "close the")
"""Words of actions that leave the survey, or write."""

TYPED = (
    "4", "<0.05", "-0", "nan", "inf", "1e400", "0,5", "=1+1", "", " ", "abc", "25 ug/m3",
    "0 ug/m3", "<b>x</b>", "a & b\n", "\u202eright", "\U0001f9ea", "x" * 3000, '"', "\t\t\t",
    "2026-03-02T09:00",
)  # fmt: skip

PASTED = (
    "\x00\x01\x02", "\t\t\t\n\t\t", "<html><b>1</b></html>", "id\tvalue\nR1\t4", "1;2;3\n4;5", '"',
    "id,floor,room,x,y,height,time,value,unit\nZ1,ground,A,1,1,1.5,2026-03-02T10:00,4,ug/m3",
)  # fmt: skip


class Hand:
    """Does one thing after another, the same for the same seed; notes what it did."""

    def __init__(self, window: Window, seed: int) -> None:
        self.window, self.any, self.did = window, random.Random(seed), [""]

    def step(self) -> None:
        """Do something."""
        self.any.choices(
            [self.act, self.drag, self.click, self.choose, self.type, self.press, self.key,
             self.undo, self.cell, self.paste],
            [5, 4, 4, 3, 3, 3, 2, 3, 3, 1],
        )[0]()  # fmt: skip
        QApplication.processEvents()

    def note(self, *words: object) -> None:
        """Say what is about to be done, for whoever has to find out why it failed."""
        self.did.append(" ".join(str(one)[:60] for one in words))

    def act(self) -> None:
        """Trigger an action."""
        found = [
            one for one in self.window.findChildren(QAction)
            if one.isEnabled() and one.text() and not one.menu()
            and not any(word in one.text().replace("&", "").casefold() for word in LEAVES)
        ]  # fmt: skip
        one = self.any.choice(found)
        self.note("action", one.text())
        one.trigger()

    def place(self) -> QPoint:
        """Return a place of the plan."""
        size = self.window.canvas.size()
        return QPoint(self.any.randrange(size.width()), self.any.randrange(size.height()))

    def click(self) -> None:
        """Click on the plan."""
        at, canvas = self.place(), self.window.canvas
        self.note("click", at.x(), at.y())
        QTest.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=at)
        if self.any.random() < 0.2:
            QTest.mouseDClick(canvas, Qt.MouseButton.LeftButton, pos=at)

    def drag(self) -> None:
        """Drag over the plan; now and then something comes between."""
        canvas, start, end = self.window.canvas, self.place(), self.place()
        self.note("drag", start.x(), start.y(), end.x(), end.y())
        QTest.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start)
        QTest.mouseMove(canvas, (start + end) / 2)
        if self.any.random() < 0.2:
            self.any.choice([self.undo, self.choose, self.key])()
        QTest.mouseMove(canvas, end)
        QTest.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=end)

    def choose(self) -> None:
        """Choose in a box."""
        one: QComboBox | None = self._one_of(QComboBox)
        if one is not None and one.count():
            at = self.any.randrange(one.count())
            self.note("choose", one.accessibleName(), one.itemText(at))
            one.setCurrentIndex(at)
            one.activated.emit(at)

    def type(self) -> None:
        """Type into a line."""
        one = self._one_of(QLineEdit) if self.any.random() < 0.9 else self._one_of(QPlainTextEdit)
        text = self.any.choice(TYPED)
        if isinstance(one, QLineEdit):
            self.note("type", one.accessibleName(), repr(text))
            one.setFocus()
            one.selectAll()
            one.insert(text)
            QTest.keyClick(one, Qt.Key.Key_Return)
        elif isinstance(one, QPlainTextEdit):
            self.note("write", one.accessibleName(), repr(text))
            one.setPlainText(text)

    def press(self) -> None:
        """Press a button."""
        one = self._one_of(QAbstractButton)
        if isinstance(one, QToolButton) and one.menu() is not None:
            return  # a menu waits for an answer
        if one is not None and not any(w in one.text().casefold() for w in ("print", "...")):
            self.note("button", one.text())
            one.click()

    def key(self) -> None:
        """Press a key on the plan."""
        keys = (Qt.Key.Key_Escape, Qt.Key.Key_Delete, Qt.Key.Key_Return, Qt.Key.Key_Left,
                Qt.Key.Key_Plus, Qt.Key.Key_Backspace, Qt.Key.Key_Tab)  # fmt: skip
        one = self.any.choice(keys)
        self.note("key", one)
        QTest.keyClick(self.window.canvas, one)

    def undo(self) -> None:
        """Go a step back, or on."""
        stack = self.window.session.undo_stack
        one = stack.undo if self.any.random() < 0.7 else stack.redo
        self.note("back or on")
        one()

    def cell(self) -> None:
        """Choose a cell of a table, or write into it."""
        one = self._one_of(QAbstractItemView)
        model = one.model() if one is not None else None
        if one is None or model is None or not model.rowCount() or not model.columnCount():
            return
        at = model.index(
            self.any.randrange(model.rowCount()), self.any.randrange(model.columnCount())
        )
        one.setCurrentIndex(at)
        if model.flags(at) & Qt.ItemFlag.ItemIsEditable:
            text = self.any.choice(TYPED)
            self.note("cell", at.row(), at.column(), repr(text))
            model.setData(at, text, Qt.ItemDataRole.EditRole)

    def paste(self) -> None:
        """Paste whatever was copied."""
        text = self.any.choice(PASTED)
        self.note("paste", repr(text))
        QApplication.clipboard().setText(text)
        panel = self.window.column.panel
        for one in panel.actions_of() if panel is not None else ():
            if "paste" in one.text().replace("&", "").casefold() and one.isEnabled():
                one.trigger()

    def _one_of(self, kind: Any) -> Any:
        found = [one for one in self.window.findChildren(kind) if _can_be_used(one)]
        return self.any.choice(found) if found else None


def _can_be_used(one: QWidget) -> bool:
    return one.isVisible() and one.isEnabled()


@pytest.fixture
def failures(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Collect what nobody foresaw; no dialog waits for an answer."""
    found: list[str] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: found.append(repr(error)))

    def heard(kind: QtMsgType, context: Any, text: str) -> None:
        of_platform = "This plugin does not support" in text  # the one that paints into memory
        if kind not in (QtMsgType.QtDebugMsg, QtMsgType.QtInfoMsg) and not of_platform:
            found.append(text)

    def no_folder(*words: Any, **more: Any) -> str:
        return ""

    def no_file(*words: Any, **more: Any) -> tuple[str, str]:
        return "", ""

    monkeypatch.setattr(QFileDialog, "getExistingDirectory", no_folder)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", no_file)
    monkeypatch.setattr(
        QMessageBox, "question", lambda *words, **more: QMessageBox.StandardButton.Cancel
    )
    old = qInstallMessageHandler(heard)
    yield found
    qInstallMessageHandler(old)


def put_dialogs_away() -> None:
    """Close what was opened beside the window."""
    for one in QApplication.topLevelWidgets():
        if isinstance(one, QDialog) and one.isVisible():
            one.reject()


def said_of(files: SiteFiles) -> str:
    """Return why there is no site in files; empty where there is one."""
    try:
        site_of(files)
    except HgmapError as error:
        return str(error)
    return ""


def wander(qtbot: QtBot, window: Window, seed: int, steps: int, failures: list[str]) -> None:
    """Do as many steps, and look after each that nothing failed and the files can be read."""
    hand, session = Hand(window, seed), window.session
    first = session.files
    with qtbot.captureExceptions() as caught:
        for _ in range(steps):
            hand.step()
            put_dialogs_away()
            story = "\n".join(hand.did[-12:])
            assert not caught, f"{caught[0]}\n{story}"
            assert not failures, f"{failures}\n{story}"
            assert "cannot be worked out" not in session.why_no_map, (
                f"{session.why_no_map}\n{story}"
            )
            assert "cannot be worked out" not in window.notice.text.text(), (
                f"{window.notice.text.text()}\n{story}"
            )
            assert session.files is not None
            assert "\n" not in said_of(session.files), story
        session.late.settle()
        while session.undo_stack.canUndo():
            session.undo_stack.undo()
        qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert not caught, f"{caught[0]}\n{story}"
    assert not failures, story
    assert first is not None
    assert session.files is not None
    assert changed(first, session.files) == ()


@pytest.mark.parametrize("seed", [1, 2])
def test_a_hand_that_does_anything_meets_no_failure_and_loses_nothing(
    seed: int, qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_plan: Any,
    failures: list[str],
) -> None:  # fmt: skip
    folder = make_site(
        plans={"ground": make_plan(), "upper": make_plan()}, extra="[map]\ncell_m = 0.5\n"
    )
    window = open_window()
    window.resize(1280, 800)
    assert window.open_site(folder, ask=False)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    threads = threading.active_count()
    wander(qtbot, window, seed, STEPS, failures)
    assert threading.active_count() <= threads + 3
