"""Question 2 as a person works it: cells typed, rows pasted, readings dragged, held, released."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QEvent, QItemSelection, QItemSelectionModel, QPoint, Qt
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit
from pytestqt.qtbot import QtBot

from hgmap.desktop.app import application
from hgmap.desktop.panels.readings_panel import ReadingsPanel
from hgmap.desktop.session import Session
from hgmap.desktop.tables.reading_rows import SHOWN
from hgmap.desktop.tables.text_table import TextTable
from hgmap.desktop.window import Window
from hgmap.site.folder import read_site
from hgmap.site.reading import Reading
from tests.desktop.patience import SLOW_MS
from tests.desktop.pointer import move

DEMO = Path(__file__).parents[2] / "demo_site"
LAST = "readings/2026-03-16.csv"


class Bench:
    """A window on a copy of the demo, at question 2, and what a hand does there."""

    def __init__(self, qtbot: QtBot, folder: Path) -> None:
        self.qtbot, self.folder = qtbot, folder
        self.window = Window(remembering=False)
        self.window.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
        self.window.show()
        assert self.window.open_site(folder, ask=False)
        self.window.choose_question(2)
        panel = self.window.column.panels["readings"]
        assert isinstance(panel, ReadingsPanel)
        self.panel = panel
        self.session = self.window.session
        self.model = panel.work.model
        self.read()

    def close(self) -> None:
        self.window.close_for_good()
        self.window.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)

    def read(self) -> None:
        """Wait until every edit is written and every row read anew."""
        self.qtbot.waitUntil(
            lambda: (
                not self.session.late.busy
                and not any(
                    self.window.jobs.awaits(one)
                    for one in ("site", "judge", "readings table", "paste", "instrument log")
                )
            ),
            timeout=SLOW_MS,
        )

    def reading(self, name: str) -> Reading:
        site = self.panel.work.site
        assert site is not None
        return next(one for one in site.readings if one.id == name)

    def at(self, name: str, column: str) -> tuple[int, int]:
        row = self.model.row_of(self.reading(name).where)
        assert row is not None
        return row, SHOWN.index(column)

    def choose(self, cells: list[tuple[int, int]], table: TextTable) -> None:
        table.setFocus()
        table.setCurrentIndex(self.model.index(*cells[0]))
        selection = QItemSelection()
        for one in cells:
            selection.select(self.model.index(*one), self.model.index(*one))
        self.panel.work.selection.select(
            selection, QItemSelectionModel.SelectionFlag.ClearAndSelect
        )

    def type_in(self, name: str, column: str, text: str) -> None:
        table = self.wide()
        self.choose([self.at(name, column)], table)
        table.edit(table.currentIndex())
        line = table.findChild(QLineEdit)
        assert line is not None
        line.selectAll()
        QTest.keyClicks(line, text)
        QTest.keyClick(line, Qt.Key.Key_Return)
        QApplication.processEvents()
        self.read()

    def wide(self) -> TextTable:
        if not self.panel.wide_action.isChecked():
            self.panel.wide_action.trigger()
        assert self.panel.wide is not None
        return self.panel.wide

    def shown(self, name: str, column: str, role: Qt.ItemDataRole) -> object:
        return self.model.index(*self.at(name, column)).data(role)

    @property
    def notice(self) -> str:
        return self.window.notice.text.text()

    def text(self, name: str = LAST) -> str:
        assert self.session.files is not None
        return self.session.files.text(name)


@pytest.fixture(scope="module", autouse=True)
def dressed() -> None:
    application()


@pytest.fixture(autouse=True)
def no_map(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing here rests on the map, which takes longer than all the rest."""
    monkeypatch.setattr(Session, "_map", lambda self: None)


@pytest.fixture
def bench(qtbot: QtBot, tmp_path: Path) -> Iterator[Bench]:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder)
    made = Bench(qtbot, folder)
    yield made
    made.close()


def test_the_table_shows_the_floor_of_the_round_and_counts_what_it_leaves_out(
    bench: Bench,
) -> None:
    assert bench.session.site is not None
    of_round = [one for one in bench.session.site.readings if one.round == "after"]
    here = [one for one in of_round if one.floor in ("", bench.session.choices.floor)]
    assert 0 < len(here) < len(of_round)
    assert bench.model.rowCount() == len(here)
    bench.panel.work.want(all_floors=True)
    assert bench.model.rowCount() == len(of_round)
    bench.panel.work.want(words="g04")
    bench.qtbot.waitUntil(lambda: bench.model.rowCount() < len(here), timeout=SLOW_MS)
    assert all("g04" in bench.model.row(k).text("room").casefold()
               for k in range(bench.model.rowCount()))  # fmt: skip


