"""Questions 3, 4 and 5 in the window: what is shown, what is refused, what never reaches a file."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from hgmap.batch import map_site
from hgmap.clearance import ClearanceOptions, clear_site
from hgmap.compare import compare_site
from hgmap.desktop.panels.map_panel import MapPanel
from hgmap.desktop.panels.next_panel import NextPanel
from hgmap.desktop.panels.release_panel import ReleasePanel
from hgmap.desktop.panels.release_words import change_word
from hgmap.desktop.window import Window
from hgmap.floor_map import MapOptions
from hgmap.questions.gather import Known, Question, questions
from hgmap.site.cautions import LICENSED, SCREENING
from hgmap.what_if import IMAGINARY
from tests.desktop.pointer import move
from tests.desktop.steps import SLOW_MS, settle

MakeSite = Callable[..., Path]


@pytest.fixture
def site(make_site: MakeSite, make_table: Any, make_rows: Any) -> Path:
    rows = list(make_rows())
    later = []
    for row in rows:
        cells = row.split(",")
        cells[7] = f"{float(cells[7]) / 20:.4g}"
        later.append(",".join(cells))
    return make_site(
        readings={"first.csv": make_table(rows), "second.csv": make_table(later)},
        extra="[map]\ncell_m = 0.5\n",
    )


@pytest.fixture
def window(qtbot: QtBot, site: Path) -> Iterator[Window]:
    made = Window(remembering=False)
    made.resize(1280, 800)
    made.show()
    made.open_site(site, ask=False)
    made.session.choose(round="first")
    settle(qtbot, made)
    yield made
    made.close_for_good()


def map_panel(window: Window) -> MapPanel:
    window.choose_question(3)
    panel = window.column.panels["map"]
    assert isinstance(panel, MapPanel)
    return panel


def next_panel(window: Window) -> NextPanel:
    window.choose_question(4)
    panel = window.column.panels["next"]
    assert isinstance(panel, NextPanel)
    return panel


def release_panel(window: Window) -> ReleasePanel:
    window.choose_question(5)
    panel = window.column.panels["release"]
    assert isinstance(panel, ReleasePanel)
    return panel


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(one): one.read_bytes() for one in sorted(folder.rglob("*")) if one.is_file()}


def overlays(window: Window) -> set[str]:
    return set(window.canvas._overlays)


def test_areas_are_those_of_the_map_and_the_cautions_always_stand(window: Window) -> None:
    panel = map_panel(window)
    mapped = window.session.mapped
    assert mapped is not None
    shares = [int(one.cells[2].removesuffix(" %")) for one in panel.areas.rows.rows]
    assert abs(sum(shares) - 100) <= 2
    assert [one.key for one in panel.areas.rows.rows] == [
        "remediate", "resample", "clear", "no data"
    ]  # fmt: skip
    assert all(one.sign is not None for one in panel.areas.rows.rows)
    assert SCREENING in panel.cautions.text()


def test_while_a_map_is_made_the_old_one_is_never_told_as_current(
    qtbot: QtBot, window: Window
) -> None:
    panel = map_panel(window)
    qtbot.waitUntil(lambda: not panel.mark.isVisible(), timeout=SLOW_MS)
    window.session.choose(level="1 ug/m3")
    assert window.session.behind
    assert panel.mark.isVisible()
    assert "before the last change" in panel.mark.text()
    assert panel.behind.isVisible()
    assert not panel.areas.isVisible()
    assert not panel.answer.isVisible()
    window.jobs.drop_all()  # Stop: it stays marked until there is a map
    assert panel.mark.isVisible()
    panel.again_action.trigger()
    settle(qtbot, window)
    assert panel.areas.isVisible()
    qtbot.waitUntil(lambda: not panel.mark.isVisible(), timeout=SLOW_MS)


@pytest.mark.parametrize(
    ("key", "typed", "why"),
    [
        ("remediate_at", "90", "at most 0.8"),
        ("clear_at", "30", "cannot be used"),
        ("clear_at", "0", "above 0"),
        ("remediate_at", "2", "not below"),
        ("clear_at", "some", "no number"),
    ],
)
def test_a_chance_beyond_the_limits_is_refused_in_a_sentence(
    qtbot: QtBot, window: Window, key: str, typed: str, why: str
) -> None:
    panel = map_panel(window)
    before = window.session.choices
    QTest.keyClicks(panel.chances[key], typed)
    QTest.keyClick(panel.chances[key], Qt.Key.Key_Return)
    assert why in panel.refused.text()
    assert panel.refused.isVisible()
    assert window.session.choices == before
    assert not window.session.unsaved


def test_choices_become_the_sites_own_in_one_step_that_can_be_undone(
    qtbot: QtBot, window: Window, site: Path
) -> None:
    panel, session = map_panel(window), window.session
    assert not panel.own.isEnabled()
    QTest.keyClicks(panel.chances["clear_at"], "2")
    QTest.keyClick(panel.chances["clear_at"], Qt.Key.Key_Return)
    assert session.choices.clear_at == pytest.approx(0.02)
    session.choose(method="idw", zones="whole rooms", level="1 ug/m3")
    panel.own_action.trigger()
    assert session.undo_stack.count() == 1, window.notice.text.text()
    settle(qtbot, window)
    assert session.choices.clear_at is None
    assert session.site is not None
    settings = session.site.settings
    assert (settings.clear_at, settings.method, settings.zones) == (0.02, "idw", "whole rooms")
    assert session.choices.level == "1 ug/m3"  # a bare number is never a site's own
    assert "stays a choice" in panel.refused.text()
    assert session.save()
    assert "whole rooms" in (site / "site.toml").read_text("utf-8")
    session.undo_stack.undo()
    settle(qtbot, window)
    assert session.site.settings.method == "kriging"


def test_imaginary_readings_reach_no_file_no_count_and_no_sheet(
    qtbot: QtBot, window: Window, site: Path, tmp_path: Path
) -> None:
    panel, before = next_panel(window), files_of(site)
    mapped = window.session.mapped
    counts = [one.count.text() for one in window.column.buttons.values()]
    assert mapped is not None
    panel.places.selectRow(0)
    QTest.keyClicks(panel.value, "40")
    QTest.keyClick(panel.value, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: panel.what_if.found is not None, timeout=SLOW_MS)
    assert panel.bold.text() == IMAGINARY
    assert panel.bold.isVisible()
    assert "what if" in overlays(window)
    found = panel.what_if.found
    assert found is not None
    assert found.after != found.before
    assert window.session.mapped is mapped
    assert not window.session.unsaved
    assert [one.count.text() for one in window.column.buttons.values()] == counts
    panel.write_sheet(tmp_path / "sheet")
    qtbot.waitUntil(lambda: (tmp_path / "sheet/resample-sheet.csv").exists(), timeout=SLOW_MS)
    assert b"imaginary" not in (tmp_path / "sheet/resample-sheet.csv").read_bytes()
    assert files_of(site) == before
    panel.away.click()
    assert panel.what_if.imaginary == ()
    assert "what if" not in overlays(window)
    assert not panel.bold.isVisible()
    assert window.session.mapped is mapped


def test_leaving_the_question_takes_imaginary_readings_away(qtbot: QtBot, window: Window) -> None:
    panel = next_panel(window)
    panel.value.setText("<0.05")
    panel.click.setChecked(True)
    place = window.canvas.to_widget(9.0, 3.0)
    QTest.mouseClick(
        window.canvas, Qt.MouseButton.LeftButton, pos=QPoint(round(place.x()), round(place.y()))
    )
    (one,) = panel.what_if.imaginary
    assert (one.x, one.y) == pytest.approx((9.0, 3.0), abs=0.1)
    window.choose_question(3)
    assert panel.what_if.imaginary == ()
    assert "what if" not in overlays(window)
    assert window.canvas.tool is None


def test_a_value_that_cannot_be_read_is_said_and_nothing_is_imagined(window: Window) -> None:
    panel = next_panel(window)
    panel.places.selectRow(0)
    panel.value.setText("a lot")
    panel.imagine_here()
    assert "a lot" in window.notice.text.text()
    assert panel.what_if.imaginary == ()


def test_the_field_sheet_is_the_one_that_hgmap_map_writes(
    qtbot: QtBot, window: Window, site: Path, tmp_path: Path
) -> None:
    panel = next_panel(window)
    panel.write_sheet(tmp_path / "mine")
    qtbot.waitUntil(lambda: (tmp_path / "mine/resample-sheet.csv").exists(), timeout=SLOW_MS)
    map_site(site, MapOptions(round="first", out=tmp_path / "cli"))
    mine = (tmp_path / "mine/resample-sheet.csv").read_bytes()
    assert mine == (tmp_path / "cli/resample-sheet.csv").read_bytes()
    ids = [row["id"] for row in csv.DictReader(mine.decode("utf-8-sig").splitlines())]
    assert len(panel.places.rows.rows) == len({one.split("-")[2][:2] for one in ids})
    settle(qtbot, window)
    panel.write_sheet(tmp_path / "mine")
    qtbot.waitUntil(lambda: "already there" in window.notice.text.text(), timeout=SLOW_MS)
    assert (tmp_path / "mine/resample-sheet.csv").read_bytes() == mine


def test_the_rooms_are_ruled_on_as_hgmap_clearance_does(
    qtbot: QtBot, window: Window, site: Path, tmp_path: Path
) -> None:
    panel = release_panel(window)
    qtbot.waitUntil(lambda: window.session.clearance is not None, timeout=SLOW_MS)
    clear_site(site, ClearanceOptions(round="first", out=tmp_path / "cli"))
    summary = json.loads((tmp_path / "cli/clearance.json").read_bytes())
    rank = ["does not meet", "cannot tell yet", "meets"]
    (level,) = summary["levels"]
    expected = {}
    for floor in level["floors"]:
        for room in floor["rooms"]:
            outcomes = [one["outcome"] for one in room["outcomes"]]
            if level["holds_for_every_room"] or room["held_back"]:
                outcomes.append("cannot tell yet")
            expected[f"{floor['floor']}/{room['room']}"] = min(outcomes, key=rank.index)
    assert {one.key: one.cells[2] for one in panel.rooms.rows.rows} == expected
    assert panel.licensed.text() == LICENSED
    assert "release" in overlays(window)
    panel.rooms.selectRow(0)
    assert panel.about.text()
    window.choose_question(3)
    assert "release" not in overlays(window)


def test_two_rounds_are_compared_as_hgmap_compare_does(
    qtbot: QtBot, window: Window, site: Path, tmp_path: Path
) -> None:
    panel, before = release_panel(window), files_of(site)
    panel.compare.click()
    qtbot.waitUntil(lambda: panel.rounds.change is not None, timeout=SLOW_MS)
    assert files_of(site) == before
    run = compare_site(site, "first", "second", MapOptions(out=tmp_path / "cli"))
    change = panel.rounds.change
    assert change is not None
    for mine, theirs in zip(change.rooms, run.floors[0].rooms, strict=True):
        assert (mine.word, mine.ratio, mine.low) == (theirs.word, theirs.ratio, theirs.low)
    assert [one.cells[1] for one in panel.change_rooms.rows.rows] == [
        change_word(one) for one in change.rooms
    ]
    line = panel.rounds.line
    assert line is not None
    start = line.x
    window.canvas.setFocus()
    QTest.keyClick(window.canvas, Qt.Key.Key_Left)
    assert line.x < start
    held = window.canvas.to_widget(line.x, 2.5)
    at = QPoint(round(held.x()), round(held.y()))
    QTest.mousePress(window.canvas, Qt.MouseButton.LeftButton, pos=at)
    move(window.canvas, at + QPoint(60, 0), Qt.MouseButton.LeftButton)
    QTest.mouseRelease(window.canvas, Qt.MouseButton.LeftButton, pos=at + QPoint(60, 0))
    assert line.x > start
    panel.compare.click()
    assert not any(one.startswith("rounds") for one in overlays(window))
    assert window.canvas.tool is None


def test_the_chosen_place_is_explained_without_a_mouse(qtbot: QtBot, window: Window) -> None:
    panel = next_panel(window)
    window.explain.explain_chosen()
    assert "Choose a row" in window.said.text()
    panel.places.selectRow(0)
    row = panel.places.chosen()
    assert row is not None
    window.explain.explain_chosen()
    qtbot.waitUntil(lambda: "of way" in window.explain.text.text(), timeout=SLOW_MS)
    assert row.place is not None
    x, y = row.place.coords[0]
    assert f"{x:.2f}, {y:.2f} m" in window.explain.text.text()
    assert math.isfinite(x)


def test_what_was_ruled_on_the_rooms_outlives_a_change_of_floor_and_no_other_choice(
    qtbot: QtBot,
) -> None:
    window = Window(remembering=False)
    window.show()
    window.open_site(Path(__file__).parents[2] / "demo_site", ask=False)
    settle(qtbot, window)
    session, first = window.session, window.session.choices.floor
    assert session.site is not None
    assert f"not of every floor: {session.site.floors[1].title}" in question(window, "map").answer
    panel = release_panel(window)
    qtbot.waitUntil(lambda: session.clearance is not None, timeout=SLOW_MS)
    run, rows = session.clearance, panel.rooms.rows.rows
    elsewhere = next(k for k, one in enumerate(rows) if one.floor != first)
    panel.rooms.selectRow(elsewhere)
    assert session.choices.floor == rows[elsewhere].floor
    assert panel.rooms.rows.rows == rows
    settle(qtbot, window)
    assert session.clearance is run
    assert panel.rooms.chosen() == rows[elsewhere]
    assert set(session.maps) == {first, rows[elsewhere].floor}
    listed = next_panel(window).places.rows.rows
    assert len(listed) == question(window, "next").open_points
    assert any(one.floor == first for one in listed)
    session.choose(level="10 ug/m3")
    assert session.clearance is None
    assert session.maps == {}
    assert panel.rooms.rows.rows == ()
    window.close_for_good()


def question(window: Window, key: str) -> Question:
    session = window.session
    assert session.judged is not None
    return next(
        one
        for one in questions(
            Known(session.judged.check, maps=session.maps, floor=session.choices.floor)
        )
        if one.key == key
    )


def test_what_did_not_change_on_the_bar_is_not_made_anew(window: Window) -> None:
    bar, made = window.bar, []
    for box in (bar.floor, bar.round, bar.band, bar.level):
        box.model().modelAboutToBeReset.connect(lambda: made.append("reset"))
        box.model().rowsAboutToBeRemoved.connect(lambda *_: made.append("removed"))
    bar.refresh()
    assert made == []
    bar.level.setEditText("no level at all")
    bar.refresh()
    assert bar.level.currentText() == bar.level.itemText(bar.level.currentIndex())
    window.session.choose(level="10 ug/m3")
    assert made
    assert bar.level.currentData() == "10 ug/m3"
