"""The help follows the question; its keys are those of the menus; no link leads nowhere."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from PySide6.QtCore import QUrl

from hgmap.desktop.help_pane import FOLDER, TOPICS, HelpPane, keys_table, topic_text
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