def test_a_typed_number_is_stored_digit_for_digit_and_one_step_back_undoes_it(
    bench: Bench,
) -> None:
    before = bench.text()
    bench.type_in("A081", "value", "1234.5")
    assert bench.reading("A081").value == 1234.5
    assert ",1234.5," in bench.text()
    assert bench.session.undo_stack.count() == 1
    assert bench.session.save()
    assert next(one for one in read_site(bench.folder).readings if one.id == "A081").value == 1234.5
    bench.session.undo_stack.undo()
    bench.read()
    assert bench.text() == before
    bench.session.undo_stack.redo()
    bench.read()
    assert bench.reading("A081").value == 1234.5


def test_a_word_where_a_number_belongs_is_kept_complained_about_and_held(bench: Bench) -> None:
    bench.type_in("A081", "x", "abc")
    one = bench.reading("A081")
    assert one.held
    assert bench.shown("A081", "x", Qt.ItemDataRole.DisplayRole) == "abc"
    assert "abc" in str(bench.shown("A081", "x", Qt.ItemDataRole.ToolTipRole))
    assert bench.shown("A081", "x", Qt.ItemDataRole.DecorationRole) is not None
    assert bench.shown("A081", "y", Qt.ItemDataRole.DecorationRole) is None
    assert bench.shown("A081", "verdict", Qt.ItemDataRole.EditRole) == "held"
    assert ",abc," in bench.text()


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("x", "abc"), ("y", "abc"), ("height", "tall"), ("time", "noon-ish"), ("value", "abc"),
        ("unit", "spoons"), ("floor", "cellar"), ("room", "Z99"), ("kind", "guess"),
    ],
)  # fmt: skip
def test_a_complaint_stands_at_the_cell_that_it_is_about(
    column: str, text: str, make_rows: Callable[[str, str], dict[str, object]]
) -> None:
    assert column in make_rows(column, text)


@pytest.fixture
def make_rows(tmp_path: Path) -> Callable[[str, str], dict[str, object]]:
    from hgmap.desktop.tables.reading_rows import changes_of, rows_of
    from hgmap.editing.reading_edits import set_cells
    from hgmap.editing.site_files import read_site_files, site_of

    def make(column: str, text: str) -> dict[str, object]:
        files = read_site_files(DEMO)
        old = next(
            one for one in rows_of(files, site_of(files)) if (one.name, one.line) == (LAST, 10)
        )
        changes = {(10, key): new for key, new in changes_of(old, column, text).items()}
        files = set_cells(files, LAST, changes)
        rows = rows_of(files, site_of(files))
        row = next(one for one in rows if one.name == LAST and one.line == 10)
        assert row.text(column) == text
        assert row.reading.held
        return {key: 1 for key, some in row.complaints.items() if any(one.held for one in some)}

    return make


def test_a_non_detect_is_typed_as_it_is_written_and_its_sign_goes_to_its_own_column(
    bench: Bench,
) -> None:
    bench.type_in("A081", "value", "<0.02")
    one = bench.reading("A081")
    assert (one.value, one.qualifier) == (0.02, "<")
    assert bench.shown("A081", "value", Qt.ItemDataRole.DisplayRole) == "<0.02"
    assert ",0.02,ug/m3,<," in bench.text()
    bench.type_in("A081", "value", "0.5")
    assert (bench.reading("A081").value, bench.reading("A081").qualifier) == (0.5, "")


def test_values_sort_as_numbers_and_a_non_detect_stands_beside_its_limit(bench: Bench) -> None:
    bench.type_in("A081", "value", "0.05")
    bench.panel.work.want(all_floors=True)
    bench.model.sort(SHOWN.index("value"))
    rows = [bench.model.row(k).reading for k in range(bench.model.rowCount())]
    numbers = [one.concentration for one in rows if one.concentration is not None]
    assert numbers == sorted(numbers)
    assert numbers[-1] > 1.0
    names = [one.id for one in rows]
    below = [one.id for one in rows if one.qualifier == "<" and one.value == 0.05]
    assert names.index("A081") > max(names.index(one) for one in below)
    assert all(
        one.concentration <= 0.05 for one in rows[: names.index("A081")] if one.concentration
    )
    bench.model.sort(SHOWN.index("value"), Qt.SortOrder.DescendingOrder)
    assert bench.model.row(0).reading.concentration == max(numbers)


