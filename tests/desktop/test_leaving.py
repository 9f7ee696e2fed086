"""Leaving, a disk that takes nothing, two windows on one site: nothing is lost or brought back."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QMessageBox

from hgmap.desktop.new_site import NewSitePage
from hgmap.desktop.window import Window
from tests.desktop.steps import PLAN, SITE, SLOW_MS, below, calm, house_in, rename

Opener = Callable[..., Window]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return house_in(tmp_path)


def answer_with(monkeypatch: pytest.MonkeyPatch, answer: QMessageBox.StandardButton) -> None:
    monkeypatch.setattr(QMessageBox, "question", staticmethod(lambda *a, **k: answer))


def test_a_closed_site_leaves_nothing_behind_of_what_was_discarded(
    open_window: Opener, qtbot: Any, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window(remembering=True)
    window.open_site(folder)
    rename(window, "Other")
    window.files.keep_aside()
    answer_with(monkeypatch, QMessageBox.StandardButton.Discard)
    window.files.close_site()
    assert window.pages.currentWidget() is window.start_page
    assert not window.session.unsaved
    assert not window.isWindowModified()
    assert window.windowTitle() == "hgmap"
    assert not window.session.undo_stack.canUndo()
    window.files.keep_aside()
    assert not list((tmp_path / "home" / "own" / "recovery").glob("[!.]*"))
    answer_with(monkeypatch, QMessageBox.StandardButton.Cancel)
    assert window.files.may_leave()
    (folder / "site.toml").write_text(SITE.replace("A house", "Theirs"))
    window.session.look_at_disk()
    assert not window.notice.isVisible()
    assert window.open_site(folder)
    assert window.session.site is not None
    assert window.session.site.name == "Theirs"


def test_a_new_survey_that_is_not_begun_does_not_bring_back_what_was_discarded(
    open_window: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window()
    window.open_site(folder)
    rename(window, "Other")
    answer_with(monkeypatch, QMessageBox.StandardButton.Discard)
    window.files.new_site()
    page = window.pages.currentWidget()
    assert isinstance(page, NewSitePage)
    page.leave()
    assert window.session.site is not None
    assert window.session.site.name == "A house"
    assert not window.session.unsaved


def test_a_folder_that_is_no_site_is_said_before_anything_is_discarded(
    open_window: Opener, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window()
    window.open_site(folder)
    rename(window, "Other")

    def nobody(*given: object, **named: object) -> QMessageBox.StandardButton:
        raise AssertionError("nothing is to be asked")

    monkeypatch.setattr(QMessageBox, "question", staticmethod(nobody))
    assert not window.open_site(tmp_path / "nowhere")
    assert "nowhere" in window.notice.text.text()
    assert window.session.unsaved


def test_keeping_aside_is_tried_again_until_there_is_room_and_said_once(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    recovery = tmp_path / "home" / "own" / "recovery"
    recovery.parent.mkdir(parents=True)
    recovery.write_text("a file in the way")
    window = open_window(remembering=True)
    window.open_site(folder)
    rename(window, "Mine")
    window.files.keep_aside()
    assert "not kept aside" in window.notice.text.text()
    window.notice.hide()
    window.files.keep_aside()
    assert not window.notice.isVisible()
    recovery.unlink()
    window.files.keep_aside()
    assert len(window.files.recovery.pending()) == 0  # this process lives
    assert [one for one in recovery.iterdir() if (one / "edited.zip").is_file()]
    assert "kept aside again" in window.said.text()


def test_saving_over_what_another_window_saved_is_refused_with_the_ways_out(
    open_window: Opener, folder: Path
) -> None:
    one, other = open_window(), open_window()
    one.open_site(folder)
    other.open_site(folder)
    rename(one, "One")
    rename(other, "Other")
    assert one.session.save()
    assert not other.session.save()
    buttons = [button.text() for button in other.notice._buttons]
    assert "Read them again" in buttons
    assert "Keep mine" in buttons
    assert "write over" not in other.notice.text.text()
    assert "One" in (folder / "site.toml").read_text()
    assert other.session.unsaved


@pytest.mark.parametrize("gone", [True, False])
def test_what_cannot_be_saved_in_its_place_is_saved_elsewhere_and_undo_goes_on(
    open_window: Opener, qtbot: Any, folder: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, gone: bool,
) -> None:  # fmt: skip
    window = open_window(remembering=True)
    window.open_site(folder)
    rename(window, "Mine")
    window.files.keep_aside()
    before = below(folder)
    if gone:
        shutil.rmtree(folder)
        window.session.look_at_disk()
        assert "gone" in window.notice.text.text()
    else:
        with monkeypatch.context() as patch:

            def refuse(*given: object, **named: object) -> tuple[int, str]:
                raise OSError(28, "No space left on device")

            patch.setattr("hgmap.editing.save.tempfile.mkstemp", refuse)
            assert not window.session.save()
    (tmp_path / "stick").mkdir()
    monkeypatch.setattr(
        QFileDialog, "getExistingDirectory", staticmethod(lambda *a: str(tmp_path / "stick"))
    )
    next(one for one in window.notice._buttons if "elsewhere" in one.text()).click()
    calm(window, qtbot)
    copy = tmp_path / "stick" / "house"
    assert "Mine" in (copy / "site.toml").read_text()
    assert (copy / "plans" / "ground.geojson").read_text() == PLAN
    assert not window.session.unsaved
    assert not window.notice.isVisible()
    assert window.session.site is not None
    assert window.session.site.folder == copy
    assert window.files.recent()[0] == copy
    assert not list((tmp_path / "home" / "own" / "recovery").glob("[!.]*"))
    window.session.undo_stack.undo()
    calm(window, qtbot)
    assert window.session.save()
    assert (copy / "site.toml").read_text() == SITE
    if not gone:
        assert below(folder) == before


def test_a_copy_is_never_put_into_a_folder_that_holds_something(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    assert not window.session.save_elsewhere(tmp_path / "full")
    assert "not empty" in window.notice.text.text()
    assert below(tmp_path / "full") == {str(tmp_path / "full" / "mine.txt"): b"mine"}


def test_a_level_that_is_being_typed_is_not_taken_away_by_a_map_that_arrives(
    open_window: Opener, qtbot: Any, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    calm(window, qtbot)
    window.activateWindow()
    window.bar.focus_level()
    line = window.bar.level.lineEdit()
    assert line is not None
    qtbot.waitUntil(line.hasFocus, timeout=SLOW_MS)
    QTest.keyClicks(line, "0.3 u")
    window.session.map_changed.emit()
    window.session.site_changed.emit()
    assert line.text() == "0.3 u"
    QTest.keyClicks(line, "g/m3")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert window.session.choices.level == "0.3 ug/m3"
    calm(window, qtbot)
    assert line.text() == "0.3 ug/m3"
    QTest.keyClicks(line, "77")
    QTest.keyClick(line, Qt.Key.Key_Escape)
    assert line.text() == "0.3 ug/m3"
    assert window.session.choices.level == "0.3 ug/m3"


def test_a_notice_is_answered_with_the_keyboard(open_window: Opener, qtbot: Any) -> None:
    window = open_window()
    answered: list[str] = []
    window.notice.say("Something is the matter.", (("Mend it", lambda: answered.append("mend")),))
    window.activateWindow()
    action = next(one for one in window.findChildren(QAction) if one.shortcut().toString() == "F9")
    action.trigger()
    qtbot.waitUntil(window.notice._buttons[0].hasFocus, timeout=SLOW_MS)
    QTest.keyClick(window.notice._buttons[0], Qt.Key.Key_Space)
    assert answered == ["mend"]
    assert not window.notice.isVisible()


def test_two_sites_of_one_name_are_told_apart_on_the_first_page(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "b").mkdir()
    shutil.copytree(folder, tmp_path / "b" / "house")
    window = open_window(remembering=True)
    window.open_site(folder)
    window.open_site(tmp_path / "b" / "house")
    window.files.close_site()
    row = window.start_page.recent
    found = [row.itemAt(k) for k in range(row.count())]
    texts = [one.widget().text() for one in found if one is not None]  # type: ignore[union-attr]
    assert len(set(texts)) == len(texts) == 2
    assert all(text.startswith("house") for text in texts)
