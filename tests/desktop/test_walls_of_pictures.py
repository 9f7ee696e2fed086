"""A picture is laid under a plan and placed; the walls that it offers are taken one by one."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw
from PySide6.QtCore import Qt

from hgmap.desktop.bring_in.rooms_dialog import RoomsOfWallsDialog
from hgmap.desktop.bring_in.walls_dialog import WallsDialog
from hgmap.desktop.panels.place_by_points import two_numbers
from hgmap.desktop.panels.plan_panel import PlanPanel
from hgmap.desktop.window import Window
from hgmap.editing.plan_of_floor import picture_of
from hgmap.site.plan_picture import PlanPicture
from tests.desktop.plan_bench import PlanBench

EMPTY = json.dumps({"type": "FeatureCollection", "features": []})
M_PER_PX = 0.02
SIZE = (450, 300)


def scan() -> Image.Image:
    """Draw a house of 8.4 by 5.4 m: a wall across with a door of 0.9 m, and a small table."""
    image = Image.new("L", SIZE, 255)
    draw = ImageDraw.Draw(image)
    for corners in (
        (15, 15, 435, 24), (15, 276, 435, 285), (15, 15, 24, 285), (426, 15, 435, 285),
        (220, 15, 229, 120), (220, 165, 229, 285),
    ):  # fmt: skip
        draw.rectangle(corners, fill=0)
    draw.rectangle((300, 80, 340, 110), outline=0)
    return image


class Bench(PlanBench):
    """A floor without a room, and what is done with the picture under it."""

    @property
    def panel(self) -> PlanPanel:
        panel = self.window.column.panels["plan"]
        assert isinstance(panel, PlanPanel)
        return panel

    def lay(self, name: str, **how: Any) -> None:
        path = self.folder / name
        scan().save(path, **how)
        self.window.choose_question(1)
        self.panel.floor_page.picture.take_picture(path)
        self.settle()

    @property
    def picture(self) -> PlanPicture:
        entry = self.window.desk.board.entry
        found = picture_of(entry) if entry else None
        assert found is not None
        return found

    def click_points(self, *pixels: tuple[float, float]) -> None:
        """Click on pixels of the picture as it lies now, then press Enter."""
        places = self.picture.to_metres(list(pixels))
        self.panel.floor_page.picture.by_points.take()
        canvas = self.window.canvas
        for x, y in places:
            at = canvas.to_widget(float(x), float(y)).toPoint()
            self.qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=at)
        self.qtbot.keyClick(canvas, Qt.Key.Key_Return)

    def place(self) -> None:
        """Place the picture so that a pixel is 2 cm and its lower left corner the origin."""
        self.window.canvas.fit(self.window.plan_view.underlay.bounds())
        pixels = ((0.0, 300.0), (450.0, 300.0), (450.0, 0.0))
        self.click_points(*pixels)
        for n, text in enumerate(("0, 0", "9, 0", "9, 6"), start=1):
            field: Any = self.panel.ask.fields[str(n)]
            field.setText(text)
        self.panel.ask.answer()
        self.panel.ask.answer()
        self.settle()


@pytest.fixture
def bench(open_window: Callable[..., Window], qtbot: Any, tmp_path: Path) -> Bench:
    return Bench(open_window(), qtbot, tmp_path, EMPTY)


@pytest.mark.parametrize("name", ["scan.png", "scan.jpg", "scan.tif", "scan.pdf"])
def test_a_picture_of_any_kind_lies_under_the_plan_at_a_guessed_size(
    bench: Bench, name: str
) -> None:
    bench.lay(name)
    assert bench.picture.guessed
    assert bench.window.plan_view.underlay.decoded is not None
    assert not bench.panel.floor_page.picture.buttons["points"].isHidden()


def test_of_several_pages_one_is_asked_for(bench: Bench) -> None:
    bench.lay("scan.pdf", save_all=True, append_images=[Image.new("L", (80, 40), 255)])
    assert "2 pages" in bench.panel.ask.text.text()
    page: Any = bench.panel.ask.fields["page"]
    for text, lies in (("x", False), ("2", True)):
        page.setText(text)
        bench.panel.ask.answer()
        bench.settle()
        entry = bench.window.desk.board.entry
        assert entry is not None
        assert (entry.picture is not None) == lies
    decoded = bench.window.plan_view.underlay.decoded
    assert decoded is not None
    assert decoded.size.width() == pytest.approx(2 * decoded.size.height(), abs=1)


def test_a_page_that_the_file_has_not_is_said_without_an_option(bench: Bench) -> None:
    bench.lay("scan.pdf", save_all=True, append_images=[scan()])
    page: Any = bench.panel.ask.fields["page"]
    page.setText("7")
    bench.panel.ask.answer()
    bench.settle()
    said = bench.window.notice.text.text()
    assert "no page 7" in said
    assert "--" not in said


def test_without_the_library_a_pdf_is_one_line_that_says_what_to_install(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pypdfium2", None)
    bench.lay("scan.pdf")
    assert "pip install" in bench.window.notice.text.text()
    entry = bench.window.desk.board.entry
    assert entry is not None
    assert entry.picture is None


def test_a_picture_is_dropped_on_the_plan(bench: Bench) -> None:
    path = bench.folder / "scan.tif"
    scan().save(path)
    assert bench.drop(path)
    bench.settle()
    assert bench.picture.file == "plans/ground.png"


def test_points_place_it_once_their_misses_were_shown(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.window.canvas.fit(bench.window.plan_view.underlay.bounds())
    before = bench.picture
    bench.click_points((0.0, 300.0), (450.0, 300.0), (450.0, 0.0))
    for n, text in enumerate(("0, 0", "9, 0", "9,1; 6"), start=1):
        field: Any = bench.panel.ask.fields[str(n)]
        field.setText(text)
    bench.panel.ask.answer()
    said = bench.panel.ask.text.text()
    assert "Point 3 misses by" in said
    assert "Root mean square" in said
    assert bench.picture == before
    bench.panel.ask.answer()
    bench.settle()
    assert not bench.picture.guessed
    assert bench.picture.m_per_px == pytest.approx(M_PER_PX, rel=0.02)
    bench.window.session.undo_stack.undo()
    assert bench.picture == before


def test_points_that_are_no_numbers_or_do_not_fit_place_nothing(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.window.canvas.fit(bench.window.plan_view.underlay.bounds())
    before = bench.picture
    bench.click_points((0.0, 300.0), (450.0, 300.0), (450.0, 0.0))
    for texts in (("0, 0", "nine", "9, 6"), ("0, 0", "9, 0", "9, -6"), ("0, 0", "0, 0", "9, 6")):
        for n, text in enumerate(texts, start=1):
            field: Any = bench.panel.ask.fields[str(n)]
            field.setText(text)
        bench.panel.ask.answer()
        said = bench.window.notice.text.text()
        assert said
        assert "--" not in said
        assert "1" in bench.panel.ask.fields  # it is still asked
        assert "pixels" not in said
        assert "count rows" not in said
    assert bench.picture == before


def test_why_points_did_not_fit_is_put_away_once_they_do(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.window.canvas.fit(bench.window.plan_view.underlay.bounds())
    bench.click_points((0.0, 300.0), (450.0, 300.0), (450.0, 0.0))
    for last, fits in (("3, 6", False), ("9, 6", True)):
        for n, text in enumerate(("0, 0", "9, 0", last), start=1):
            field: Any = bench.panel.ask.fields[str(n)]
            field.setText(text)
        bench.panel.ask.answer()
        assert bench.window.notice.isHidden() == fits
    bench.panel.ask.answer()
    bench.settle()
    assert not bench.picture.guessed


def test_why_a_picture_was_not_laid_is_put_away_once_one_is_and_nothing_else_is(
    bench: Bench,
) -> None:
    picture, notice = bench.panel.floor_page.picture, bench.window.notice
    for other in ("", "something else"):
        picture.take_picture(bench.folder / "nowhere.png")
        bench.settle()
        assert "no such file" in notice.text.text()
        if other:
            bench.window.session.trouble.emit(other)
        bench.lay("scan.png")
        assert notice.isHidden() == (not other)


def test_what_was_drawn_at_a_guessed_size_does_not_stay_behind(bench: Bench) -> None:
    from hgmap.editing.plan_edits import add_room

    bench.lay("scan.png")
    bench.window.desk.board.edit("x", lambda now: add_room(now, [(0, 0), (4, 0), (4, 3)], "A"))
    bench.panel.floor_page.picture.by_points.take()
    assert "scale the picture first" in bench.window.notice.text.text()
    assert bench.window.canvas.tool is not bench.panel.floor_page.picture.by_points.tool


def test_why_a_floor_was_not_added_is_put_away_once_it_is(bench: Bench) -> None:
    bench.panel.floor_page.copy_floor()
    name: Any = bench.panel.ask.fields["name"]
    for text, there in (("ground", 1), ("upper", 2)):
        name.setText(text)
        bench.panel.ask.answer()
        bench.settle()
        table = bench.window.desk.board.table
        assert table is not None
        assert len(table.floors) == there
        assert bench.window.notice.isHidden() == (there == 2)


def test_nothing_is_offered_at_a_guessed_scale(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.open("walls")
    assert "set the scale" in bench.look_page.trouble.text()
    assert not bench.look_page.yes.isEnabled()


def test_walls_are_offered_and_only_those_that_are_ticked_are_taken(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.place()
    files = bench.window.session.files
    bench.open("walls")
    page = bench.look_page
    assert isinstance(page, WallsDialog)
    assert page.proposals is not None
    assert len(page.proposals.doors) == 1
    assert not any(one.ticked for one in page.table.rows)
    assert not page.yes.isEnabled()
    assert bench.window.session.files is files
    page.quick["thick"].click()
    ticked = [one for one in page.table.rows if one.ticked]
    assert len(ticked) == 7  # six walls and the door between them; the table is of lines
    first = page.table.rows.index(ticked[0])
    page.table.selectRow(first)
    bench.qtbot.keyClick(page.table, Qt.Key.Key_Space)
    bench.take()
    draft = bench.window.desk.board.draft
    assert draft is not None
    assert (len(draft.walls), len(draft.openings)) == (5, 1)
    bench.window.session.undo_stack.undo()
    assert bench.window.session.files is files


def test_without_the_library_walls_are_not_offered_and_it_is_said_what_to_install(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.lay("scan.png")
    bench.place()
    for name in [one for one in sys.modules if one.partition(".")[0] == "skimage"]:
        monkeypatch.setitem(sys.modules, name, None)
    monkeypatch.setitem(sys.modules, "skimage", None)
    bench.open("walls")
    assert "pip install" in bench.look_page.trouble.text()
    assert "\n" not in bench.look_page.trouble.text()


def test_rooms_are_found_between_the_walls_that_were_taken(bench: Bench) -> None:
    bench.lay("scan.png")
    bench.place()
    bench.open("walls")
    page = bench.look_page
    assert isinstance(page, WallsDialog)
    page.quick["thick"].click()
    bench.take()
    files = bench.window.session.files
    bench.open("rooms")
    assert isinstance(bench.look_page, RoomsOfWallsDialog)
    assert "New rooms: 2" in bench.look_page.said.text()
    assert bench.window.session.files is files
    bench.take()
    (floor,) = bench.floors()
    # to the middle of the walls, which lie 4.1 and 4.12 m apart, and 5.22 m
    assert sorted(one.area_m2 for one in floor.rooms) == pytest.approx([21.4, 21.5], abs=0.3)
    assert [one.rooms for one in floor.openings] == [("R1", "R2")]


def test_a_plan_without_walls_has_no_rooms_to_find(bench: Bench) -> None:
    assert not bench.panel.floor_page.buttons["rooms"].isEnabled()
    bench.open("rooms")
    assert "no wall" in bench.look_page.trouble.text()
    assert not bench.look_page.yes.isEnabled()


def test_places_are_typed_as_people_write_numbers() -> None:
    assert two_numbers("0, 12.5") == (0.0, 12.5)
    assert two_numbers("0,12") == (0.0, 12.0)
    assert two_numbers("1,5; 2,25") == (1.5, 2.25)
    assert two_numbers("1,5 2,25") == (1.5, 2.25)
    assert two_numbers("-3.2 4") == (-3.2, 4.0)
    assert [two_numbers(one) for one in ("", "1", "1, 2, 3", "a, b", "nan, 1")] == [None] * 5
