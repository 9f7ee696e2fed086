"""A drawing is brought into an open site; what is asserted on are the files and what is shown."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from shapely import Point, box

from hgmap.desktop.beginning.drawing_questions import EVERY
from hgmap.desktop.bring_in.dialog import NEW, REPLACE, BringInDialog
from hgmap.desktop.bring_in.repairs import RepairList
from hgmap.desktop.panels.plan_panel import PlanPanel
from hgmap.desktop.tables.tick_table import NUMBER
from hgmap.desktop.window import Window
from hgmap.editing.site_files import changed
from hgmap.report.drawing import Label
from hgmap.scene.numbered_signs import APART_PT, NumberedSign, numbered_signs
from hgmap.site.importers.found_plan import PlanRepair
from tests.desktop.plan_bench import PlanBench

Opener = Callable[..., Window]


def feature(kind: str, corners: tuple[float, float, float, float], **about: str) -> dict[str, Any]:
    ring = [list(one) for one in box(*corners).exterior.coords]
    geometry = {"type": "Polygon", "coordinates": [ring]}
    return {"type": "Feature", "properties": {"kind": kind, **about}, "geometry": geometry}


def plan_of(*features: dict[str, Any]) -> str:
    return json.dumps({"type": "FeatureCollection", "features": list(features)})


GROUND = plan_of(feature("room", (0, 0, 6, 4), id="R1", name="Hall"))
HOUSE = plan_of(
    feature("room", (0, 0, 4, 3), name="Lobby", level="0"),
    feature("room", (0, 0, 4, 3), name="Loft", level="1"),
)
WALLS = plan_of(
    feature("wall", (0, 0, 8, 0.2)), feature("wall", (0, 3, 8, 3.2)),
    feature("wall", (0, 0.2, 0.2, 3)), feature("wall", (7.8, 0.2, 8, 3)),
    feature("wall", (4, 0.2, 4.2, 2.98)),
)  # fmt: skip
"""Two rooms; the wall between them ends 2 cm too early."""


class Bench(PlanBench):
    """A site into which drawings are brought."""

    def bring(self, text: str, name: str = "house.geojson") -> BringInDialog:
        path = self.folder / name
        path.write_text(text, "utf-8")
        self.open("drawing", path)
        return self.page

    @property
    def page(self) -> BringInDialog:
        page = self.look_page
        assert isinstance(page, BringInDialog)
        return page

    def answer(self, option: str, meant: str) -> None:
        row = self.page.questions.rows[option]
        assert not row.isHidden()
        row.list.setCurrentIndex(row.list.findData(meant))
        row.list.activated.emit(row.list.currentIndex())
        self.settle()

    def call(self, name: str) -> None:
        self.page.name.clear()
        self.qtbot.keyClicks(self.page.name, name)
        self.qtbot.keyClick(self.page.name, Qt.Key.Key_Return)
        self.settle()

    def names(self) -> list[str]:
        return [one.name for one in self.floors()]


@pytest.fixture
def bench(open_window: Opener, qtbot: Any, tmp_path: Path) -> Bench:
    return Bench(open_window(), qtbot, tmp_path, GROUND)


def test_a_drawing_is_looked_at_and_then_one_edit_that_can_be_taken_back(bench: Bench) -> None:
    session = bench.window.session
    before = session.files
    page = bench.bring(GROUND)
    assert "Rooms: 1" in page.said.text()
    assert page.preview.draft is not None
    assert session.files is before
    assert page.name.text() == "house"
    page.yes.click()
    bench.settle()
    assert bench.names() == ["ground", "house"]
    assert session.choices.floor == "house"
    assert session.undo_stack.count() == 1
    session.undo_stack.undo()
    bench.settle()
    assert before is not None
    assert session.files is not None
    assert changed(before, session.files) == ()


def test_it_takes_the_place_of_the_plan_of_the_floor_shown(bench: Bench) -> None:
    page = bench.bring(plan_of(feature("room", (0, 0, 3, 3), name="Shed")))
    page.goes.setCurrentIndex(page.goes.findData(REPLACE))
    bench.settle()
    assert not page.name.isEnabled()
    assert "ground" in page.below.text()
    assert any("Hall" in row.text for row in page.table.rows)
    page.do_it()
    bench.settle()
    assert [[room.name for room in one.rooms] for one in bench.floors()] == [["Shed"]]


def test_the_storey_is_chosen_among_those_of_the_file_and_can_be_changed(bench: Bench) -> None:
    page = bench.bring(HOUSE)
    assert page.questions.pressing == "storey"
    assert not page.yes.isEnabled()
    assert "--" not in page.trouble.text()
    bench.answer("storey", "1")
    assert page.preview.draft is not None
    assert [one.name for one in page.preview.draft.rooms] == ["Loft"]
    assert page.name.text() == "1"
    bench.answer("storey", "0")
    assert [one.name for one in page.preview.draft.rooms] == ["Lobby"]


def test_every_storey_becomes_a_floor_at_once(bench: Bench) -> None:
    page = bench.bring(HOUSE)
    bench.answer("storey", EVERY)
    assert [page.shown.itemData(row) for row in range(page.shown.count())] == ["0", "1"]
    bench.call("wing")
    page.yes.click()
    bench.settle()
    assert bench.names() == ["ground", "wing 0", "wing 1"]


def test_the_plan_of_now_is_seen_whole_beside_the_one_that_takes_its_place(bench: Bench) -> None:
    page = bench.bring(plan_of(feature("room", (0, 0, 3, 3), name="Shed")))
    alone = page.preview.whole
    page.goes.setCurrentIndex(page.goes.findData(REPLACE))
    bench.settle()
    west, south, east, north = page.preview.view.bounds
    assert west < 0 < 6 < east
    assert south < 0 < 4 < north
    page.goes.setCurrentIndex(page.goes.findData(NEW))
    bench.settle()
    assert page.preview.whole == alone


def test_a_typed_name_is_kept_while_the_drawing_goes_elsewhere(bench: Bench) -> None:
    page = bench.bring(GROUND)
    bench.call("wing")
    for goes, name in ((REPLACE, "ground"), (NEW, "wing")):
        page.goes.setCurrentIndex(page.goes.findData(goes))
        bench.settle()
        assert page.name.text() == name
        assert page.yes.isEnabled()


def test_every_storey_is_not_said_to_be_the_plan_of_the_floor_shown(bench: Bench) -> None:
    page = bench.bring(HOUSE)
    page.goes.setCurrentIndex(page.goes.findData(REPLACE))
    bench.settle()
    assert "ground" in page.goes.currentText()
    bench.answer("storey", EVERY)
    assert "ground" not in page.goes.currentText()
    assert page.found is not None
    assert [one.name for one in page.found.floors] == ["0", "1"]
    bench.answer("storey", "1")
    assert "ground" in page.goes.currentText()


def test_a_wrong_answer_can_be_taken_back(bench: Bench) -> None:
    page = bench.bring(WALLS)
    page.questions.more.setChecked(True)
    row = page.questions.rows["gap"]
    for text, taken in (("7", False), ("", True), ("x", False), ("0,03", True)):
        row.line.setText(text)
        row.line.editingFinished.emit()
        bench.settle()
        assert page.yes.isEnabled() == taken, (text, page.trouble.text())


def test_all_that_is_said_of_walls_can_be_said_in_the_window(bench: Bench) -> None:
    page = bench.bring(WALLS)
    page.questions.more.setChecked(True)
    for option in ("gap", "wall", "door"):
        row = page.questions.rows[option]
        assert not row.isHidden()
        assert "metres" in row.question.text()
        row.line.setText("9")
        row.line.editingFinished.emit()
        bench.settle()
        assert page.questions.pressing == option
        row.line.setText("")
        row.line.editingFinished.emit()
        bench.settle()
        assert page.yes.isEnabled()


def test_a_file_is_called_by_its_name_however_long_its_folders_are(bench: Bench) -> None:
    folder = bench.folder / ("without_a_space_" * 8)
    folder.mkdir()
    text = "room,x,y,width,depth\nHall,0,0,4,3\nStore,4,0,x,3\n"
    (folder / "rooms.csv").write_text(text, "utf-8")
    (folder / "broken.geojson").write_text("{", "utf-8")
    bench.open("drawing", folder / "broken.geojson")
    assert bench.page.trouble.text().startswith("broken.geojson")
    bench.page.reject()
    bench.open("drawing", folder / "rooms.csv")
    assert any(row.text.startswith("rooms.csv, row 3: ") for row in bench.page.table.rows)


def test_a_drawing_on_the_map_is_for_a_new_survey_where_the_site_lies_on_none(
    bench: Bench,
) -> None:
    ring = [[9.0, 50.0], [9.0001, 50.0], [9.0001, 50.0001], [9.0, 50.0001], [9.0, 50.0]]
    room = feature("room", (0, 0, 1, 1), name="Hall")
    room["geometry"]["coordinates"] = [ring]
    page = bench.bring(plan_of(room))
    assert "begin a new survey with it" in page.trouble.text()
    assert "map_frame" not in page.trouble.text()


def test_a_repair_that_is_unticked_is_refused_and_the_plan_is_made_again(bench: Bench) -> None:
    page = bench.bring(WALLS)
    assert page.found is not None
    assert page.found.floors[0].report.rooms == 2
    rows = page.table.rows
    row = next(n for n, one in enumerate(rows) if one.ticked and "gap" in one.text)
    page.table.selectRow(row)
    bench.qtbot.keyClick(page.table, Qt.Key.Key_Space)
    assert not page.yes.isEnabled()
    bench.settle()
    assert page.found.floors[0].report.rooms == 1
    chosen = page.table.chosen()
    assert chosen is not None
    assert not chosen.ticked
    state = page.table.ticks.index(row, NUMBER).data(Qt.ItemDataRole.CheckStateRole)
    assert state == Qt.CheckState.Unchecked
    bench.qtbot.keyClick(page.table, Qt.Key.Key_Space)
    bench.settle()
    assert page.found.floors[0].report.rooms == 2
    page.yes.click()
    bench.settle()
    assert len(bench.floors()[1].rooms) == 2


def test_a_repair_is_chosen_where_it_lies(bench: Bench) -> None:
    page = bench.bring(WALLS)
    page.preview.clicked.emit(4.1, 2.99)
    chosen = page.table.chosen()
    assert chosen is not None
    assert chosen.place.distance(Point(4.1, 2.99)) < 0.02
    assert page.preview._overlays["pointer"].drawing


def test_a_floor_without_openings_is_said_whichever_is_shown(bench: Bench) -> None:
    shut = json.loads(HOUSE)
    shut["features"].append(feature("room", (4.2, 0, 8, 3), name="Attic", level="1"))
    page = bench.bring(json.dumps(shut))
    bench.answer("storey", EVERY)
    assert page.shown.currentData() == "0"
    assert "No opening on: 1." in page.warned.text()


def test_rooms_that_no_air_can_leave_are_said(bench: Bench) -> None:
    page = bench.bring(WALLS)
    assert page.found is not None
    assert page.found.floors[0].report.openings == 0
    assert "no air passes" in page.warned.text()


def test_a_file_that_is_no_drawing_is_one_sentence_and_nothing_can_be_brought_in(
    bench: Bench,
) -> None:
    for text, name in (("{", "a.geojson"), (GROUND, "a.docx"), ("", "none.geojson")):
        page = bench.bring(text, name)
        assert page.trouble.text(), name
        assert "\n" not in page.trouble.text()
        assert not page.yes.isEnabled()
        page.reject()


def test_a_name_that_the_site_has_already_is_said_in_the_words_of_the_window(bench: Bench) -> None:
    page = bench.bring(GROUND)
    bench.call("ground")
    assert "--" not in page.trouble.text()
    assert "choose another name" in page.trouble.text()
    assert page.goes.currentData() == NEW


def test_what_is_typed_after_the_look_is_not_brought_in_unlooked(bench: Bench) -> None:
    page = bench.bring(GROUND)
    assert page.yes.isEnabled()
    bench.qtbot.keyClicks(page.name, "x")
    assert not page.yes.isEnabled()
    page.do_it()
    assert bench.names() == ["ground"]


def test_a_site_that_changes_meanwhile_has_the_drawing_looked_at_again(bench: Bench) -> None:
    page = bench.bring(GROUND)
    first = page.found
    bench.window.session.edit("x", lambda files: files.with_file("plans/notes.txt", b"1"))
    assert page.found is None
    bench.settle()
    assert page.found is not None
    assert page.found is not first
    page.do_it()
    assert bench.window.session.files is not None
    assert "plans/notes.txt" in bench.window.session.files.contents


def test_a_page_that_was_left_looks_at_nothing_any_more(bench: Bench) -> None:
    page = bench.bring(GROUND)
    page.reject()
    bench.window.session.edit("x", lambda files: files.with_file("plans/notes.txt", b"1"))
    assert not bench.window.jobs.awaits("drawing")


def test_a_drawing_is_dropped_on_the_plan(bench: Bench) -> None:
    path = bench.folder / "house.geojson"
    path.write_text(GROUND, "utf-8")
    (bench.folder / "letter.docx").touch()
    assert not bench.drop(bench.folder / "letter.docx")
    assert bench.window.plan_pages.page is None
    assert bench.drop(path)
    bench.settle()
    assert bench.page.found is not None


def test_a_table_is_taken_for_rooms_only_under_the_first_question(bench: Bench) -> None:
    path = bench.folder / "rooms.csv"
    path.write_text("room,x,y,width,depth\nHall,0,0,4,3\nStore,4,0,2,3\n", "utf-8")
    bench.window.choose_question(2)
    assert not bench.drop(path)
    bench.window.choose_question(1)
    assert bench.drop(path)
    bench.settle()
    assert bench.page.found is not None, bench.page.trouble.text()
    assert bench.page.found.floors[0].report.rooms == 2


def test_the_first_question_offers_it(bench: Bench) -> None:
    panel = bench.window.column.panels["plan"]
    assert isinstance(panel, PlanPanel)
    panel.floor_page.buttons["bring"].click()
    assert bench.page.file.path is None
    assert not bench.page.yes.isEnabled()


def a_repair(key: str) -> PlanRepair:
    return PlanRepair(key, "gap", key, box(0, 0, 1, 1), 1.0)


def test_repairs_keep_their_numbers_whichever_are_refused() -> None:
    one = RepairList()
    one.take([a_repair("a"), a_repair("b"), a_repair("c")])
    one.refuse("a", refused=True)
    one.take([a_repair("c"), a_repair("d")])  # without a, b is not needed and d is
    assert [(number, repair.key) for number, repair in one.shown] == [(1, "a"), (3, "c"), (4, "d")]
    assert [sign.taken for sign in one.signs] == [False, True, True]
    one.refuse("a", refused=False)
    one.take([a_repair("a"), a_repair("b"), a_repair("c")])
    assert [number for number, _ in one.shown] == [1, 2, 3]


def test_what_has_to_be_looked_at_follows_the_repairs_with_a_number_a_place_and_no_tick(
    bench: Bench,
) -> None:
    wall = feature("wall", (4, 0.2, 4.2, 2.98))
    parts = [feature("wall", (4, 0.2, 4.2, 1)), feature("wall", (4, 1.3, 4.2, 2.98))]
    page = bench.bring(plan_of(*[one for one in json.loads(WALLS)["features"] if one != wall],
                               *parts))  # fmt: skip
    assert page.found is not None
    (doubt,) = page.found.floors[0].report.doubts
    (row,) = [one for one in page.table.rows if one.text.startswith("Look: ")]
    assert "an opening of 0.30 m" in row.text
    assert (row.number, row.ticked) == (str(doubt.number), None)
    repairs = [one for one in page.table.rows if one.ticked is not None]
    assert [one.number for one in repairs] == [str(n) for n in range(1, doubt.number)]
    assert doubt.place is not None
    assert page.table.choose_at(doubt.place.centroid.x, doubt.place.centroid.y, 0.2)
    assert page.table.chosen() == row
    floor = page.lists[page.found.floors[0].name]
    assert floor.signs[-1].number == row.number
    assert floor.signs[-1].place == doubt.place


def test_numbers_of_repairs_never_lie_over_each_other() -> None:
    signs = [NumberedSign(str(n), box(n / 100, 0, n / 100 + 0.01, 0.01)) for n in range(1, 101)]
    for scale in (5.0, 100.0, 5000.0):
        labels = [one for one in numbered_signs(signs, scale) if isinstance(one, Label)]
        places = [one.x * scale * 0.75 for one in labels]
        assert labels
        assert all(abs(a - b) >= APART_PT for a, b in itertools.pairwise(places))
    assert len([one for one in numbered_signs(signs, 5000.0) if isinstance(one, Label)]) == 100
