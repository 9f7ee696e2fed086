"""Whatever the Tab key stops at has a name that can be spoken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QComboBox,
    QFrame,
    QHeaderView,
    QScrollBar,
    QTabBar,
    QWidget,
)

from hgmap.desktop.beginning.asked import AskedRow
from hgmap.desktop.panels.ask_row import AskRow
from hgmap.desktop.window import Window

Opener = Callable[..., Window]


def nameless(top: QWidget) -> list[str]:
    """Return what may get the focus by Tab and says nothing; what Qt puts inside is left out."""
    found = []
    for one in [top, *top.findChildren(QWidget)]:
        inside = one.parentWidget()
        if isinstance(one, QHeaderView | QScrollBar | QTabBar) or isinstance(inside, QTabBar):
            continue
        if isinstance(inside, QComboBox | QAbstractScrollArea) or (
            type(inside) is QFrame and isinstance(inside.parentWidget(), QComboBox)
        ):
            continue
        if one.objectName().startswith("qt_") or not one.focusPolicy() & Qt.FocusPolicy.TabFocus:
            continue
        text = one.text() if isinstance(one, QAbstractButton) else ""
        asked_later = one is not top and not_shown(one, top)
        if not (one.accessibleName() or text or asked_later):
            found.append(f"{type(one).__name__} in {type(inside).__name__}")
    return found


def not_shown(one: QWidget, top: QWidget) -> bool:
    """Tell whether a question holds this and is hidden: its words come when it is asked."""
    above: QWidget | None = one.parentWidget()
    while above is not None and above is not top:
        if isinstance(above, AskRow | AskedRow):
            return above.isHidden() or (isinstance(above, AskRow) and not above.asking)
        above = above.parentWidget()
    return False


def test_every_stop_of_the_window_has_a_name(open_window: Opener) -> None:
    window = open_window()
    window.show_survey()
    window.toggle_help()
    assert nameless(window) == []


def test_every_stop_of_the_page_of_a_new_site_has_a_name(open_window: Opener) -> None:
    window = open_window()
    window.show_new_site()
    assert nameless(window.pages.currentWidget()) == []


def test_every_stop_of_the_print_page_has_a_name(open_window: Opener, tmp_path: Path) -> None:
    (tmp_path / "1").mkdir()
    (tmp_path / "1" / "site.toml").write_text('schema_version = 1\nname = "1"\n')
    window = open_window()
    window.open_site(tmp_path / "1")
    window.print_page()
    window.jobs.drop_all()
    assert nameless(window._dialogs[0]) == []
