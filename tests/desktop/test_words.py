"""Every visible word goes through ``tr``; the catalogue for translators is up to date."""

from __future__ import annotations

import gettext
import re
import string
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QDockWidget,
    QLabel,
    QLineEdit,
    QMenu,
    QTabBar,
    QTableView,
    QTextBrowser,
    QWidget,
)

from hgmap.decide.clearance.rules import clearance_rules
from hgmap.desktop import catalogue
from hgmap.desktop.help_pane import TOPICS, topic_title
from hgmap.desktop.window import Window
from hgmap.desktop.words import PSEUDO, speak, tr, tr_count

Opener = Callable[..., Window]

NOT_WORDS = re.compile(
    r"hgmap|[^A-Za-z]*|\d+ (?:µg|ug)/m3|m²?|GeoJSON|.*\((?:Ctrl|Alt|Shift|Esc|PgUp|PgDown).*\)"
)
"""The program's name, signs, numbers with a unit; keys stand behind words that are in brackets."""


@pytest.fixture
def pseudo() -> Iterator[None]:
    speak(PSEUDO)
    yield
    speak("")


def visible_texts(top: QWidget) -> Iterator[tuple[str, str]]:
    """Go through every word that a widget and those inside it may show; data in fields is none."""
    for widget in [top, *top.findChildren(QWidget)]:
        kind = type(widget).__name__
        if any(isinstance(above, QTextBrowser) for above in ancestors(widget)):
            continue
        if of_qt(widget):
            continue
        yield kind, widget.toolTip()
        yield kind, widget.accessibleName()
        yield kind, widget.accessibleDescription()
        if isinstance(widget, QLabel | QAbstractButton):
            yield kind, widget.text()
        if isinstance(widget, QLineEdit):
            yield kind, widget.placeholderText()
        if isinstance(widget, QDockWidget):
            yield kind, widget.windowTitle()
        if isinstance(widget, QComboBox):
            yield from ((kind, widget.itemText(row)) for row in range(widget.count()))
        if isinstance(widget, QTabBar):
            yield from ((kind, widget.tabText(row)) for row in range(widget.count()))
        if isinstance(widget, QMenu):
            yield kind, widget.title()
        if isinstance(widget, QTableView):
            yield from ((kind, text) for text in header_texts(widget))
    for action in top.findChildren(QAction):
        yield "QAction", action.text()
        yield "QAction", action.toolTip()


def of_qt(widget: QWidget) -> bool:
    """Tell whether a widget is Qt's own, whose words Qt itself translates."""
    return widget.objectName().startswith("qt_") or isinstance(widget.parentWidget(), QTabBar)


def ancestors(widget: QWidget) -> Iterator[QWidget]:
    above: Any = widget
    while above is not None:
        yield above
        above = above.parentWidget()


def header_texts(table: QAbstractItemView) -> Iterator[str]:
    model = table.model()
    if model is None or (isinstance(table, QTableView) and table.horizontalHeader().isHidden()):
        return
    for column in range(model.columnCount()):
        yield str(model.headerData(column, Qt.Orientation.Horizontal) or "")


def not_in_brackets(top: QWidget) -> set[tuple[str, str]]:
    return {
        (kind, text)
        for kind, text in visible_texts(top)
        if not (text.lstrip(" &0123456789.").startswith("[") and "]" in text)
        and not NOT_WORDS.fullmatch(text)
    }


@pytest.mark.usefixtures("pseudo")
def test_every_word_of_the_whole_window_stands_in_brackets(open_window: Opener) -> None:
    window = open_window()
    window.show_survey()
    window.toggle_help()
    data = {topic_title(one) for one in TOPICS}  # whole files are translated
    data |= {one.name for one in clearance_rules()}
    assert {one for one in not_in_brackets(window) if one[1] not in data} == set()


@pytest.mark.usefixtures("pseudo")
def test_every_word_of_the_page_of_a_new_site_stands_in_brackets(open_window: Opener) -> None:
    window = open_window()
    window.show_new_site()
    assert not_in_brackets(window.pages.currentWidget()) == set()


