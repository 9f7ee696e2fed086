"""What a file says is shown as it is written, whatever Qt would make of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import Qt as GuiQt
from PySide6.QtGui import QTextDocument
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.window import Window
from tests.desktop.patience import SLOW_MS


@pytest.mark.parametrize(
    "text",
    [
        "<b>Lab</b> 1",
        "Hall <a> & <i>",
        "&lt;b>",
        "<img src='x'>\nsecond line",
        "a < 0.05",
        "Room A",
    ],
)
def test_a_tip_shows_every_sign_of_a_name(text: str, qtbot: QtBot) -> None:
    tip = plain_tip(text)
    page = QTextDocument()
    if GuiQt.mightBeRichText(tip):
        page.setHtml(tip)
    else:
        page.setPlainText(tip)
    assert page.toPlainText().split("\n") == text.split("\n")


def test_the_answers_and_tips_of_the_window_are_plain(
    qtbot: QtBot, open_window: Callable[..., Window], make_site: Callable[..., Path]
) -> None:
    folder = make_site(extra="[map]\ncell_m = 0.5\n")
    toml = (folder / "site.toml").read_text()
    (folder / "site.toml").write_text(toml.replace("[[rounds]]", '[[rounds]]\ntitle = "<b>x</b>"'))
    window = open_window()
    assert window.open_site(folder, ask=False)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert "&lt;b&gt;x&lt;/b&gt;" in window.bar.round.toolTip()
    panel: Any
    for panel in window.column.panels.values():
        answer: QLabel = panel.answer
        assert answer.textFormat() == Qt.TextFormat.PlainText