def test_one_value_is_typed_into_several_chosen_cells_as_one_step(bench: Bench) -> None:
    table = bench.wide()
    names = ("A078", "A079", "A080")
    bench.choose([bench.at(one, "instrument") for one in names], table)
    table.edit(table.currentIndex())
    line = table.findChild(QLineEdit)
    assert line is not None
    QTest.keyClicks(line, "gold-film analyser")
    QTest.keyClick(line, Qt.Key.Key_Return)
    QApplication.processEvents()
    bench.read()
    assert {bench.reading(one).instrument for one in names} == {"gold-film analyser"}
    assert bench.reading("A081").instrument == ""
    assert bench.session.undo_stack.count() == 1


def test_copied_cells_come_back_by_pasting_and_none_runs_as_a_formula(bench: Bench) -> None:
    bench.type_in("A081", "note", "=1+1")
    table = bench.wide()
    bench.choose([bench.at("A081", "note")], table)
    table.copy()
    assert QGuiApplication.clipboard().text() == "'=1+1"
    bench.choose([bench.at("A082", "note")], table)
    table.paste()
    bench.read()
    assert bench.reading("A082").note == "=1+1"


def test_a_block_replaces_cell_by_cell_from_the_current_one_on(bench: Bench) -> None:
    table = bench.wide()
    top = bench.at("A078", "value")
    under = bench.model.row(top[0] + 1).reading.id
    bench.choose([top], table)
    QGuiApplication.clipboard().setText("<0.07\tng/m3\n12\tng/m3\n")
    table.paste()
    bench.read()
    assert (bench.reading("A078").value, bench.reading("A078").qualifier) == (0.07, "<")
    assert (bench.reading(under).value, bench.reading(under).unit) == (12.0, "ng/m3")
    assert bench.session.undo_stack.count() == 1


def test_twenty_rows_of_a_spreadsheet_are_shown_before_they_are_put_in(bench: Bench) -> None:
    rows = [f"P{k}\tG01\t{1 + k / 5}\t2\t1.5\t0.{k + 10}\tpasted" for k in range(20)]
    text = "Sample ID\tRoom\tX (m)\tY (m)\tHeight (m)\tHg (µg/m³)\tComments\n" + "\n".join(rows)
    assert bench.session.site is not None
    before = len(bench.session.site.readings)
    files = bench.session.files
    QGuiApplication.clipboard().setText(text)
    bench.panel.narrow.paste()
    bench.read()
    assert bench.panel.ask.isVisible()
    assert "value ← Hg (µg/m³)" in bench.panel.ask.text.text()
    assert bench.session.files is files
    bench.panel.ask.answer()
    bench.read()
    assert len(bench.session.site.readings) == before + 20
    assert (bench.reading("P7").value, bench.reading("P7").note) == (0.17, "pasted")
    bench.session.undo_stack.undo()
    bench.read()
    assert len(bench.session.site.readings) == before


def test_what_is_no_table_says_one_sentence_and_changes_nothing(bench: Bench) -> None:
    files = bench.session.files
    bench.panel.work.selection.clear()
    bench.panel.work.selection.clearCurrentIndex()
    QGuiApplication.clipboard().setText("dear all\nplease find attached\nkind regards\n")
    bench.panel.narrow.paste()
    bench.read()
    assert bench.notice
    assert "\n" not in bench.notice
    assert "--" not in bench.notice
    assert bench.session.files is files
    assert not bench.panel.ask.isVisible()
    bench.window.notice.text.setText("")
    QGuiApplication.clipboard().setText(" \n\t\n")
    bench.panel.narrow.paste()
    assert "nothing to paste" in bench.notice
    assert bench.session.files is files


def test_a_question_about_pasted_units_is_asked_and_its_answer_puts_the_rows_in(
    bench: Bench,
) -> None:
    text = "Sample ID\tRoom\tX (m)\tY (m)\tHeight (m)\tdates\tResult\n" + "\n".join(
        f"Q{k}\tG01\t{1 + k}\t2\t1.5\t03/04/2026\t0.{k + 10}" for k in range(5)
    )
    QGuiApplication.clipboard().setText(text.replace("dates", "Date") + "\n")
    bench.panel.narrow.paste()
    for _ in range(4):
        bench.read()
        box = bench.panel.ask.fields.get("said")
        if not bench.panel.ask.isVisible() or box is None:
            break
        if isinstance(box, QLineEdit):
            box.setText("ug/m3")
        bench.panel.ask.answer()
    bench.read()
    assert bench.panel.ask.isVisible() or "unit" in bench.notice


