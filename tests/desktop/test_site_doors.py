"""The ways in and out: nothing that was entered is lost, and nobody's files are written over."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QMessageBox

from hgmap.desktop.window import Window
from hgmap.site.cautions import screening
from tests.desktop.steps import SITE, SLOW_MS, below, calm, house_in, rename

Opener = Callable[..., Window]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return house_in(tmp_path)


KILLED = """
import os, sys, time
from pathlib import Path
os.environ["QT_QPA_PLATFORM"] = "offscreen"
from hgmap.desktop.app import application
from hgmap.editing.settings import set_site_name
app = application()
from hgmap.desktop.window import Window
window = Window(home=Path(sys.argv[1]))
window.open_site(Path(sys.argv[2]))
window.files._timer.setInterval(20)
number = 0
while True:
    number += 1
    window.session.edit("name", lambda files: set_site_name(files, f"Name {number}"))
    for _ in range(10):
        app.processEvents()
        time.sleep(0.005)
    if number == 5:
        print("working", flush=True)
"""


def test_work_that_was_killed_in_the_middle_is_taken_up_at_the_next_start(
    open_window: Opener, qtbot: Any, folder: Path, tmp_path: Path
) -> None:
    home, before = tmp_path / "home", below(folder)
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(KILLED), str(home), str(folder)],
        stdout=subprocess.PIPE, text=True, env=os.environ,
    ) as process:  # fmt: skip
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == "working\n"
        finally:
            process.send_signal(signal.SIGKILL)
            process.wait()
    assert process.returncode == -signal.SIGKILL
    assert below(folder) == before
    window = open_window(remembering=True)
    assert "ended unexpectedly" in window.notice.text.text()
    taken = next(one for one in window.notice._buttons if one.text() == "&Take them up")
    taken.click()
    calm(window, qtbot)
    assert window.session.site is not None
    assert window.session.site.name.startswith("Name ")
    assert window.isWindowModified()
    assert below(folder) == before
    assert window.session.save()
    assert window.session.site.name in (folder / "site.toml").read_text()
    assert not [one for one in (home / "own" / "recovery").iterdir() if one.name[0] != "."]


def test_thrown_away_work_is_not_offered_again(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    window = open_window(remembering=True)
    window.open_site(folder)
    rename(window, "Other")
    window.files.keep_aside()
    kept = next(iter((tmp_path / "home" / "own" / "recovery").iterdir()))
    lock = kept / "lock.json"
    lock.write_text(lock.read_text().replace(str(os.getpid()), "999999999"))
    other = open_window(remembering=True)
    assert str(folder) in other.notice.text.text()
    next(one for one in other.notice._buttons if one.text() == "Throw them away").click()
    assert not open_window(remembering=True).notice.isVisible()


def test_unsaved_work_is_marked_and_asked_about(
    open_window: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window()
    window.open_site(folder)
    assert not window.isWindowModified()
    assert window.files.may_leave()
    rename(window, "Other")
    assert window.isWindowModified()
    Button = QMessageBox.StandardButton  # noqa: N806
    answers = [Button.Cancel, Button.Save]
    monkeypatch.setattr(QMessageBox, "question", staticmethod(lambda *a, **k: answers.pop(0)))
    assert not window.files.may_leave()
    assert window.isWindowModified()
    assert window.files.may_leave()
    assert "Other" in (folder / "site.toml").read_text()
    assert not window.isWindowModified()


def test_discarded_work_leaves_the_disk_as_it_was(
    open_window: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window()
    window.open_site(folder)
    rename(window, "Other")
    monkeypatch.setattr(
        QMessageBox, "question", staticmethod(lambda *a, **k: QMessageBox.StandardButton.Discard)
    )
    assert window.files.may_leave()
    assert (folder / "site.toml").read_text() == SITE


def test_a_file_that_another_program_changed_is_asked_about_and_never_written_over(
    open_window: Opener, qtbot: Any, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    rename(window, "Mine")
    theirs = SITE.replace("A house", "Theirs")
    (folder / "site.toml").write_text(theirs)
    assert not window.session.save()
    assert (folder / "site.toml").read_text() == theirs
    window.session.look_at_disk()
    assert "site.toml" in window.notice.text.text()
    next(one for one in window.notice._buttons if one.text() == "Keep mine").click()
    assert window.session.save()
    assert "Mine" in (folder / "site.toml").read_text()


def test_what_another_program_changed_is_read_again(
    open_window: Opener, qtbot: Any, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    calm(window, qtbot)
    (folder / "new.toml").write_text(SITE.replace("A house", "Theirs"))
    (folder / "new.toml").replace(folder / "site.toml")
    qtbot.waitUntil(lambda: window.notice.isVisible(), timeout=SLOW_MS)
    next(one for one in window.notice._buttons if one.text() == "Read them again").click()
    calm(window, qtbot)
    assert window.session.site is not None
    assert window.session.site.name == "Theirs"


def test_a_folder_that_was_deleted_is_said_and_the_work_stays(
    open_window: Opener, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    rename(window, "Mine")
    shutil.rmtree(folder)
    assert not window.session.save()
    assert "gone" in window.notice.text.text()
    assert window.isWindowModified()
    window.session.look_at_disk()
    folder.mkdir()
    assert not window.session.save()
    assert window.session.files is not None
    assert "Mine" in window.session.files.text("site.toml")


@pytest.mark.parametrize("why", ["No space left on device", "Read-only file system"])
def test_a_disk_that_takes_nothing_is_one_sentence_and_the_work_stays(
    open_window: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    def refuse(*given: object, **named: object) -> tuple[int, str]:
        raise OSError(28, why)

    window = open_window()
    window.open_site(folder)
    rename(window, "Mine")
    before = below(folder)
    with monkeypatch.context() as patch:
        patch.setattr("hgmap.editing.save.tempfile.mkstemp", refuse)
        assert not window.session.save()
    assert why in window.notice.text.text()
    assert "\n" not in window.notice.text.text()
    assert below(folder) == before
    assert window.isWindowModified()
    assert window.session.save()
    assert "Mine" in (folder / "site.toml").read_text()


def test_a_full_disk_for_recovery_is_said_and_the_work_goes_on(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "home" / "own").mkdir(parents=True)
    (tmp_path / "home" / "own" / "recovery").write_text("a file in the way")
    window = open_window(remembering=True)
    window.open_site(folder)
    rename(window, "Mine")
    window.files.keep_aside()
    assert "not kept aside" in window.notice.text.text()
    assert window.session.save()


def test_a_site_file_with_an_error_names_its_line_and_the_window_goes_on(
    open_window: Opener, qtbot: Any, folder: Path
) -> None:
    (folder / "site.toml").write_text(SITE + "\n[level\n")
    window = open_window()
    assert window.open_site(folder)
    calm(window, qtbot)
    assert "line 9" in window.notice.text.text()
    window.choose_question(2)
    window.choose_question(5)
    (folder / "site.toml").write_text(SITE)
    window.session.look_at_disk()
    next(one for one in window.notice._buttons if one.text() == "Read them again").click()
    calm(window, qtbot)
    assert window.session.site is not None
    assert window.session.site.name == "A house"


def test_a_folder_that_is_no_site_is_said_and_what_was_open_stays_open(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    (tmp_path / "empty").mkdir()
    for wrong in (tmp_path / "empty", tmp_path / "nowhere", folder / "site.toml"):
        assert not window.open_site(wrong)
        assert window.notice.isVisible()
    assert window.session.site is not None
    assert window.session.site.name == "A house"


def test_a_floor_without_readings_and_a_site_without_a_level_are_shown(
    open_window: Opener, qtbot: Any, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    calm(window, qtbot)
    assert window.session.floor is not None
    assert window.session.mapped is None
    assert window.session.why_no_map
    for number in range(1, 6):
        window.choose_question(number)
        calm(window, qtbot)
    assert window.isVisible()


def test_the_caution_stands_under_every_plan_and_on_the_first_page(
    open_window: Opener, folder: Path
) -> None:
    window = open_window()
    window.open_site(folder)
    for number in range(1, 6):
        window.choose_question(number)
        assert window.caution.isVisible()
        assert window.caution.text() == screening("air")


def test_sites_opened_lately_are_kept_apart_from_those_of_the_person(
    open_window: Opener, folder: Path, tmp_path: Path
) -> None:
    window = open_window(remembering=True)
    window.open_site(folder)
    assert window.files.recent() == [folder]
    assert open_window(remembering=True).files.recent() == [folder]
    assert window.files.places.ini == tmp_path / "home" / "hgmap.ini"
    shutil.rmtree(folder)
    assert window.files.recent() == []


def test_the_demo_is_a_copy_in_the_person_s_own_place(
    open_window: Opener, qtbot: Any, tmp_path: Path
) -> None:
    window = open_window()
    window.files.open_demo()
    window.jobs.drop_all()
    assert window.session.files is not None
    assert window.session.files.folder == tmp_path / "home" / "own" / "demo_site"
    rename(window, "Mine")
    assert window.session.save()
    window.files.open_demo()
    window.jobs.drop_all()
    assert "Mine" in window.session.files.text("site.toml")
