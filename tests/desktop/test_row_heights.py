from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytestqt.qtbot import QtBot

from hgmap.desktop.panels.points import PointsTable
from hgmap.desktop.panels.row_heights import AIR_PX
from hgmap.desktop.window import Window
from hgmap.questions.gather import OpenPoint
from tests.desktop.patience import SLOW_MS

LONG = "was taken with an instrument whose last check lies too far back, so it counts for less"


def points(count: int, words: str = LONG) -> tuple[OpenPoint, ...]:
    return tuple(OpenPoint("plan", "look", f"Reading {k} {words}") for k in range(count))


@pytest.fixture
def table(qtbot: QtBot) -> Iterator[PointsTable]:
    window = Window(remembering=False)
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    window.show_survey()
    panel = window.column.panel
    assert panel is not None
    yield panel.points
    window.close_for_good()


def seen(table: PointsTable) -> range:
    last = table.rowAt(table.viewport().height() - 1)
    return range(table.rowAt(0), len(table.points.points) if last < 0 else last + 1)


def fits(table: PointsTable) -> bool:
    least = table.verticalHeader().minimumSectionSize()
    return all(
        table.rowHeight(row) == max(least, table.sizeHintForRow(row) + AIR_PX)
        for row in seen(table)
    )


def test_rows_in_sight_are_as_high_as_their_words(qtbot: QtBot, table: PointsTable) -> None:
    table.take((*points(3), *points(20, "is held")))
    qtbot.waitUntil(lambda: fits(table), timeout=SLOW_MS)
    assert table.rowHeight(0) > table.rowHeight(5)


def test_rows_that_come_into_sight_are_measured_and_no_others(
    qtbot: QtBot, table: PointsTable
) -> None:
    asked: set[int] = set()
    real = table.sizeHintForRow
    table.sizeHintForRow = lambda row: (asked.add(row), real(row))[1]  # type: ignore[method-assign]
    table.take(points(2000))
    qtbot.waitUntil(lambda: fits(table), timeout=SLOW_MS)
    assert asked.isdisjoint(range(100, 2000))
    table.selectRow(1500)
    qtbot.waitUntil(lambda: 1500 in seen(table) and fits(table), timeout=SLOW_MS)
    assert 1500 in asked
    assert len(asked) < 150


def test_a_narrower_table_measures_anew(qtbot: QtBot, table: PointsTable) -> None:
    table.take(points(40))
    qtbot.waitUntil(lambda: fits(table), timeout=SLOW_MS)
    before = table.rowHeight(0)
    table.horizontalHeader().setStretchLastSection(False)
    table.setFixedWidth(table.width() // 2 + 20)
    qtbot.waitUntil(lambda: table.rowHeight(0) > before and fits(table), timeout=SLOW_MS)


def test_other_words_are_measured_anew(qtbot: QtBot, table: PointsTable) -> None:
    table.take(points(10, "is held"))
    qtbot.waitUntil(lambda: fits(table), timeout=SLOW_MS)
    before = table.rowHeight(0)
    table.take(points(10))
    qtbot.waitUntil(lambda: table.rowHeight(0) > before and fits(table), timeout=SLOW_MS)