def test_chosen_rows_are_deleted_in_one_step(bench: Bench) -> None:
    before = bench.text()
    bench.choose([bench.at("A078", "id"), bench.at("A079", "id")], bench.panel.narrow)
    bench.panel.delete_action.trigger()
    bench.read()
    assert "A078" not in bench.text()
    assert "A079" not in bench.text()
    assert "A080" in bench.text()
    bench.session.undo_stack.undo()
    bench.read()
    assert bench.text() == before


def drag(bench: Bench, name: str, across_px: int, down_px: int) -> tuple[float, float]:
    canvas = bench.window.canvas
    one = bench.reading(name)
    assert one.x is not None
    assert one.y is not None
    start = canvas.to_widget(one.x, one.y).toPoint()
    end = start + QPoint(across_px, down_px)
    QTest.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start)
    move(canvas, start + QPoint(across_px // 2, down_px // 2), Qt.MouseButton.LeftButton)
    move(canvas, end, Qt.MouseButton.LeftButton)
    return one.x, one.y


def test_a_dragged_reading_is_written_where_it_was_dropped_in_one_step(bench: Bench) -> None:
    canvas = bench.window.canvas
    before = bench.text()
    x, y = drag(bench, "A049", 30, 12)
    overlay = bench.panel.tool.overlay()
    assert any(" m, " in getattr(item, "text", "") for item in overlay)
    one = bench.reading("A049")
    end = canvas.to_widget(one.x or 0.0, one.y or 0.0).toPoint() + QPoint(30, 12)
    QTest.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=end)
    bench.read()
    moved = bench.reading("A049")
    assert moved.x == pytest.approx(x + 30 / canvas.px_per_m, abs=0.002)
    assert moved.y == pytest.approx(y - 12 / canvas.px_per_m, abs=0.002)
    assert bench.session.undo_stack.count() == 1
    assert bench.panel.work.chosen()[0].id == "A049"
    assert bench.panel.tool.overlay() == ()
    bench.session.undo_stack.undo()
    bench.read()
    assert bench.text() == before


def test_escape_puts_a_dragged_reading_back(bench: Bench) -> None:
    canvas = bench.window.canvas
    before = bench.text()
    drag(bench, "A049", 30, 12)
    QTest.keyClick(canvas, Qt.Key.Key_Escape)
    assert bench.panel.tool.overlay() == ()
    QTest.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=QPoint(200, 200))
    bench.read()
    assert bench.text() == before
    assert bench.session.undo_stack.count() == 0


