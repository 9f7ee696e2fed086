"""The help follows the question; its keys are those of the menus; no link leads nowhere."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from PySide6.QtCore import QUrl
from PySide6.QtWidgets import QApplication, QLabel, QStyle, QStyleOptionComboBox

from hgmap.desktop.help_pane import (
    FOLDER,
    TOPICS,
    HelpPane,
    keys_table,
    topic_text,
    topic_title,
)
from hgmap.desktop.questions_column import ASKED
from hgmap.desktop.window import Window

Opener = Callable[..., Window]


def pane_of(window: Window) -> HelpPane:
    window.toggle_help()
    pane = window._help
    assert isinstance(pane, HelpPane)
    return pane


@pytest.mark.parametrize("topic", TOPICS)
def test_a_topic_is_short_and_its_links_lead_to_topics(topic: str) -> None:
    text = topic_text(topic)
    assert text.startswith("# ")
    assert len(text.splitlines()) <= 60
    for link in re.findall(r"\]\(([^)]*)\)", text):
        assert link.removesuffix(".md") in TOPICS, link


def test_every_topic_is_reached_from_the_first_and_none_is_left_over() -> None:
    reached, new = {"start"}, ["start"]
    while new:
        for link in re.findall(r"\]\(([^)]*)\.md\)", topic_text(new.pop())):
            if link not in reached:
                reached.add(link)
                new.append(link)
    assert reached == set(TOPICS)
    assert {one.stem for one in FOLDER.glob("*.md")} == set(TOPICS)
    assert set(ASKED) <= set(TOPICS)


def test_the_help_follows_the_chosen_question_and_goes_back(open_window: Opener) -> None:
    window = open_window()
    pane = pane_of(window)
    window.column.choose("readings")
    assert pane.topic == "readings"
    pane._follow(QUrl("limits.md"))
    assert pane.topic == "limits"
    assert "not zero" in pane.page.toPlainText()
    pane.go_back()
    assert pane.topic == "readings"
    pane.show_topic("nonsense")
    assert pane.topic == "start"


def test_the_table_of_keys_is_that_of_the_menus(open_window: Opener) -> None:
    window = open_window()
    before = keys_table(window)
    assert "Ctrl+S" in before
    window.save_action.setShortcut("F12")
    after = keys_table(window)
    assert "F12" in after
    assert "Ctrl+S" not in after.replace("Ctrl+Shift", "")
    pane = pane_of(window)
    pane.show_topic("keys")
    assert "F12" in pane.page.toPlainText()


def test_no_two_actions_have_the_same_key(open_window: Opener) -> None:
    table = keys_table(open_window())
    keys = [one for cell in re.findall(r"</td><td>(.*?)</td>", table) for one in cell.split(", ")]
    assert len(keys) > 20
    assert len(keys) == len(set(keys)), sorted(one for one in keys if keys.count(one) > 1)


def test_every_title_is_read_whole_where_the_topic_is_chosen(open_window: Opener) -> None:
    window = open_window()
    window.show_survey()
    pane = pane_of(window)
    QApplication.processEvents()
    option = QStyleOptionComboBox()
    pane.topics.initStyleOption(option)
    style = pane.topics.style()
    room = style.subControlRect(
        QStyle.ComplexControl.CC_ComboBox, option, QStyle.SubControl.SC_ComboBoxEditField,
        pane.topics,
    ).width()  # fmt: skip
    for topic in TOPICS:
        assert pane.topics.fontMetrics().horizontalAdvance(topic_title(topic)) <= room, topic


def test_the_first_page_is_as_tall_as_its_words(open_window: Opener) -> None:
    window = open_window()
    window.show_start()
    QApplication.processEvents()
    labels = [one for one in window.start_page.findChildren(QLabel) if one.isVisible()]
    assert len(labels) >= 3
    for label in labels:
        needed = label.heightForWidth(label.width()) if label.wordWrap() else 0
        assert label.height() >= max(needed, label.fontMetrics().height()), label.text()
