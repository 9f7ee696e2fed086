"""What a person who begins sees: each of these was wrong once, and was found at the screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from hgmap.desktop.new_site import NewSitePage
from hgmap.desktop.panels.plan_underlay import not_scaled
from hgmap.desktop.panels.readings_panel import ReadingsPanel
from hgmap.desktop.window import Window
from hgmap.editing.begin import Beginning, PicturedPlan, begin_site
from hgmap.editing.new_reading import add_reading
from hgmap.editing.plan_edits import add_room
from hgmap.editing.plan_of_floor import draft_of, with_plan
from hgmap.editing.round_settings import add_round
from hgmap.editing.site_files import SiteFiles
from hgmap.site.plan_picture import GUESSED
from tests.desktop.patience import SLOW_MS

DEMO = Path(__file__).parents[2] / "demo_site"


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[Window]:
    made = Window(remembering=False, home=tmp_path / "home")
    made.resize(1280, 772)
    made.show()
    yield made
    made.close_for_good()


@pytest.fixture
def pictured(tmp_path: Path) -> Path:
    """A site that was begun from an image."""
    image = QImage(400, 300, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.white)
    assert image.save(str(tmp_path / "scan.png"))
    plan = PicturedPlan(tmp_path / "scan.png")
    return begin_site(Beginning(tmp_path / "house", "House", plan=plan)).folder


def test_the_window_has_a_title_before_a_site_is_open(window: Window) -> None:
    assert window.windowTitle() == "hgmap"


def test_readings_are_in_the_table_of_a_site_that_was_just_opened(
    window: Window, qtbot: QtBot
) -> None:
    assert window.open_site(DEMO, ask=False)
    window.choose_question(2)
    panel = window.column.panels["readings"]
    assert isinstance(panel, ReadingsPanel)
    qtbot.waitUntil(lambda: panel.work.model.rowCount() > 0, timeout=SLOW_MS)


def test_no_other_site_is_offered_before_a_folder_is_named(window: Window) -> None:
    window.show_new_site()
    page = window.pages.currentWidget()
    assert isinstance(page, NewSitePage)
    assert not page.place.instead.isVisible()


def test_an_image_that_is_to_be_traced_is_seen_whole(
    window: Window, qtbot: QtBot, pictured: Path
) -> None:
    assert window.open_site(pictured, ask=False)

    def seen() -> None:
        west, south, east, north = window.canvas.view.bounds
        assert west <= 0.0 < 20.0 <= east
        assert south <= 0.0 < 15.0 <= north
        assert east - west < 40.0

    qtbot.waitUntil(seen, timeout=SLOW_MS)


def test_a_notice_about_the_scale_goes_once_the_scale_is_set(
    window: Window, qtbot: QtBot, pictured: Path
) -> None:
    assert window.open_site(pictured, ask=False)
    window.notice.say(not_scaled())
    window.choose_question(1)
    box = window.column.panels["plan"].floor_page.picture  # type: ignore[attr-defined]
    box._picture_clicked(((1.0, 1.0), (11.0, 1.0)))
    box.ask.fields["length"].setText("5")
    qtbot.keyClick(box.ask.fields["length"], Qt.Key.Key_Return)
    assert not window.notice.isVisible()
    assert b"m_per_px = 0.025" in window.session.files.contents["site.toml"]  # type: ignore[union-attr]


def test_enter_on_the_button_of_a_question_answers_it(window: Window, qtbot: QtBot) -> None:
    ask = window.column.panels["plan"].ask  # type: ignore[attr-defined]
    answered: list[bool] = []
    ask.ask("Shall it be?", (), "Yes", lambda _: answered.append(True) or True)
    qtbot.keyClick(ask.yes, Qt.Key.Key_Return)
    assert answered == [True]
    assert not ask.asking


def test_the_level_is_chosen_from_the_keyboard(window: Window, qtbot: QtBot) -> None:
    assert window.open_site(DEMO, ask=False)
    window.activateWindow()
    window.bar.focus_level()
    qtbot.waitUntil(lambda: window.bar.level.count() > 2, timeout=SLOW_MS)
    qtbot.keyClick(window.bar.level, Qt.Key.Key_Down)
    assert window.session.choices.level == window.bar.level.itemData(1)


def test_a_guessed_scale_is_told_until_it_is_set_and_rooms_traced_before_go_with_it(
    window: Window, qtbot: QtBot, pictured: Path
) -> None:
    assert window.open_site(pictured, ask=False)
    window.choose_question(1)
    session, panel = window.session, window.column.panels["plan"]
    box = panel.floor_page.picture  # type: ignore[attr-defined]
    assert box.text.text() == not_scaled()
    board = window.desk.board
    assert board.draft is not None

    def room(files: SiteFiles) -> SiteFiles:
        draft = add_room(draft_of(files, "ground"), [(0, 0), (10, 0), (10, 5), (0, 5)])
        return with_plan(files, "ground", draft)

    assert session.edit("a room", room)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert any(GUESSED in one.message for one in panel.points.points.points)
    box.drop_picture()
    assert "never set" in window.notice.text.text()
    assert box.board.entry.picture is not None
    box._picture_clicked(((0.0, 0.0), (10.0, 0.0)))
    box.ask.fields["length"].setText("5")
    qtbot.keyClick(box.ask.fields["length"], Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert session.site is not None
    assert session.site.floors[0].rooms[0].polygon.area == pytest.approx(12.5)
    assert not any(GUESSED in one.message for one in panel.points.points.points)
    assert "mm per pixel" in box.text.text()


def test_readings_that_stay_behind_when_a_guessed_plan_is_scaled_are_asked_about_first(
    window: Window, qtbot: QtBot, pictured: Path
) -> None:
    assert window.open_site(pictured, ask=False)
    window.choose_question(1)
    session, panel = window.session, window.column.panels["plan"]

    def room_and_reading(files: SiteFiles) -> SiteFiles:
        draft = add_room(draft_of(files, "ground"), [(0, 0), (10, 0), (10, 5), (0, 5)])
        files = add_round(with_plan(files, "ground", draft), "first")
        return add_reading(files, "first", floor="ground", x=8.0, y=4.0, value="2",
                           unit="ug/m3", height="1.5")[0]  # fmt: skip

    assert session.edit("a room and a reading", room_and_reading)
    qtbot.waitUntil(lambda: not window.jobs.busy and session.current, timeout=SLOW_MS)
    before = session.files
    box = panel.floor_page.picture  # type: ignore[attr-defined]
    box._picture_clicked(((0.0, 0.0), (10.0, 0.0)))
    box.ask.fields["length"].setText("5")
    qtbot.keyClick(box.ask.fields["length"], Qt.Key.Key_Return)
    assert session.files is before
    assert box.ask.asking
    qtbot.keyClick(box.ask.yes, Qt.Key.Key_Return)
    assert session.files is not before
    assert not box.ask.asking
    qtbot.waitUntil(lambda: not window.jobs.busy and session.current, timeout=SLOW_MS)
    assert session.site is not None
    assert session.site.floors[0].rooms[0].polygon.area == pytest.approx(12.5)
    assert session.site.readings[0].x == 8.0