def test_arrow_keys_move_the_chosen_reading_by_steps_and_are_one_step_back(bench: Bench) -> None:
    assert bench.panel.work.choose(bench.reading("A049").where)
    one = bench.reading("A049")
    assert one.x is not None
    assert one.y is not None
    canvas = bench.window.canvas
    QTest.keyClick(canvas, Qt.Key.Key_Right)
    QTest.keyClick(canvas, Qt.Key.Key_Right)
    QTest.keyClick(canvas, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert bench.session.undo_stack.count() == 0
    bench.panel.tool.put_down()
    bench.read()
    moved = bench.reading("A049")
    assert (moved.x, moved.y) == (pytest.approx(one.x + 0.2), pytest.approx(one.y + 0.01))
    assert bench.session.undo_stack.count() == 1


def test_a_click_on_the_plan_chooses_the_row_and_moves_nothing(bench: Bench) -> None:
    canvas = bench.window.canvas
    one = bench.reading("A049")
    assert one.x is not None
    assert one.y is not None
    QTest.mouseClick(
        canvas, Qt.MouseButton.LeftButton, pos=canvas.to_widget(one.x, one.y).toPoint()
    )
    assert [each.id for each in bench.panel.work.chosen()] == ["A049"]
    assert not bench.session.unsaved


def decide(bench: Bench, initials: str, reason: str) -> None:
    ask = bench.panel.ask
    for key, text in (("initials", initials), ("reason", reason)):
        field = ask.fields[key]
        assert isinstance(field, QLineEdit)
        field.setText(text)
    ask.answer()
    bench.read()


def test_a_held_reading_has_initials_and_the_map_leaves_it_out_until_withdrawn(
    bench: Bench,
) -> None:
    bench.panel.work.choose(bench.reading("A081").where)
    bench.panel.hold_action.trigger()
    assert bench.panel.ask.isVisible()
    decide(bench, "KM", "pump was not running")
    assert "A081,after,hold,KM,pump was not running," in bench.text("instruments/overrules.csv")
    assert bench.reading("A081").held
    assert not bench.panel.ask.isVisible()
    bench.panel.work.choose(bench.reading("A081").where)
    bench.panel.hold_action.trigger()
    first = bench.panel.ask.fields["initials"]
    assert isinstance(first, QLineEdit)
    assert first.text() == "KM"
    bench.panel.ask.refuse()
    bench.panel.withdraw_action.trigger()
    bench.read()
    assert not bench.reading("A081").held


def test_a_release_without_a_reason_is_refused_and_the_question_stays(bench: Bench) -> None:
    files = bench.session.files
    bench.panel.work.choose(bench.reading("A081").where)
    bench.panel.release_action.trigger()
    decide(bench, "KM", "  ")
    assert "reason" in bench.notice
    assert bench.panel.ask.isVisible()
    assert bench.session.files is files


def test_a_released_reading_that_is_still_held_says_why(bench: Bench) -> None:
    bench.type_in("A081", "value", "abc")
    bench.panel.work.choose(bench.reading("A081").where)
    bench.panel.release_action.trigger()
    decide(bench, "KM", "I was there")
    assert bench.reading("A081").held
    assert "A081 is released and held all the same" in bench.notice
    assert "abc" in bench.notice


def test_a_reading_is_added_where_the_plan_was_clicked(bench: Bench) -> None:
    canvas = bench.window.canvas
    bench.panel.add_action.trigger()
    place = canvas.to_widget(5.0, 3.0).toPoint()
    x, y = canvas.to_plan(canvas.to_widget(5.0, 3.0).toPoint().toPointF())
    QTest.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=place)
    fields = bench.panel.ask.fields
    value, when = fields["value"], fields["time"]
    assert isinstance(value, QLineEdit)
    assert isinstance(when, QLineEdit)
    bench.panel.ask.answer()
    assert "has a value" in bench.notice
    value.setText("<0.05")
    when.setText("2026-03-16T11:02")
    bench.panel.ask.answer()
    bench.read()
    assert bench.session.site is not None
    new = [
        one for one in bench.session.site.readings if one.time and f"{one.time:%H:%M}" == "11:02"
    ]
    one = next(each for each in new if each.x == pytest.approx(x, abs=0.001))
    assert (one.y, one.value, one.qualifier) == (pytest.approx(y, abs=0.001), 0.05, "<")
    assert one.height_m == 1.5
    ids = [each.id for each in bench.session.site.readings]
    assert len(ids) == len(set(ids))
    assert canvas.tool is bench.panel.tool


def test_the_day_of_the_analyser_is_drawn_and_a_reading_on_it_can_be_chosen(bench: Bench) -> None:
    bench.panel.show_page(2)
    log = bench.panel.log
    assert log.timeline.day is not None
    assert log.timeline.day.checks
    assert log.timeline.height() > 100
    one = next(each for each in log.timeline.readings
               if each.floor == bench.session.choices.floor and each.time)  # fmt: skip
    assert one.time is not None
    at = QPoint(round(log.timeline.x_of(one.time)), 60)
    QTest.mouseClick(log.timeline, Qt.MouseButton.LeftButton, pos=at)
    assert bench.panel.work.chosen() or "not among" in bench.window.said.text()


def test_a_check_is_written_down_and_readings_are_judged_by_it(bench: Bench) -> None:
    log = bench.panel.log
    before = log.model.rowCount()
    log.ask_check()
    fields = bench.panel.ask.fields
    for key, text in (("start", "2026-03-16T09:31"), ("values", "0.0 0.01")):
        field = fields[key]
        assert isinstance(field, QLineEdit)
        field.setText(text)
    result = fields["result"]
    assert not isinstance(result, QLineEdit)
    result.setCurrentIndex(result.findData("fail"))
    held = sum(bool(one.held) for one in bench.panel.work.site.readings)  # type: ignore[union-attr]
    bench.panel.ask.answer()
    bench.read()
    assert log.model.rowCount() == before + 1
    assert "2026-03-16T09:31" in bench.text("instruments/log.csv")
    assert bench.panel.work.site is not None
    assert sum(bool(one.held) for one in bench.panel.work.site.readings) > held


