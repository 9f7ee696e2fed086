"""Drawing a plan in the window, by mouse and by keyboard; what is asserted on are the files."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shapely
from PySide6.QtCore import QBuffer, QIODevice, QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from shapely import Polygon, box

from hgmap.desktop.panels.plan_panel import FLOOR, PARTS, PlanPanel
from hgmap.desktop.tools.pick_tool import PickTool
from hgmap.desktop.window import Window
from hgmap.editing.plan_draft import PlanDraft, raw_feature
from hgmap.report.drawing import Path as Path_
from hgmap.site.folder import read_site
from hgmap.site.plan_picture import PlanPicture
from tests.desktop.patience import SLOW_MS
from tests.desktop.pointer import move

NONE = Qt.KeyboardModifier.NoModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
LEFT = Qt.MouseButton.LeftButton

SITE = """\
schema_version = 1
name = "A shed (invented)"  # a remark that stays
analyte = "elemental mercury vapour"
medium = "air"
invented = true

[[floors]]
name = "ground"
plan = "plans/ground.geojson"

[[floors]]
name = "empty"
plan = "plans/empty.geojson"

[[floors]]
name = "bad"
plan = "plans/bad.geojson"

[[rounds]]
name = "one"
readings = ["readings/one.csv"]

[rounds.openings.ground]
door = "sealed"
"""

READINGS = """\
id,floor,room,x,y,height_m,value,unit
1,ground,A,1,1,1.0,0.1,ug/m3
2,ground,A,3.5,2,1.0,0.2,ug/m3
3,ground,B,6,1,1.0,0.3,ug/m3
"""

BOW = [(0, 0), (4, 4), (4, 0), (0, 4)]
"""Crosses itself: nobody can read a plan with it."""


def plan_bytes(*features: Any) -> bytes:
    return PlanDraft().edited(added=list(features)).to_bytes()


def ground() -> bytes:
    return plan_bytes(
        raw_feature("room", box(0, 0, 4, 3), id="A", name="Office"),
        raw_feature("room", box(4, 0, 8, 3), id="B", name="Store"),
        raw_feature("opening", shapely.LineString([(4, 1), (4, 2)]), id="door", state="open"),
    )


class Drawn:
    """A window with a site, and hands for it."""

    def __init__(self, window: Window, qtbot: Any) -> None:
        self.qtbot, self.window, self.canvas = qtbot, window, window.canvas
        self.session = window.session
        panel = window.column.panels["plan"]
        assert isinstance(panel, PlanPanel)
        self.panel, self.tools, self.board = panel, panel.tools, window.desk.board

    def px(self, x: float, y: float) -> QPoint:
        return self.canvas.to_widget(x, y).toPoint()

    def move(self, x: float, y: float, modifier: Qt.KeyboardModifier = NONE) -> None:
        move(self.canvas, self.px(x, y))

    def click(self, x: float, y: float, modifier: Qt.KeyboardModifier = NONE) -> None:
        QTest.mouseClick(self.canvas, LEFT, modifier, self.px(x, y))

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        QTest.mousePress(self.canvas, LEFT, NONE, self.px(*start))
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        self.move(*middle)
        self.move(*end)
        QTest.mouseRelease(self.canvas, LEFT, NONE, self.px(*end))

    def type(self, text: str) -> None:
        QTest.keyClicks(self.canvas, text)

    def key(self, key: Qt.Key, modifier: Qt.KeyboardModifier = NONE) -> None:
        QTest.keyClick(self.canvas, key, modifier)

    def see(self, west: float, south: float, east: float, north: float) -> None:
        self.canvas.fit((west, south, east, north))

    def settle(self) -> None:
        QApplication.processEvents()
        self.qtbot.waitUntil(lambda: not self.window.jobs.busy, timeout=SLOW_MS)

    def judged(self) -> None:
        """Wait until the site is read anew."""
        QApplication.processEvents()
        awaits = self.window.jobs.awaits
        self.qtbot.waitUntil(lambda: not (awaits("site") or awaits("judge")), timeout=SLOW_MS)

    def floor(self, name: str) -> None:
        self.session.choose(floor=name)

    def file(self, name: str) -> bytes:
        assert self.session.files is not None
        return self.session.files.contents[name]

    def features(self, floor: str, kind: str = "room") -> list[dict[str, Any]]:
        collection = json.loads(self.file(f"plans/{floor}.geojson"))
        return [one for one in collection["features"] if one["properties"]["kind"] == kind]

    def outline(self, floor: str, number: int = -1) -> Polygon:
        shape = shapely.from_geojson(json.dumps(self.features(floor)[number]["geometry"]))
        assert isinstance(shape, Polygon)
        return shape

    @property
    def notice(self) -> str:
        return "" if self.window.notice.isHidden() else self.window.notice.text.text()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    for inner in ("plans", "readings"):
        (site / inner).mkdir(parents=True)
    (site / "site.toml").write_text(SITE, "utf-8")
    (site / "readings/one.csv").write_text(READINGS, "utf-8")
    (site / "plans/ground.geojson").write_bytes(ground())
    (site / "plans/empty.geojson").write_bytes(plan_bytes())
    (site / "plans/bad.geojson").write_bytes(
        plan_bytes(
            raw_feature("room", box(5, 0, 9, 4), id="C", name="Sound"),
            raw_feature("room", Polygon(BOW), id="D", name="Bow"),
        )
    )
    return site


@pytest.fixture
def drawn(folder: Path, qtbot: Any) -> Iterator[Drawn]:
    window = Window(remembering=False)
    window.resize(1280, 800)
    window.show()
    assert window.open_site(folder)
    window.show_survey()
    one = Drawn(window, qtbot)
    one.judged()
    yield one
    window.close_for_good()


def test_two_rooms_and_a_door_are_traced_with_the_mouse(drawn: Drawn, folder: Path) -> None:
    drawn.floor("empty")
    drawn.see(-1, -1, 11, 6)
    assert drawn.tools.trace_action.isEnabled()
    drawn.tools.trace_action.trigger()
    for name, corners in (
        ("Kitchen", [(0, 0), (4, 0), (4, 3), (0, 3), (0, 0)]),
        ("Hall", [(4, 0), (8, 0), (8, 3), (4, 3), (4, 0)]),
    ):
        for corner in corners:
            drawn.click(*corner)
        assert drawn.panel.ask.isVisible()
        field = drawn.panel.ask.fields["name"]
        field.clear()
        QTest.keyClicks(field, name)
        QTest.keyClick(field, Qt.Key.Key_Return)
    drawn.tools.opening_action.trigger()
    drawn.click(4, 1.5)
    pixel = 1.5 / drawn.canvas.px_per_m
    first, second = drawn.outline("empty", 0), drawn.outline("empty", 1)
    assert first.symmetric_difference(box(0, 0, 4, 3)).area < 16 * pixel
    # the wall between them is one: the second room was drawn to the corners of the first
    assert first.intersection(second).length == pytest.approx(3.0, abs=2 * pixel)
    assert first.intersection(second).area == 0
    (door,) = drawn.features("empty", "opening")
    line = shapely.from_geojson(json.dumps(door["geometry"]))
    assert line.length == pytest.approx(0.9, abs=2e-3)
    assert door["properties"]["state"] == "open"
    assert drawn.session.save()
    floor = read_site(folder).floor("empty")
    assert floor is not None
    assert [room.name for room in floor.rooms] == ["Kitchen", "Hall"]
    assert set(floor.openings[0].rooms) == {room.id for room in floor.rooms}


def test_a_room_is_drawn_from_the_keyboard_alone_and_exactly(drawn: Drawn) -> None:
    drawn.floor("empty")
    drawn.tools.trace_action.trigger()
    drawn.type("2,5 1")
    drawn.key(Qt.Key.Key_Return)
    for length, arrow in (
        ("4.25", Qt.Key.Key_Right),
        ("3", Qt.Key.Key_Up),
        ("4.25", Qt.Key.Key_Left),
    ):
        drawn.type(length)
        drawn.key(arrow)
    drawn.key(Qt.Key.Key_Return)
    QTest.keyClick(drawn.panel.ask.fields["name"], Qt.Key.Key_Return)
    assert drawn.outline("empty").equals(box(2.5, 1, 6.75, 4))


def test_a_typed_length_goes_along_the_pointer(drawn: Drawn) -> None:
    drawn.floor("empty")
    drawn.see(-1, -1, 11, 6)
    drawn.tools.trace_action.trigger()
    drawn.type("1 1")
    drawn.key(Qt.Key.Key_Return)
    drawn.move(5, 1.02)
    drawn.type("3.2")
    assert any("3.2" in getattr(item, "text", "") for item in drawn.tools.trace.overlay())
    drawn.key(Qt.Key.Key_Return)
    assert drawn.tools.trace.places[-1] == pytest.approx((4.2, 1.0))


def test_a_right_angle_is_met_and_shown(drawn: Drawn) -> None:
    drawn.floor("empty")
    drawn.see(-1, -1, 11, 6)
    drawn.tools.trace_action.trigger()
    for place in ("1 1", "5 2"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    reach = 5 / drawn.canvas.px_per_m
    drawn.move(4.5 + reach, 4.0)  # the right angle at (5, 2) goes through (4.5, 4)
    words = [item.text for item in drawn.tools.trace.overlay() if hasattr(item, "text")]
    assert any("right angle" in one for one in words)
    drawn.click(4.5 + reach, 4.0)
    (ax, ay), (bx, by), (cx, cy) = drawn.tools.trace.places
    assert (bx - ax) * (cx - bx) + (by - ay) * (cy - by) == pytest.approx(0, abs=1e-9)


def test_backspace_takes_a_corner_back_and_escape_gives_up(drawn: Drawn) -> None:
    drawn.floor("empty")
    before = drawn.file("plans/empty.geojson")
    drawn.tools.trace_action.trigger()
    for place in ("1 1", "5 1", "5 4"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    drawn.key(Qt.Key.Key_Backspace)
    assert len(drawn.tools.trace.places) == 2
    drawn.key(Qt.Key.Key_Escape)
    assert drawn.tools.trace.places == []
    drawn.key(Qt.Key.Key_Escape)
    assert drawn.tools.choose_action.isChecked()
    assert drawn.file("plans/empty.geojson") == before


def test_an_outline_over_another_room_is_refused_while_its_corners_can_be_mended(
    drawn: Drawn,
) -> None:
    before = drawn.file("plans/ground.geojson")
    drawn.tools.trace_action.trigger()
    for place in ("1 1", "3 1", "3 5"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    drawn.key(Qt.Key.Key_Return)
    assert "overlap" in drawn.notice
    assert len(drawn.tools.trace.places) == 3
    assert not drawn.panel.ask.isVisible()
    assert drawn.file("plans/ground.geojson") == before


def test_an_outline_that_waits_for_its_name_is_not_lost(drawn: Drawn) -> None:
    drawn.floor("empty")
    drawn.tools.trace_action.trigger()
    for place in ("1 1", "3 1", "3 5"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    drawn.key(Qt.Key.Key_Return)
    drawn.tools.choose_action.trigger()
    assert len(drawn.features("empty")) == 1


def test_a_split_keeps_the_room_of_the_readings(drawn: Drawn) -> None:
    drawn.see(-1, -1, 9, 4)
    drawn.tools.split_action.trigger()
    drawn.type("3 0.5")
    drawn.key(Qt.Key.Key_Return)
    drawn.type("3 2.5")
    drawn.key(Qt.Key.Key_Return)
    rooms = {one["properties"]["id"]: one for one in drawn.features("ground")}
    assert len(rooms) == 3
    kept = shapely.from_geojson(json.dumps(rooms["A"]["geometry"]))
    assert kept.equals(box(0, 0, 3, 3))
    drawn.judged()
    assert drawn.session.site is not None
    first = next(one for one in drawn.session.site.readings if one.id == "1")
    assert (first.room, first.held) == ("A", ())


def test_chosen_rooms_are_merged_and_undo_brings_the_very_bytes_back(drawn: Drawn) -> None:
    before = dict(drawn.session.files.contents)  # type: ignore[union-attr]
    drawn.see(-1, -1, 9, 4)
    drawn.click(1, 2)
    drawn.click(7, 2, SHIFT)
    assert [one.name for one in drawn.board.features()] == ["Office", "Store"]
    drawn.tools.merge_action.trigger()
    assert len(drawn.features("ground")) == 1
    assert drawn.outline("ground").equals(box(0, 0, 8, 3))
    # the door is gone, and so is what the round said of it: else nobody could read the site
    assert "sealed" not in drawn.file("site.toml").decode()
    drawn.judged()
    assert drawn.session.why_no_site == ""
    drawn.session.undo_stack.undo()
    assert dict(drawn.session.files.contents) == before  # type: ignore[union-attr]


def test_a_dragged_corner_takes_the_neighbour_along(drawn: Drawn) -> None:
    drawn.see(-1, -1, 9, 4)
    drawn.click(1, 2)
    drawn.drag((4, 3), (4.5, 3.5))
    shapes = [drawn.outline("ground", n) for n in (0, 1)]
    shared = set(shapes[0].exterior.coords) & set(shapes[1].exterior.coords)
    moved = next(one for one in shared if one[1] > 3)
    assert moved == pytest.approx((4.5, 3.5), abs=3 / drawn.canvas.px_per_m)
    assert drawn.session.undo_stack.count() == 1


def test_a_corner_is_moved_and_taken_out_by_keys(drawn: Drawn) -> None:
    drawn.board.choose(["room B"])
    drawn.canvas.setFocus()
    corners = shapely.get_coordinates(drawn.outline("ground", 1))
    drawn.key(Qt.Key.Key_N)
    drawn.key(Qt.Key.Key_N)
    assert drawn.board.corner == 1
    drawn.type("0.25")
    drawn.key(Qt.Key.Key_Up)
    moved = shapely.get_coordinates(drawn.outline("ground", 1))[1]
    assert moved == pytest.approx(corners[1] + (0, 0.25))
    drawn.key(Qt.Key.Key_Delete)
    assert len(drawn.outline("ground", 1).exterior.coords) == 4


def test_delete_takes_the_chosen_out_and_says_how_to_bring_it_back(drawn: Drawn) -> None:
    drawn.see(-1, -1, 9, 4)
    drawn.click(6, 1.5)
    drawn.key(Qt.Key.Key_Delete)
    assert [one["properties"]["id"] for one in drawn.features("ground")] == ["A"]
    assert "Ctrl+Z" in drawn.window.said.text()


def test_a_name_and_a_state_are_edited_in_the_table(drawn: Drawn) -> None:
    model = drawn.panel.parts.parts
    rows = {one.key: n for n, one in enumerate(model.parts)}
    assert model.setData(model.index(rows["room A"], 0), "Laboratory")
    assert drawn.features("ground")[0]["properties"]["name"] == "Laboratory"
    assert model.setData(model.index(rows["opening door"], 1), "closed")
    assert drawn.features("ground", "opening")[0]["properties"]["state"] == "closed"
    assert model.setData(model.index(rows["room A"], 0), "Store")  # another room has that name
    assert "store" in drawn.notice
    assert drawn.features("ground")[0]["properties"]["name"] == "Laboratory"


def test_an_opening_is_set_in_the_chosen_round_only(drawn: Drawn) -> None:
    plan = drawn.file("plans/ground.geojson")
    drawn.panel.where.setCurrentIndex(drawn.panel.where.findData("one"))
    drawn.panel.where.activated.emit(drawn.panel.where.currentIndex())
    shown = {one.key: one.state for one in drawn.panel.parts.parts.parts}
    assert shown["opening door"] == "sealed"
    drawn.board.choose(["opening door"])
    drawn.panel.set_states("closed")
    assert 'door = "closed"' in drawn.file("site.toml").decode()
    assert "a remark that stays" in drawn.file("site.toml").decode()
    drawn.panel.set_states("open")  # as the plan has it: the round need not say it
    assert "rounds.openings" not in drawn.file("site.toml").decode()
    assert drawn.file("plans/ground.geojson") == plan


def test_the_table_and_the_plan_choose_the_same(drawn: Drawn) -> None:
    drawn.panel.show_page(PARTS)
    drawn.panel.parts.selectRow(1)
    assert drawn.board.chosen == ("room B",)
    drawn.see(-1, -1, 9, 4)
    drawn.click(1, 2)
    rows = drawn.panel.parts.selectionModel().selectedRows()
    assert [index.row() for index in rows] == [0]


def test_a_wall_is_drawn_and_ended_by_enter(drawn: Drawn) -> None:
    drawn.tools.wall_action.trigger()
    for place in ("1 1", "1 2"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    drawn.key(Qt.Key.Key_Return)
    (wall,) = drawn.features("ground", "wall")
    assert wall["geometry"]["coordinates"] == [[1, 1], [1, 2]]


def test_a_door_far_from_every_wall_is_refused(drawn: Drawn) -> None:
    before = drawn.file("plans/ground.geojson")
    drawn.tools.opening_action.trigger()
    drawn.type("2 1.5")
    drawn.key(Qt.Key.Key_Return)
    assert "wall" in drawn.notice
    assert drawn.file("plans/ground.geojson") == before


def choose_finding(drawn: Drawn, good: Callable[[Any], bool]) -> Any:
    table = drawn.panel.points
    for row, point in enumerate(table.points.points):
        if point.finding is not None and good(point.finding):
            table.selectRow(row)
            return point.finding
    raise AssertionError([one.message for one in table.points.points])


def test_a_lost_floor_is_drawn_and_a_repair_makes_it_mappable(drawn: Drawn, folder: Path) -> None:
    drawn.floor("bad")
    assert drawn.session.floor is None
    assert drawn.board.draft is not None
    items = drawn.canvas._backing.ground.drawing
    assert any(getattr(getattr(item, "pen", None), "dashes", ()) for item in items)
    finding = choose_finding(drawn, lambda one: one.severity == "error" and one.repair)
    assert drawn.panel.findings.repair.isVisibleTo(drawn.panel)
    assert "m²" in drawn.panel.findings.text.text()
    assert not drawn.panel.findings.keep.isVisibleTo(drawn.panel)
    drawn.panel.findings.repair.click()
    drawn.judged()
    assert drawn.session.floor is not None
    assert finding.key not in {
        one.finding.key for one in drawn.panel.points.points.points if one.finding
    }
    drawn.session.undo_stack.undo()
    assert drawn.file("plans/bad.geojson") == (folder / "plans/bad.geojson").read_bytes()


def test_repair_all_is_one_step(drawn: Drawn) -> None:
    drawn.floor("bad")
    drawn.panel.findings.mend_all()
    drawn.qtbot.waitUntil(lambda: drawn.session.undo_stack.count() > 0, timeout=SLOW_MS)
    assert drawn.session.undo_stack.count() == 1
    drawn.judged()
    assert drawn.session.floor is not None


def test_kept_as_drawn_survives_saving_and_can_be_asked_again(drawn: Drawn, folder: Path) -> None:
    drawn.session.edit("", lambda files: files.with_file("plans/ground.geojson", plan_bytes(
        raw_feature("room", box(0, 0, 4, 3), id="A", name="Office"),
        raw_feature("room", box(4, 0, 8, 3), id="B", name="Store"),
        raw_feature("opening", shapely.LineString([(4, 1), (4, 2)]), id="door", state="open"),
        raw_feature("room", box(10, 0, 14, 3), id="X", name="Without a door"),
    )))  # fmt: skip
    drawn.judged()
    finding = choose_finding(drawn, lambda one: one.severity != "error")
    drawn.panel.findings.keep.click()
    assert drawn.session.save()
    assert drawn.window.open_site(folder)
    drawn.judged()
    kept = choose_finding(drawn, lambda one: one.key == finding.key)
    assert kept.kept
    assert not drawn.panel.findings.repair.isVisibleTo(drawn.panel)
    drawn.panel.findings.again.click()
    drawn.judged()
    assert not choose_finding(drawn, lambda one: one.key == finding.key).kept


def test_a_plan_in_millimetres_is_scaled_by_two_points(drawn: Drawn) -> None:
    drawn.floor("empty")
    big = plan_bytes(raw_feature("room", box(0, 0, 4000, 3000), id="A", name="Office"))
    drawn.session.edit("", lambda files: files.with_file("plans/empty.geojson", big))
    drawn.judged()
    assert any("span" in one.message for one in drawn.panel.points.points.points)
    drawn.panel.floor_page.take_scale()
    for place in ("0 0", "4000 0"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    QTest.keyClicks(drawn.panel.ask.fields["length"], "4")
    drawn.panel.ask.answer()
    assert drawn.outline("empty").equals(box(0, 0, 4, 3))


def test_a_plan_with_readings_on_it_is_scaled_only_after_a_second_question(drawn: Drawn) -> None:
    before = drawn.file("plans/ground.geojson")
    drawn.panel.floor_page.take_scale()
    for place in ("0 0", "8 0"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    QTest.keyClicks(drawn.panel.ask.fields["length"], "16")
    drawn.panel.ask.answer()
    assert "3 readings" in drawn.panel.ask.text.text()
    assert drawn.file("plans/ground.geojson") == before
    drawn.panel.ask.answer()
    assert drawn.outline("ground", 0).equals(box(0, 0, 8, 6))


@pytest.mark.parametrize("answered", [True, False])
def test_the_line_of_a_scale_is_seen_until_its_length_is_said(drawn: Drawn, answered: bool) -> None:
    drawn.panel.floor_page.take_scale()
    tool = drawn.panel.floor_page.scale_tool
    for place in ("0 0", "8 0"):
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    assert drawn.panel.ask.asking
    lines = [one.shape for one in tool.overlay() if isinstance(one, Path_)]
    assert lines
    assert lines[0].equals(shapely.LineString([(0, 0), (8, 0)]))
    drawn.click(3, 2)
    assert len(tool.places) == 2
    if answered:
        QTest.keyClicks(drawn.panel.ask.fields["length"], "16")
        drawn.panel.ask.answer()
        assert tool.places  # asked a second time, for readings lie there
        drawn.panel.ask.answer()
    else:
        drawn.panel.ask.refuse()
    assert not tool.places
    assert drawn.canvas.tool is drawn.tools.pick


def test_a_scale_whose_points_lie_together_is_asked_anew(drawn: Drawn) -> None:
    drawn.panel.floor_page.take_scale()
    tool = drawn.panel.floor_page.scale_tool
    tool.places = [(0.0, 0.0), (0.0, 0.0)]
    tool._finish()
    assert drawn.notice
    assert not tool.places
    assert not tool.waiting


def picture(path: Path, wide: int = 400, high: int = 200) -> Path:
    image = QImage(wide, high, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.lightGray)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    path.write_bytes(bytes(buffer.data().data()))
    return path


def test_a_picture_is_laid_under_a_plan_and_scaled(drawn: Drawn, tmp_path: Path) -> None:
    drawn.floor("empty")
    before = drawn.file("site.toml")
    page = drawn.panel.floor_page.picture
    page.take_picture(picture(tmp_path / "scan.png"))
    drawn.settle()
    assert drawn.file("plans/empty.png") == (tmp_path / "scan.png").read_bytes()
    assert drawn.canvas._backing.ground.underlay is not None
    for place in ("2 5", "12 5"):  # 200 pixels of the 400 that span 20 m
        drawn.type(place)
        drawn.key(Qt.Key.Key_Return)
    QTest.keyClicks(drawn.panel.ask.fields["length"], "20")
    unit: Any = drawn.panel.ask.fields["unit"]
    unit.setCurrentIndex(unit.findData("ft"))
    drawn.panel.ask.answer()
    entry = drawn.board.entry
    assert entry is not None
    assert entry.picture is not None
    assert entry.picture.m_per_px == pytest.approx(20 * 0.3048 / 200)
    lies = PlanPicture(**entry.picture.model_dump())
    assert lies.to_pixels([(2, 5)])[0] == pytest.approx((40, 100))
    drawn.session.undo_stack.undo()
    drawn.session.undo_stack.undo()
    assert drawn.file("site.toml") == before
    assert "plans/empty.png" not in drawn.session.files.contents  # type: ignore[union-attr]
    assert drawn.canvas._backing.ground.underlay is None


def test_what_is_no_picture_is_refused(drawn: Drawn, tmp_path: Path) -> None:
    (tmp_path / "no.png").write_text("no picture")
    drawn.panel.floor_page.picture.take_picture(tmp_path / "no.png")
    drawn.settle()
    assert "no.png" in drawn.notice
    assert not drawn.session.unsaved


def test_a_floor_is_added_copied_renamed_and_removed(drawn: Drawn) -> None:
    page, ask = drawn.panel.floor_page, drawn.panel.ask
    drawn.panel.show_page(FLOOR)
    plan = drawn.file("plans/ground.geojson")
    page.copy_floor()
    QTest.keyClicks(ask.fields["name"], "First floor")
    QTest.keyClick(ask.fields["name"], Qt.Key.Key_Return)
    assert drawn.session.choices.floor == "First floor"
    assert drawn.board.entry is not None
    assert drawn.file(drawn.board.entry.plan) == plan
    drawn.judged()
    assert [one.name for one in drawn.session.site.floors] == ["ground", "First floor"]  # type: ignore[union-attr]
    page.rename_floor()
    ask.fields["name"].clear()
    QTest.keyClicks(ask.fields["name"], "Upstairs")
    QTest.keyClick(ask.fields["name"], Qt.Key.Key_Return)
    assert drawn.board.entry is not None
    assert (drawn.board.entry.name, drawn.board.entry.title) == ("First floor", "Upstairs")
    page.remove_floor()
    ask.refuse()
    assert "First floor" in drawn.file("site.toml").decode()
    page.remove_floor()
    ask.answer()
    assert "First floor" not in drawn.file("site.toml").decode()
    drawn.judged()
    assert drawn.session.choices.floor == "ground"


def test_north_is_typed_and_nonsense_is_refused(drawn: Drawn) -> None:
    field = drawn.panel.floor_page.north
    drawn.panel.show_page(FLOOR)
    QTest.keyClicks(field, "12,5")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert "north_deg = 12.5" in drawn.file("site.toml").decode()
    field.clear()
    QTest.keyClicks(field, "up")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert "no direction" in drawn.notice
    assert "north_deg = 12.5" in drawn.file("site.toml").decode()


def test_a_file_that_is_no_plan_is_set_aside_for_a_new_one(drawn: Drawn) -> None:
    drawn.session.edit("", lambda files: files.with_file("plans/empty.geojson", b"{ no plan"))
    drawn.floor("empty")
    assert drawn.board.draft is None
    assert drawn.board.why
    drawn.panel.floor_page.begin_anew()
    assert drawn.file("plans/empty.geojson.set-aside-1") == b"{ no plan"
    assert drawn.board.draft is not None


def test_shortcuts_of_the_plan_sleep_while_another_question_is_asked(drawn: Drawn) -> None:
    drawn.window.choose_question(2)
    assert not any(one.isEnabled() for one in drawn.panel.actions_of())
    assert not isinstance(drawn.canvas.tool, PickTool)
    drawn.window.choose_question(1)
    assert drawn.tools.trace_action.isEnabled()
    shortcuts = [one.shortcut().toString() for one in drawn.panel.actions_of()]
    assert all(shortcuts)
    assert len(set(shortcuts)) == len(shortcuts)
