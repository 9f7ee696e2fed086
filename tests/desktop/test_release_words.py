"""Question five in the window: what it says, and the key of what lies over the plan."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from hgmap.clearance import ClearanceOptions, clear_site
from hgmap.report.drawing import Label
from hgmap.scene.two_rounds import on_top, stood_before
from tests.desktop.steps import SLOW_MS, settle
from tests.desktop.test_rulings import (
    HALF,
    MakeSite,
    OpenWindow,
    opened,
    two_round_site,
    with_cells,
)

pytestmark = pytest.mark.usefixtures("no_sheets")


def test_the_release_says_what_the_command_line_says_below_its_tables(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any,
    tmp_path: Path,
) -> None:  # fmt: skip
    rows = list(make_rows())
    rows[1] = with_cells(rows[1], qualifier=">", value="50")
    rows = [with_cells(r, qualifier="<", value="0.05") if ",B," in r else r for r in rows]
    folder = make_site(readings={"first.csv": make_table(rows)}, extra=HALF)
    window = opened(qtbot, open_window, folder)
    window.choose_question(5)
    panel: Any = window.column.panels["release"]
    qtbot.waitUntil(lambda: window.session.clearance is not None, timeout=SLOW_MS)
    run = clear_site(folder, ClearanceOptions(round="first", out=tmp_path / "cli"))
    for text in (*run.warnings, *(one.reason for one in run.levels[0].held_back)):
        assert text in panel.against.text()
    for text in (*run.levels[0].notes, *run.notes):
        assert text.split("; --rule")[0] in panel.notes.text()
    assert "--" not in panel.notes.text()
    tips = {one.key: one.tip for one in panel.rooms.rows.rows}
    assert "highest >50 µg/m³" in tips["ground/A"]
    assert "highest <0.05 µg/m³" in tips["ground/B"]
    assert "--with-map" not in tips["ground/A"] + tips["ground/B"]


def test_what_one_rule_said_is_no_answer_while_another_is_asked(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite
) -> None:
    window = opened(qtbot, open_window, make_site(extra=HALF))
    window.choose_question(5)
    panel: Any = window.column.panels["release"]
    button = window.column.buttons["release"]
    qtbot.waitUntil(lambda: window.session.clearance is not None, timeout=SLOW_MS)
    assert "open point" in button.toolTip()
    panel.rule.setCurrentIndex(1)
    panel.ask()
    assert window.session.clearance is None
    assert button.toolTip().startswith("not asked yet")
    assert panel.rooms.rows.rows == ()


def test_the_key_explains_what_lies_over_the_plan(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    folder = two_round_site(make_site, make_table, list(make_rows()))
    window = opened(qtbot, open_window, folder)
    view = window.key_view
    assert view.instead is None
    window.choose_question(5)
    qtbot.waitUntil(lambda: view.instead is not None, timeout=SLOW_MS)
    assert words_of_key(view) >= {"■ does not meet", "▲ cannot tell yet", "● meets"}
    panel: Any = window.column.panels["release"]
    panel.compare.click()
    assert "■ does not meet" not in words_of_key(view)
    qtbot.waitUntil(lambda: panel.rounds.sides is not None, timeout=SLOW_MS)
    assert "Zones, before and after" in words_of_key(view)
    panel.compare.click()
    assert "■ does not meet" in words_of_key(view)
    window.choose_question(3)
    assert view.instead is None
    settle(qtbot, window)


def words_of_key(view: Any) -> set[str]:
    """Return the words of the key that lies over the plan's own."""
    drawing = view.instead(58.0)[0] if view.instead is not None else ()
    return {one.text for one in drawing if isinstance(one, Label)}


def test_beside_each_other_each_round_has_its_own_doors(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    folder = two_round_site(make_site, make_table, list(make_rows()))
    window = opened(qtbot, open_window, folder)
    window.choose_question(5)
    panel: Any = window.column.panels["release"]
    panel.compare.click()
    qtbot.waitUntil(lambda: panel.rounds.sides is not None, timeout=SLOW_MS)
    sides = panel.rounds.sides
    assert stood_before(sides, 5.0) == frozenset()
    assert stood_before(sides, 7.0) == {"d1"}  # the door at x = 6 was sealed before
    assert on_top(sides, stood_before(sides, 5.0)) != on_top(sides, stood_before(sides, 7.0))
    assert "openings" in panel.said.text()  # nor does the building stand alike