@pytest.mark.usefixtures("pseudo")
def test_every_word_of_the_print_page_stands_in_brackets(
    open_window: Opener, tmp_path: Path
) -> None:
    (tmp_path / "1").mkdir()
    (tmp_path / "1" / "site.toml").write_text('schema_version = 1\nname = "1"\n')
    window = open_window()
    window.open_site(tmp_path / "1")
    window.print_page()
    dialog = window._dialogs[0]
    window.jobs.drop_all()
    dialog.preview.show_sheet(None, "")
    dialog.files._say("")
    data = {one.name for one in clearance_rules()}
    assert {one for one in not_in_brackets(dialog) if one[1] not in data} == set()


@pytest.mark.usefixtures("pseudo")
def test_every_word_of_the_page_on_which_a_drawing_is_brought_in_stands_in_brackets(
    open_window: Opener, tmp_path: Path
) -> None:
    (tmp_path / "1").mkdir()
    (tmp_path / "1" / "site.toml").write_text('schema_version = 1\nname = "1"\n')
    window = open_window()
    window.open_site(tmp_path / "1")
    window.plan_pages.open("drawing", tmp_path / "1.geojson")
    dialog: Any = window.plan_pages.page
    window.jobs.drop_all()
    dialog.questions.more.setChecked(True)
    assert not_in_brackets(dialog) == set()


@pytest.mark.usefixtures("pseudo")
@pytest.mark.parametrize("what", ["rooms", "walls"])
def test_every_word_of_the_pages_about_a_plan_stands_in_brackets(
    open_window: Opener, tmp_path: Path, what: str
) -> None:
    (tmp_path / "1").mkdir()
    (tmp_path / "1" / "site.toml").write_text('schema_version = 1\nname = "1"\n')
    window = open_window()
    window.open_site(tmp_path / "1")
    window.plan_pages.open(what)
    window.jobs.drop_all()
    page = window.plan_pages.page
    assert page is not None
    page.say("")
    assert not_in_brackets(page) == set()


def test_a_word_that_was_forgotten_is_found(open_window: Opener) -> None:
    """The walk over the window sees what it is to see: in English nothing stands in brackets."""
    found = {text for _, text in not_in_brackets(open_window())}
    assert {"&File", "Readings", "Is the plan sound?"} <= found


@pytest.mark.usefixtures("pseudo")
@given(st.text(string.ascii_letters + " ", max_size=20), st.integers(0, 10**6))
def test_braces_survive_the_pseudo_language(text: str, number: int) -> None:
    said = tr(text + " {value} {why}", value=number, why="because")
    assert str(number) in said
    assert "because" in said
    assert said.startswith("[")
    assert said.endswith("]")


def test_one_and_several_are_told_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert tr_count("{n} point", "{n} points", 1) == "1 point"
    assert tr_count("{n} point", "{n} points", 2) == "2 points"

    class Three(gettext.NullTranslations):
        """A language with a form of its own for two."""

        def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
            return {1: "{n} uno", 2: "{n} duo"}.get(n, "{n} multi")

    monkeypatch.setattr("hgmap.desktop.words._SPEAKER.translations", Three())
    assert [tr_count("{n} point", "{n} points", n) for n in (1, 2, 5)] == [
        "1 uno", "2 duo", "5 multi",
    ]  # fmt: skip


@pytest.mark.usefixtures("pseudo")
def test_the_pseudo_language_has_a_plural() -> None:
    assert tr_count("{n} point", "{n} points", 1) != tr_count("{n} point", "{n} points", 2)


def test_the_catalogue_is_up_to_date() -> None:
    assert catalogue.POT.read_text("utf-8") == catalogue.pot_text(), (
        "python -c 'from hgmap.desktop.catalogue import write_pot; write_pot()'"
    )


def test_the_catalogue_knows_every_message() -> None:
    found = catalogue.messages()
    assert ("Is the plan sound?", "") in found
    assert ("{n} open point", "{n} open points") in found
    assert catalogue.unknown_calls() == []


def test_a_language_that_nobody_translated_is_english() -> None:
    speak("xx_YY")
    assert tr("Save") == "Save"
    speak("")
