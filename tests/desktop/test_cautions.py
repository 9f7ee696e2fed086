"""Cautions stand where they matter: beside what drives a place, and under the map's answer."""

from __future__ import annotations

import html
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.desktop import pipeline
from hgmap.desktop.explain_panel import in_words
from hgmap.desktop.panels.map_panel import MapPanel
from hgmap.desktop.window import Window
from tests.desktop.patience import SLOW_MS


@pytest.fixture
def window(
    make_site: Callable[..., Path], open_window: Callable[..., Window], qtbot: Any
) -> Window:
    made = open_window()
    assert made.open_site(make_site(extra="[map]\ncell_m = 0.5\n"), ask=False)
    qtbot.waitUntil(lambda: made.session.mapped is not None and not made.jobs.busy, timeout=SLOW_MS)
    return made


def test_a_caution_of_readings_stands_once_beside_what_they_drive(window: Window) -> None:
    mapped = window.session.mapped
    assert mapped is not None
    explained = pipeline.drives_of(mapped).of(pipeline.figures(mapped, 2.0, 2.0), 3)
    ids = {name for driver in explained.drivers for name in driver.readings}
    texts = {text for one in mapped.case.site.readings if one.id in ids for text in one.cautions}
    assert texts
    said = in_words(explained, mapped)
    assert all(said.count(html.escape(text, quote=False)) == 1 for text in texts)


def test_what_holds_for_the_whole_map_stands_under_its_answer(window: Window) -> None:
    mapped = window.session.mapped
    window.choose_question(3)
    panel = window.column.panels["map"]
    assert isinstance(panel, MapPanel)
    assert mapped is not None
    told = (*mapped.case.warnings, *mapped.case.unusual, *mapped.case.notes)
    assert told
    assert all(text in panel.cautions.text() for text in told)
