"""What is known of a map is painted before what takes longer is worked out."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from hgmap.desktop.mapping import Mapper
from hgmap.desktop.window import Window
from hgmap.editing.reading_edits import move_reading
from tests.desktop.patience import SLOW_MS, SLOW_S

MakeSite = Callable[..., Path]
OpenWindow = Callable[..., Window]


@pytest.fixture
def window(qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite) -> Window:
    window = open_window()
    assert window.open_site(make_site(extra="[map]\ncell_m = 0.5\n"), ask=False)
    qtbot.waitUntil(lambda: not window.session.behind and not window.jobs.busy, timeout=SLOW_MS)
    return window


def drop_a_reading(window: Window) -> None:
    site = window.session.site
    assert site is not None
    one = next(one for one in site.readings if one.usable and one.x is not None)
    assert one.x is not None
    assert one.y is not None
    x, y = one.x, one.y
    window.session.edit("move", lambda files: move_reading(files, one, x + 0.1, y))


@pytest.mark.parametrize("step", ["map", "finish"])
def test_the_picture_of_a_step_is_there_before_the_next_step_ends(
    step: str, qtbot: QtBot, window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, seen, may_end = window.session, list[bool](), threading.Event()
    real = getattr(Mapper, step)

    def slow(*words: Any) -> Any:
        # the draft has no zones; the map has them, and no rooms yet
        painted = may_end.wait(SLOW_S / 2)
        seen.append(painted)
        return real(*words)

    def painted() -> None:
        shown = window.plan_view.shown
        if shown is None or session.mapped is None:
            return
        if step == "map" and session.draft is not None and shown.zones is None:
            may_end.set()
        if step == "finish" and not session.mapped.whole and shown.zones is not None:
            may_end.set()

    monkeypatch.setattr(Mapper, step, slow)
    window.plan_view.painted.connect(painted)
    drop_a_reading(window)
    qtbot.waitUntil(lambda: bool(seen) and not window.jobs.busy, timeout=SLOW_MS)
    assert seen == [True]
    assert session.mapped is not None
    assert session.mapped.whole


def test_a_map_that_was_asked_for_meanwhile_is_not_followed_by_the_rest_of_the_old_one(
    qtbot: QtBot, window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, finished, real = window.session, list[float | None](), Mapper.finish

    def counted(self: Mapper, shaped: Any, *told: Any) -> Any:
        finished.append(shaped.mapped.case.level.concentration)
        return real(self, shaped, *told)

    monkeypatch.setattr(Mapper, "finish", counted)
    once = [True]

    def choose() -> None:
        if once.pop() if once else False:
            session.choose(level="4 ug/m3")

    session.map_changed.connect(choose)
    drop_a_reading(window)
    qtbot.waitUntil(lambda: bool(finished), timeout=SLOW_MS)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    assert finished == [4.0]


def test_what_is_chosen_while_the_first_map_is_made_is_what_is_mapped(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    rows = make_rows()
    folder = make_site(
        readings={"first.csv": make_table(rows), "second.csv": make_table(rows)},
        extra="[map]\ncell_m = 0.5\n",
    )
    window = open_window()
    assert window.open_site(folder, ask=False)
    window.session.choose(round="first")
    session = window.session
    qtbot.waitUntil(lambda: not session.behind and not window.jobs.busy, timeout=SLOW_MS)
    assert session.mapped is not None
    assert session.mapped.case.round.name == "first"
