"""What is of before the last change never stands as though it were of now."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QTimer
from pytestqt.qtbot import QtBot

from hgmap.batch import map_read_site, map_site
from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.export_work import Export, export
from hgmap.desktop.print_sheets import Wanted
from hgmap.desktop.session import Session
from hgmap.desktop.window import Window
from hgmap.desktop.work import Progress
from hgmap.editing.settings import set_site_name
from hgmap.floor_map import MapOptions
from hgmap.site.folder import read_site
from tests.desktop.patience import SLOW_MS, SLOW_S

MakeSite = Callable[..., Path]
OpenWindow = Callable[..., Window]


@pytest.fixture
def site(make_site: MakeSite) -> Path:
    return make_site(extra="[map]\ncell_m = 0.5\n")


def settle(qtbot: QtBot, window: Window) -> None:
    session: Session = window.session
    qtbot.waitUntil(lambda: not session.behind and not window.jobs.busy, timeout=SLOW_MS)


def opened(qtbot: QtBot, open_window: OpenWindow, folder: Path) -> Window:
    window = open_window()
    assert window.open_site(folder, ask=False)
    settle(qtbot, window)
    return window


def broken(files: Any) -> Any:
    return files.with_file("site.toml", b"= nothing [")


def named(name: str) -> Callable[[Any], Any]:
    return lambda files: set_site_name(files, name)


@pytest.mark.parametrize("change", ["edit", "level", "round"])
def test_a_ruling_that_was_asked_before_a_change_does_not_come_back_after_it(
    change: str, qtbot: QtBot, open_window: OpenWindow, site: Path, monkeypatch: Any
) -> None:
    window = opened(qtbot, open_window, site)
    session, may_end, real = window.session, threading.Event(), pipeline.clearance_of
    began = threading.Event()

    def slow(*words: Any) -> Any:
        began.set()
        may_end.wait(SLOW_S)
        return real(*words)

    monkeypatch.setattr(pipeline, "clearance_of", slow)
    session.rule_on_rooms()
    qtbot.waitUntil(began.is_set, timeout=SLOW_MS)
    if change == "edit":
        session.edit("name", named("Other"))
    elif change == "level":
        session.choose(level="25 ug/m3")
    else:
        session.choose(band="breathing zone, adult" if session.choices.band is None else None)
    came: list[Any] = []
    session.clearance_changed.connect(lambda: came.append(session.clearance))
    may_end.set()
    settle(qtbot, window)
    qtbot.wait(50)
    assert session.clearance is None
    assert came == []


def test_a_ruling_falls_with_the_edit_and_not_only_with_the_next_map(
    qtbot: QtBot, open_window: OpenWindow, site: Path
) -> None:
    window = opened(qtbot, open_window, site)
    session = window.session
    session.rule_on_rooms()
    qtbot.waitUntil(lambda: session.clearance is not None, timeout=SLOW_MS)
    assert session.edit("break", broken)
    assert session.clearance is None
    qtbot.waitUntil(lambda: bool(session.why_no_site) and not window.jobs.busy, timeout=SLOW_MS)
    session.rule_on_rooms()
    qtbot.wait(50)
    assert session.clearance is None
    settle_words = {key: one.toolTip() for key, one in window.column.buttons.items()}
    assert not [key for key, text in settle_words.items() if text.startswith("settled")]


def test_a_site_that_cannot_be_read_is_not_mapped_as_it_was_before(
    qtbot: QtBot, open_window: OpenWindow, site: Path
) -> None:
    window = opened(qtbot, open_window, site)
    session = window.session
    session.edit("break", broken)
    qtbot.waitUntil(lambda: bool(session.why_no_site) and not window.jobs.busy, timeout=SLOW_MS)
    session.choose(level="25 ug/m3")
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert session.behind
    assert not session.current
    session.map_again()
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert session.behind
    session.undo_stack.undo()
    settle(qtbot, window)
    assert session.current
    assert session.mapped is not None


def test_the_stop_button_does_not_stop_what_was_entered_from_being_read(
    qtbot: QtBot, open_window: OpenWindow, site: Path
) -> None:
    window = opened(qtbot, open_window, site)
    session = window.session
    session.edit("name", named("Other"))
    window.stop.click()
    qtbot.waitUntil(lambda: session.site is not None and session.site.name == "Other",
                    timeout=SLOW_MS)  # fmt: skip
    window.stop.click()
    if session.behind:  # the map was stopped: nothing says that the third question is settled
        assert window.column.buttons["map"].toolTip().startswith("not asked yet")
    session.map_again()
    settle(qtbot, window)
    assert session.mapped is not None
    assert session.mapped.case.site.name == "Other"


def test_stop_does_not_leave_the_old_picture_under_the_answers_of_a_map_that_is_there(
    qtbot: QtBot, open_window: OpenWindow, site: Path
) -> None:
    window = opened(qtbot, open_window, site)
    session, stopped = window.session, list[bool]()

    def stop() -> None:
        if not stopped:
            stopped.append(window.jobs.awaits("scene"))
            QTimer.singleShot(0, session.stop_work)

    session.map_changed.connect(stop)
    session.choose(level="1 ug/m3")
    qtbot.waitUntil(lambda: bool(stopped), timeout=SLOW_MS)
    settle(qtbot, window)
    assert stopped == [True]
    assert session.mapped is not None
    assert not session.mapped.whole
    shown = window.plan_view.shown
    assert shown is not None
    assert shown.zones is session.mapped.floor_map.zones


def test_while_the_picture_is_of_before_no_question_of_the_map_is_settled(
    qtbot: QtBot, open_window: OpenWindow, site: Path
) -> None:
    window = opened(qtbot, open_window, site)
    window.session.edit("name", named("Other"))
    assert window.session.behind
    for key in ("map", "next", "release"):
        assert window.column.buttons[key].toolTip().startswith("not asked yet")
    settle(qtbot, window)
    assert not window.column.buttons["map"].toolTip().startswith("not asked yet")


def test_an_export_has_the_zones_that_the_window_shows(site: Path, tmp_path: Path) -> None:
    read = read_site(site)
    shown = Choices(floor="ground", round="first", zones="whole rooms")
    wanted = Export(tmp_path / "shown", frozenset({"map"}), Wanted(floor="ground"))
    export(read, shown, wanted, Progress(lambda text, share: None, lambda piece: None))
    whole = replace(read, settings=replace(read.settings, zones="whole rooms"))
    map_read_site(whole, MapOptions(round="first", floors=("ground",), out=tmp_path / "same"))
    map_site(site, MapOptions(round="first", floors=("ground",), out=tmp_path / "taped"))
    zones = {
        name: sorted(one.read_bytes() for one in (tmp_path / name).rglob("zones.csv"))
        for name in ("shown", "same", "taped")
    }
    assert zones["shown"]
    assert zones["shown"] == zones["same"]
    assert zones["shown"] != zones["taped"]
