"""Everything that can be done, in menus, each with a shortcut: the keyboard does all of it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from hgmap.desktop.questions_column import ASKED
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

FIND_OUT: Final = "F1"


def fill_menus(window: Window) -> None:
    """Make the menus of a window."""
    bar = window.menuBar()
    files = bar.addMenu(tr("&File"))
    _add(window, files, tr("&New survey ..."), "Ctrl+N", window.files.new_site)
    _add(window, files, tr("&Open a site ..."), "Ctrl+O", window.files.ask_and_open)
    _add(window, files, tr("Open the &demo"), "Ctrl+D", window.files.open_demo)
    window.recent_menu = files.addMenu(tr("&Recent sites"))
    files.addSeparator()
    window.save_action = _add(window, files, tr("&Save"), "Ctrl+S", window.session.save)
    _add(window, files, tr("Save a copy e&lsewhere ..."), "Ctrl+Shift+S",
         window.files.save_elsewhere)  # fmt: skip
    _add(window, files, tr("&Print and export ..."), "Ctrl+P", window.print_page)
    files.addSeparator()
    _add(window, files, tr("Close the s&ite"), "Ctrl+W", window.files.close_site)
    _add(window, files, tr("&Quit"), "Ctrl+Q", window.close)

    edit = bar.addMenu(tr("&Edit"))
    undo = window.session.undo_stack.createUndoAction(window, tr("Undo"))
    undo.setShortcut(QKeySequence("Ctrl+Z"))
    redo = window.session.undo_stack.createRedoAction(window, tr("Redo"))
    redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
    edit.addActions([undo, redo])

    plan = bar.addMenu(tr("&View"))
    _add(window, plan, tr("Whole &floor"), "Ctrl+0", window.canvas.fit)
    _add(window, plan, tr("&Closer"), "Ctrl++", lambda: window.canvas.zoom_by(1.25))
    _add(window, plan, tr("&Farther"), "Ctrl+-", lambda: window.canvas.zoom_by(0.8))
    plan.addSeparator()
    plan.addActions(list(window.bar.view_actions.values()))
    plan.addSeparator()
    _add(window, plan, tr("Next floor &up"), "Ctrl+PgUp", lambda: window.step_floor(1))
    _add(window, plan, tr("Next floor &down"), "Ctrl+PgDown", lambda: window.step_floor(-1))
    plan.addSeparator()
    window.explain_action = _add(
        window, plan, tr("&Explain the spot under the cursor"), "Ctrl+E", window.toggle_explain
    )
    window.explain_action.setCheckable(True)
    window.explain_action.setChecked(True)
    _add(window, plan, tr("Explain the &chosen place"), "Ctrl+Shift+E",
         window.explain.explain_chosen)  # fmt: skip
    _add(window, plan, tr("Light or &dark"), "Ctrl+L", window.toggle_night)
    _add(window, plan, tr("Go to the &plan"), "F6", window.canvas.setFocus)
    _add(window, plan, tr("Go to the &table"), "F7", window.focus_table)
    _add(window, plan, tr("Go to the le&vel"), "F8", window.bar.focus_level)
    _add(window, plan, tr("Go to the &notice"), "F9", window.notice.go_to)
    _add(window, plan, tr("&Stop what is being worked out"), "Ctrl+.", window.session.stop_work)

    survey = bar.addMenu(tr("&Survey"))
    for number, text in enumerate(ASKED.values(), start=1):
        _add(window, survey, f"&{number}  {tr(text)}", f"Ctrl+{number}",
             partial(window.choose_question, number))  # fmt: skip
    for key, panel in window.column.panels.items():
        actions = panel.actions_of()
        if actions:
            survey.addSeparator()
            own = survey.addMenu(tr(ASKED[key]))
            own.addActions(list(actions))

    helps = bar.addMenu(tr("&Help"))
    _add(window, helps, tr("&How the work is done"), FIND_OUT, window.toggle_help)


def _add(
    window: Window, menu: QMenu, text: str, shortcut: str, act: Callable[[], object]
) -> QAction:
    action = QAction(text, window)
    action.setShortcut(QKeySequence(shortcut))
    action.triggered.connect(lambda _=False: act())
    menu.addAction(action)
    return action