def test_without_a_log_the_page_says_so_and_the_first_check_begins_one(
    qtbot: QtBot, tmp_path: Path
) -> None:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("instruments"))
    bench = Bench(qtbot, folder)
    try:
        bench.panel.show_page(2)
        assert "no instrument log" in bench.panel.log.says.text()
        bench.panel.log.ask_check()
        for key, text in (("instrument", "analyser 1"), ("start", "2026-03-16T07:00")):
            field = bench.panel.ask.fields[key]
            assert isinstance(field, QLineEdit)
            field.setText(text)
        bench.panel.ask.answer()
        bench.read()
        assert bench.session.save()
        log = read_site(folder).log
        assert log is not None
        assert [(one.instrument, one.kind) for one in log.checks] == [("analyser 1", "zero-air")]
    finally:
        bench.close()


def test_what_is_on_its_way_is_saved_too(bench: Bench) -> None:
    bench.model.set_texts({bench.at("A081", "value"): "7.25"})
    assert bench.session.late.busy
    assert bench.session.unsaved
    assert bench.session.save()
    assert next(one for one in read_site(bench.folder).readings if one.id == "A081").value == 7.25


def test_two_edits_in_a_row_are_both_done_and_are_two_steps(bench: Bench) -> None:
    bench.model.set_texts({bench.at("A081", "value"): "7.25"})
    bench.model.set_texts({bench.at("A082", "value"): "8.25"})
    assert bench.shown("A082", "value", Qt.ItemDataRole.DisplayRole) == "8.25"
    bench.read()
    assert (bench.reading("A081").value, bench.reading("A082").value) == (7.25, 8.25)
    assert bench.session.undo_stack.count() == 2


def test_an_ambiguous_number_is_refused_in_one_sentence_and_the_cell_is_as_it_was(
    bench: Bench,
) -> None:
    before = bench.text()
    bench.type_in("A081", "value", "1,234")
    assert bench.text() == before
    assert bench.notice
    assert bench.shown("A081", "value", Qt.ItemDataRole.DisplayRole) == "0.91"


def test_every_action_has_a_shortcut_of_its_own_and_nothing_is_wider_than_the_column(
    bench: Bench,
) -> None:
    keys = [one.shortcut().toString() for one in bench.panel.actions_of()]
    assert all(keys)
    assert len(set(keys)) == len(keys)
    assert bench.panel.minimumSizeHint().width() <= 330
    assert bench.window.minimumSizeHint().height() <= 772


def test_a_row_that_moved_meanwhile_is_not_taken_for_the_one_that_was_seen(bench: Bench) -> None:
    below = bench.text().splitlines()
    bench.choose([bench.at("A041", "id")], bench.panel.narrow)
    bench.panel.work.delete()
    bench.model.set_texts({bench.at("A043", "value"): "77"})  # before the rows are read anew
    bench.read()
    assert bench.text().splitlines() == [one for one in below if not one.startswith("A041,")]
    assert "A043" in bench.notice
    assert "77" not in str(bench.shown("A043", "value", Qt.ItemDataRole.DisplayRole))
    bench.type_in("A043", "value", "77")
    assert bench.reading("A043").value == 77.0


def test_two_cells_of_a_row_are_typed_before_it_is_read_anew_its_id_among_them(
    bench: Bench,
) -> None:
    row, column = bench.at("A043", "id")
    bench.model.set_texts({(row, column): "B1"})
    bench.model.set_texts({(row, SHOWN.index("value")): "77"})
    bench.read()
    assert bench.reading("B1").value == 77.0


def test_a_reading_of_no_floor_of_the_site_is_shown_with_every_floor(bench: Bench) -> None:
    where = bench.reading("A043").where
    bench.type_in("A043", "floor", "attic")
    assert bench.model.row_of(where) is not None
    assert bench.panel.work.choose(where)
    assert bench.session.choices.floor == "ground"


def test_rows_without_a_value_stand_last_whichever_way_values_are_sorted(bench: Bench) -> None:
    bench.model.set_texts({bench.at("A043", "value"): ""})
    bench.read()
    for order in (Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder):
        bench.model.sort(SHOWN.index("value"), order)
        assert bench.model.row(bench.model.rowCount() - 1).reading.id == "A043"


