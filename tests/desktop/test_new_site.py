"""A survey is begun on one page; nothing is written before Begin."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QApplication, QFileDialog

from hgmap.desktop.beginning.drawing_questions import EVERY
from hgmap.desktop.beginning.part import FileField, table_of_clipboard
from hgmap.desktop.new_site import NewSitePage
from hgmap.desktop.window import Window
from hgmap.editing.begin_readings import import_first
from hgmap.site.folder import read_site
from hgmap.site.new_site import new_site_text
from tests.desktop.patience import SLOW_MS
from tests.desktop.test_bring_in import WALLS, feature, plan_of

PLAN = b"""{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Hall"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]}}]}"""
READINGS = b"id,room,x,y,height,value,unit\nA1,Hall,1,1,1.2,0.4,ug/m3\nA2,Hall,5,3,1.2,2.1,ug/m3\n"

DOUBTED = plan_of(
    *json.loads(WALLS)["features"][:4],
    feature("wall", (4, 0.2, 4.2, 1)), feature("wall", (4, 1.3, 4.2, 2.98)),
)  # fmt: skip
"""The wall between two rooms has a gap of 0.3 m that is no door."""

Opener = Callable[..., Window]


@pytest.fixture
def page(open_window: Opener) -> NewSitePage:
    window = open_window()
    window.show_new_site()
    shown = window.pages.currentWidget()
    assert isinstance(shown, NewSitePage)
    return shown


def given(tmp_path: Path) -> tuple[Path, Path]:
    (tmp_path / "plan.geojson").write_bytes(PLAN)
    (tmp_path / "day.csv").write_bytes(READINGS)
    return tmp_path / "plan.geojson", tmp_path / "day.csv"


def below(folder: Path) -> set[Path]:
    return set(folder.rglob("*"))


def looked(page: NewSitePage, qtbot: Any) -> None:
    qtbot.waitUntil(lambda: not page.window_.jobs.busy, timeout=SLOW_MS)


class Hand:
    """Clicks and types as a person does, and counts it."""

    def __init__(self, qtbot: Any) -> None:
        self.qtbot, self.clicks, self.keys = qtbot, 0, 0

    def click(self, widget: Any, *place: Any) -> None:
        self.clicks += 1
        self.qtbot.mouseClick(
            widget, Qt.MouseButton.LeftButton, pos=place[0] if place else QPoint()
        )

    def type(self, text: str) -> None:
        self.keys += len(text)
        self.qtbot.keyClicks(QApplication.focusWidget(), text)


def test_the_shortest_way_to_a_first_map_takes_seven_clicks_and_a_name(
    open_window: Opener, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file chosen in a dialog counts as a click; so does every key."""
    hand = Hand(qtbot)
    answers = [str(one) for one in given(tmp_path)]

    def choose(*about: object) -> tuple[str, str]:
        hand.clicks += 1
        return answers.pop(0), ""

    monkeypatch.setattr(QFileDialog, "getOpenFileName", staticmethod(choose))
    window = open_window()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow, timeout=SLOW_MS)
    hand.click(window.start_page.new)
    page = window.pages.currentWidget()
    assert isinstance(page, NewSitePage)
    hand.type("Old house")
    hand.keys += 1
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    hand.type("d")
    hand.click(page.plan.file.choose)
    hand.click(page.readings.file.choose)
    looked(page, qtbot)
    hand.click(page.level.listed, QPoint(8, page.level.listed.height() // 2))
    table = page.level.table
    hand.click(table.viewport(), table.visualRect(table.model().index(1, 1)).center())
    hand.keys += 1
    assert page.begin.isEnabled(), page.why.text()
    qtbot.keyClick(window, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.session.mapped is not None, timeout=SLOW_MS)
    assert (hand.clicks, hand.keys) == (7, len("Old house") + 3)
    assert window.column.key == "map"
    site = read_site(tmp_path / "home" / "documents" / "Old-house")
    assert len(site.readings) == 2
    assert site.use == "dwelling"


def test_nothing_is_written_before_begin(page: NewSitePage, qtbot: Any, tmp_path: Path) -> None:
    files = list(given(tmp_path))
    before = below(tmp_path)
    page.place.name.setText("Old house")
    page.take_files(files)
    looked(page, qtbot)
    page.leave()
    assert below(tmp_path) == before


def test_a_folder_in_the_way_is_said_and_a_site_can_be_opened_instead(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    page.place.name.setText("A")
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "letter.txt").touch()
    page.place.folder.setText(str(tmp_path / "x"))
    assert "not empty" in page.place.trouble.text()
    assert not page.begin.isEnabled()
    (tmp_path / "x" / "site.toml").write_text('schema_version = 1\nname = "Old"\n')
    page.place.folder.setText(str(tmp_path / "x") + "/")
    assert page.place.state.standing == "a site"
    assert page.place.instead.isVisible()
    window = page.window_
    page.place.instead.click()
    assert window.session.site is not None
    assert window.session.site.name == "Old"


def test_a_folder_that_fills_up_meanwhile_is_not_written_over(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    page.place.name.setText("A")
    folder = page.place.path
    assert folder is not None
    folder.mkdir(parents=True)
    (folder / "letter.txt").write_text("mine")
    page.begin_now()
    looked(page, qtbot)
    assert [one.name for one in folder.iterdir()] == ["letter.txt"]
    assert "not empty" in page.why.text()


def test_a_question_of_the_readings_is_asked_in_a_field(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    page.place.name.setText("A")
    (tmp_path / "day.csv").write_bytes(b"room,Hg\nHall,0.4\n")
    page.take_files([tmp_path / "day.csv"])
    looked(page, qtbot)
    asked = page.readings.asked
    assert asked.option == "unit"
    assert asked.isVisible()
    assert "--" not in page.readings.trouble.text()
    assert not page.begin.isEnabled()
    qtbot.keyClicks(asked.line, "ug/m3")
    qtbot.keyClick(asked.line, Qt.Key.Key_Return)
    looked(page, qtbot)
    assert page.readings.ready is not None
    found = {page.readings.mapping.item(row, 0).text() for row in range(2)}
    assert found == {"room", "value"}
    assert page.begin.isEnabled()


def test_a_drawing_of_several_storeys_is_asked_which_and_every_one_can_be_begun_with(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    lower = PLAN.replace(b'"name": "Hall"', b'"name": "Hall", "level": "0"')
    upper = PLAN.replace(b'"name": "Hall"', b'"name": "Loft", "level": "1"').replace(b"R1", b"R2")
    both = json.loads(lower)
    both["features"] += json.loads(upper)["features"]
    (tmp_path / "house.geojson").write_text(json.dumps(both))
    page.place.name.setText("A")
    page.take_files([tmp_path / "house.geojson"])
    looked(page, qtbot)
    assert page.plan.asked.pressing == "storey"
    assert "--" not in page.plan.trouble.text()
    row = page.plan.asked.rows["storey"]
    for meant, said in (("1", "1 room"), (EVERY, "2 floors: 2 room")):
        row.list.setCurrentIndex(row.list.findData(meant))
        row.list.activated.emit(row.list.currentIndex())
        looked(page, qtbot)
        assert page.plan.said.text().startswith(said)
    page.begin_now()
    qtbot.waitUntil(lambda: page.window_.session.site is not None, timeout=SLOW_MS)
    floors = read_site(tmp_path / "home" / "documents" / "A").floors
    assert [(one.name, one.rooms[0].name) for one in floors] == [("0", "Hall"), ("1", "Loft")]


def test_each_note_about_a_drawing_is_a_sentence(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    plan = json.loads(PLAN)
    plan["features"] += [
        {**plan["features"][0], "properties": {"kind": "room", "id": f"R{n}", "name": "Hall"},
         "geometry": {"type": "Polygon", "coordinates": [
             [[6 * n, 0], [6 * n + 6, 0], [6 * n + 6, 4], [6 * n, 4], [6 * n, 0]]]}}
        for n in (2, 3)
    ]  # fmt: skip
    (tmp_path / "halls.geojson").write_text(json.dumps(plan))
    page.take_files([tmp_path / "halls.geojson"])
    looked(page, qtbot)
    said = page.plan.said.text()
    assert "'Hall (2)'. " in said
    assert said.endswith(".")


def test_what_a_drawing_leaves_in_doubt_is_counted_and_said_first(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    plan = json.loads(DOUBTED)
    plan["features"] += [
        {"type": "Feature", "properties": {"type": "furniture"}, "geometry": None} for _ in range(5)
    ]
    (tmp_path / "doubted.geojson").write_text(json.dumps(plan))
    page.take_files([tmp_path / "doubted.geojson"])
    looked(page, qtbot)
    said = page.plan.said.text()
    assert "1 place is in doubt and has to be looked at" in said
    assert "an opening of 0.30 m" in said


def test_of_every_storey_each_note_says_which_floor_it_is_of_and_how_many_found_no_room(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    both = [
        {"type": "Feature", "properties": {"kind": "room", "name": "Hall", "level": str(level)},
         "geometry": {"type": "Polygon", "coordinates": [
             [[6 * n, 0], [6 * n + 6, 0], [6 * n + 6, 4], [6 * n, 4], [6 * n, 0]]]}}
        for level in (0, 1) for n in range(3)
    ]  # fmt: skip
    (tmp_path / "house.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": both})
    )
    page.take_files([tmp_path / "house.geojson"])
    looked(page, qtbot)
    row = page.plan.asked.rows["storey"]
    row.list.setCurrentIndex(row.list.findData(EVERY))
    row.list.activated.emit(row.list.currentIndex())
    looked(page, qtbot)
    said = page.plan.said.text()
    assert " 0: " in said
    assert re.search(r"And \d+ notes more\.$", said)


def test_a_column_is_chosen_among_the_titles(page: NewSitePage, qtbot: Any, tmp_path: Path) -> None:
    (tmp_path / "day.csv").write_bytes(b"room,Hg ug/m3,result ug/m3\nHall,0.4,0.5\n")
    page.take_files([tmp_path / "day.csv"])
    looked(page, qtbot)
    asked = page.readings.asked
    assert (asked.option, asked.ours) == ("column", "value")
    texts = [asked.list.itemText(row) for row in range(asked.list.count())]
    assert texts[1:] == ["room", "Hg ug/m3", "result ug/m3"]
    asked.list.setCurrentIndex(2)
    asked.list.activated.emit(2)
    looked(page, qtbot)
    assert page.readings.ready is not None
    assert page.readings.ready.answers.columns == {"value": "Hg ug/m3"}


def test_readings_are_pasted(page: NewSitePage, qtbot: Any) -> None:
    page.readings.take_clipboard()
    QGuiApplication.clipboard().setText(READINGS.decode().replace(",", "\t"))
    page.readings.take_clipboard()
    looked(page, qtbot)
    assert page.readings.ready is not None
    assert "2 readings" in page.readings.said.text()
    QGuiApplication.clipboard().setText("  ")
    page.readings.take_clipboard()
    assert "clipboard" in page.readings.trouble.text()


def test_no_level_is_chosen_by_itself_and_a_typed_one_is_never_a_bare_number(
    page: NewSitePage, tmp_path: Path
) -> None:
    page.place.name.setText("A")
    level = page.level
    assert level.later.isChecked()
    assert level.request is None
    assert page.begin.isEnabled()
    level.typed.setChecked(True)
    level.fields["value"].setText("1 ug/m3")
    assert "used for" in level.why_not
    page.place.use.setCurrentIndex(page.place.use.findData("school"))
    assert "never a bare number" in level.why_not
    assert not page.begin.isEnabled()
    for key in ("source", "scenario", "averaging", "height"):
        level.fields[key].setText("x")
    assert not level.why_not
    level.fields["value"].setText("1")
    assert level.why_not
    level.listed.setChecked(True)
    assert level.levels
    assert not any(one.kind == "occupational" for one in level.levels)
    assert level.chosen is None
    assert level.why_not


def test_the_levels_follow_the_use(page: NewSitePage) -> None:
    page.place.use.setCurrentIndex(page.place.use.findData("industrial"))
    workers = {one.kind for one in page.level.levels}
    page.place.use.setCurrentIndex(page.place.use.findData("dwelling"))
    assert "occupational" in workers
    assert "occupational" not in {one.kind for one in page.level.levels}


def test_an_image_leads_to_the_first_question_and_its_scale(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    image = QImage(40, 20, QImage.Format.Format_RGB32)
    image.save(str(tmp_path / "scan.png"))
    page.place.name.setText("A")
    page.take_files([tmp_path / "scan.png"])
    looked(page, qtbot)
    assert "scale" in page.plan.said.text()
    window = page.window_
    page.begin_now()
    qtbot.waitUntil(lambda: window.session.files is not None, timeout=SLOW_MS)
    assert window.column.key == "plan"
    assert "two points" in window.notice.text.text()
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    next(one for one in window.notice._buttons if one.text() == "Set the scale").click()
    assert window.canvas._tool is not None


def test_the_page_of_a_file_of_several_is_asked(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    scans = [Image.new("L", (wide, 40), 255) for wide in (80, 60, 40)]
    scans[0].save(tmp_path / "scans.pdf", save_all=True, append_images=scans[1:])
    page.place.name.setText("A")
    page.take_files([tmp_path / "scans.pdf"])
    looked(page, qtbot)
    assert page.plan.ready is None
    assert "3 pages" in page.plan.trouble.text()
    assert "--" not in page.plan.trouble.text()
    row = page.plan.page
    row.list.setCurrentIndex(row.list.findData("2"))
    row.list.activated.emit(row.list.currentIndex())
    looked(page, qtbot)
    page.begin_now()
    qtbot.waitUntil(lambda: page.window_.session.site is not None, timeout=SLOW_MS)
    kept = QImage(str(tmp_path / "home" / "documents" / "A" / "plans" / "ground.png"))
    assert kept.width() == pytest.approx(1.5 * kept.height(), abs=2)


def test_strange_and_damaged_files_are_one_sentence(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    (tmp_path / "letter.docx").write_bytes(b"x")
    (tmp_path / "plan.geojson").write_bytes(b"{")
    (tmp_path / "scan.png").write_bytes(b"no image")
    page.take_files([tmp_path / "letter.docx"])
    assert "letter.docx" in page.window_.notice.text.text()
    for name in ("plan.geojson", "scan.png", "none.geojson"):
        page.take_files([tmp_path / name])
        looked(page, qtbot)
        assert page.plan.trouble.isVisible(), name
        assert "\n" not in page.plan.trouble.text()
        assert page.plan.ready is None


def test_work_that_was_stopped_is_not_waited_for(page: NewSitePage, tmp_path: Path) -> None:
    page.place.name.setText("A")
    page.take_files(list(given(tmp_path)))
    assert page.plan.waiting
    page.window_.jobs.drop_all()
    assert not page.plan.waiting
    assert not page.readings.waiting
    assert page.why.text() == "The plan is not there yet."


def test_a_room_schedule_is_pasted(page: NewSitePage, qtbot: Any, tmp_path: Path) -> None:
    QGuiApplication.clipboard().setText("name\tlength\twidth\nHall\t6\t4\nShed\t3\t2\n")
    page.place.name.setText("A")
    page.plan.take_clipboard()
    looked(page, qtbot)
    assert page.plan.ready is not None, page.plan.trouble.text()
    assert "2 rooms, 30 m²" in page.plan.said.text()
    page.begin_now()
    qtbot.waitUntil(lambda: page.window_.session.site is not None, timeout=SLOW_MS)
    rooms = read_site(tmp_path / "home" / "documents" / "A").floors[0].rooms
    assert {one.name for one in rooms} == {"Hall", "Shed"}


def test_the_day_of_the_visit_is_written_with_its_round(
    page: NewSitePage, qtbot: Any, tmp_path: Path
) -> None:
    QGuiApplication.clipboard().setText(READINGS.decode().replace(",", "\t"))
    page.readings.take_clipboard()
    looked(page, qtbot)
    for text in ("2 March", "2026-03-02"):
        page.readings.day.clear()
        qtbot.keyClicks(page.readings.day, text)
        qtbot.keyClick(page.readings.day, Qt.Key.Key_Return)
        looked(page, qtbot)
        assert (page.readings.ready is not None) == (text == "2026-03-02")
        assert page.readings.trouble.isVisible() == (text == "2 March")
    assert "2 March" in page.readings.trouble.text()
    assert page.readings.ready is not None
    assert str(page.readings.ready.answers.date) == "2026-03-02"
    (tmp_path / "site.toml").write_text(new_site_text("A"), "utf-8")
    import_first(page.readings.ready, tmp_path, "ground")
    assert "date = 2026-03-02" in (tmp_path / "site.toml").read_text("utf-8")


def test_text_that_no_encoding_knows_is_pasted_all_the_same() -> None:
    field = FileField("")
    field.text.setText("a.csv")
    QGuiApplication.clipboard().setText("id\tvalue\nA\ud800\t1\n")
    assert table_of_clipboard(field).startswith(b"id\tvalue\nA")
    assert field.path is None