def test_the_sign_of_a_chosen_cell_is_not_in_the_ink_of_the_others(bench: Bench) -> None:
    bench.type_in("A043", "value", "abc")
    icon = bench.shown("A043", "value", Qt.ItemDataRole.DecorationRole)
    assert isinstance(icon, QIcon)
    inks = [
        icon.pixmap(9, 9, mode).toImage().pixelColor(4, 4).name()
        for mode in (QIcon.Mode.Normal, QIcon.Mode.Selected)
    ]
    palette = QGuiApplication.palette()
    assert inks == [palette.brightText().color().name(), palette.highlightedText().color().name()]


def test_a_place_far_off_the_plan_leaves_the_plan_in_sight(bench: Bench) -> None:
    bench.type_in("A043", "x", "9999")
    view = bench.window.canvas.view
    bench.panel.work.selection.clear()
    bench.panel.work.choose(bench.reading("A043").where)
    assert bench.window.canvas.view == view


TABLE = "Sample ID\tRoom\tX (m)\tY (m)\tHeight (m)\tHg (ug/m3)\tTime\n" + "".join(
    f"P{k}\tG01\t{1 + k}\t2\t1.5\t0.1{k}\t09:0{k}\n" for k in range(5)
)
"""Times without a day: only the visit says which it was."""


def answer(bench: Bench, **said: str) -> None:
    for key, text in said.items():
        box = bench.panel.ask.fields[key]
        if isinstance(box, QLineEdit):
            box.setText(text)
        else:
            box.setCurrentIndex(box.findData(text))
    bench.panel.ask.answer()
    bench.read()


def test_pasted_rows_are_put_into_a_new_visit_with_its_day_where_a_person_says_so(
    bench: Bench,
) -> None:
    bench.panel.paste.begin(TABLE)
    bench.read()
    visit: Any = bench.panel.ask.fields["visit"]
    assert visit.currentText() == "After clean-up"
    answer(bench, visit="\n")
    answer(bench, name="")
    assert "name" in bench.notice
    answer(bench, name="third", date="next week")
    assert "next week" in bench.notice
    answer(bench, name="third", date="2026-04-02", purpose="clearance")
    assert bench.panel.ask.fields["visit"].currentText() == "third"  # type: ignore[union-attr]
    assert "2026-04-02" in bench.panel.ask.text.text()
    answer(bench)
    one = bench.reading("P3")
    assert (one.round, str(one.time)[:16]) == ("third", "2026-04-02 09:03")
    assert bench.session.site is not None
    third = bench.session.site.round("third")
    assert third is not None
    assert (str(third.date), third.purpose) == ("2026-04-02", "clearance")


def test_where_there_is_no_visit_one_is_begun_before_rows_are_taken(bench: Bench) -> None:
    from hgmap.site.store import SITE_FILE

    text = bench.text(SITE_FILE)
    bench.session.edit("", lambda files: files.with_file(
        SITE_FILE, text[: text.index("[[rounds]]")].encode()
    ))  # fmt: skip
    bench.read()
    assert bench.session.choices.round == ""
    bench.panel.paste.begin(TABLE)
    assert bench.panel.ask.asking
    answer(bench, date="2026-04-02")
    answer(bench)
    assert bench.session.site is not None
    (only,) = bench.session.site.rounds
    assert (only.name, str(only.date)) == ("survey", "2026-04-02")
    assert str(bench.reading("P3").time)[:10] == "2026-04-02"


def test_the_log_shows_the_checks_of_the_day_that_is_drawn(bench: Bench) -> None:
    bench.panel.show_page(2)
    log = bench.panel.log
    day = f"{log.days[log.day.currentIndex()].day:%Y-%m-%d}"
    first = log.model.first_of(day)
    assert first is not None
    assert first > 0
    bench.qtbot.waitUntil(
        lambda: (
            log.table.viewport()
            .rect()
            .contains(log.table.visualRect(log.model.index(first, 0)).center())
        ),
        timeout=SLOW_MS,
    )


def test_all_that_is_to_be_done_about_a_point_stands_below_the_points(bench: Bench) -> None:
    bench.panel.show_page(1)
    points = bench.panel.points
    points.selectRow(0)
    label = points.parentWidget().findChild(QLabel)
    assert label is not None
    assert label.isVisible()
    assert label.text() == points.points.points[0].todo
