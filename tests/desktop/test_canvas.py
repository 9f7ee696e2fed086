from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QPointF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from hgmap.desktop.canvas import Canvas
from hgmap.desktop.tools.tool import PointerEvent, Tool
from hgmap.report.drawing import Area, Dot, Drawing, Hatch, Label, Pen
from tests.desktop.patience import SLOW_MS
from tests.desktop.pointer import move

EXTENT = (0.0, 0.0, 20.0, 10.0)
FLOOR: Drawing = (
    Area(shapely.box(*EXTENT), "#dde5ee", Hatch("dots", "#00508a", 6.0, 1.7), Pen("#000000", 1.5)),
    Area(shapely.box(3.0, 2.0, 9.0, 7.0), None, Hatch("cross", "#8a8f94", 6.0, 0.6)),
    Label(5.0, 5.0, "Store", 9.0, halo="#ffffff"),
)


@pytest.fixture
def canvas(qtbot: QtBot) -> Iterator[Canvas]:
    made = Canvas()
    qtbot.addWidget(made)
    made.resize(400, 300)
    made.show()
    made.set_drawing(FLOOR, EXTENT)
    QApplication.processEvents()
    yield made
    made.close()


class Spy(Tool):
    def __init__(self, takes: bool = True) -> None:
        self.takes = takes
        self.told: list[tuple[str, PointerEvent | None]] = []
        self.drawing: Drawing = ()

    def press(self, event: PointerEvent) -> bool:
        self.told.append(("press", event))
        return self.takes

    def move(self, event: PointerEvent) -> bool:
        self.told.append(("move", event))
        return self.takes

    def release(self, event: PointerEvent) -> bool:
        self.told.append(("release", event))
        return self.takes

    def key(self, event: QKeyEvent) -> bool:
        self.told.append(("key", None))
        return self.takes

    def cancel(self) -> None:
        self.told.append(("cancel", None))

    def overlay(self) -> Drawing:
        return self.drawing


def seen(canvas: Canvas) -> NDArray[np.uint8]:
    canvas.complete()
    return seen_now(canvas)


def seen_now(canvas: Canvas) -> NDArray[np.uint8]:
    """What it shows before anything more is painted."""
    image = canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.width(), 4)
    return rows[..., 2::-1].copy()


def afresh(canvas: Canvas) -> NDArray[np.uint8]:
    """What a canvas that never was moved shows of the same view."""
    other = Canvas()
    other.resize(canvas.size())
    other.set_drawing(FLOOR, EXTENT)
    other.set_view(canvas.view)
    return seen(other)


def drag(qtbot: QtBot, canvas: Canvas, button: Qt.MouseButton) -> None:
    start, end = QPoint(200, 150), QPoint(230, 130)
    qtbot.mousePress(canvas, button, pos=start)
    move(canvas, QPoint(215, 140), button)
    move(canvas, end, button)
    qtbot.mouseRelease(canvas, button, pos=end)


def wheel(canvas: Canvas, at: QPointF, steps: int) -> None:
    event = QWheelEvent(
        at, canvas.mapToGlobal(at), QPoint(0, 0), QPoint(0, 120 * steps), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(canvas, event)


def test_the_first_drawing_is_shown_whole(canvas: Canvas) -> None:
    west, south, east, north = canvas.view.bounds
    assert west < 0.0 < 20.0 < east
    assert south < 0.0 < 10.0 < north


def test_another_drawing_keeps_the_view(canvas: Canvas) -> None:
    canvas.zoom_by(3.0)
    before = canvas.view
    canvas.set_drawing(FLOOR[:1], (0.0, 0.0, 90.0, 90.0))
    assert canvas.view == before
    assert not np.array_equal(seen(canvas), afresh(canvas))


def test_the_wheel_enlarges_about_the_pointer(canvas: Canvas) -> None:
    at = QPointF(90.0, 210.0)
    place, before = canvas.to_plan(at), canvas.px_per_m
    wheel(canvas, at, 2)
    assert canvas.to_plan(at) == pytest.approx(place)
    assert canvas.px_per_m > 1.4 * before
    wheel(canvas, at, -2)
    assert canvas.px_per_m == pytest.approx(before)


@pytest.mark.parametrize(
    ("key", "sign"), [(Qt.Key.Key_Plus, 1), (Qt.Key.Key_Equal, 1), (Qt.Key.Key_Minus, -1)]
)
def test_plus_and_minus_enlarge_about_the_middle(
    qtbot: QtBot, canvas: Canvas, key: Qt.Key, sign: int
) -> None:
    before = canvas.view
    qtbot.keyClick(canvas, key)
    assert (canvas.px_per_m - before.px_per_m) * sign > 0.0
    assert (canvas.view.x, canvas.view.y) == (before.x, before.y)


@pytest.mark.parametrize("key", [Qt.Key.Key_0, Qt.Key.Key_Home])
def test_a_key_shows_all_again(qtbot: QtBot, canvas: Canvas, key: Qt.Key) -> None:
    whole = canvas.view
    canvas.zoom_by(5.0)
    canvas.pan_by(70.0, 12.0)
    qtbot.keyClick(canvas, key)
    assert canvas.view == whole


@pytest.mark.parametrize(
    ("key", "x", "y"),
    [
        (Qt.Key.Key_Left, -1, 0), (Qt.Key.Key_Right, 1, 0),
        (Qt.Key.Key_Up, 0, 1), (Qt.Key.Key_Down, 0, -1),
    ],
)  # fmt: skip
def test_an_arrow_looks_that_way(qtbot: QtBot, canvas: Canvas, key: Qt.Key, x: int, y: int) -> None:
    before = canvas.view
    qtbot.keyClick(canvas, key)
    moved = np.sign([canvas.view.x - before.x, canvas.view.y - before.y])
    assert moved.tolist() == [x, y]


@pytest.mark.parametrize("button", [Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton])
def test_a_drag_takes_the_plan_along(qtbot: QtBot, canvas: Canvas, button: Qt.MouseButton) -> None:
    place = canvas.to_plan(QPointF(200.0, 150.0))
    drag(qtbot, canvas, button)
    assert canvas.to_plan(QPointF(230.0, 130.0)) == pytest.approx(place)


def test_a_drag_with_space_pans_though_a_tool_is_in_hand(qtbot: QtBot, canvas: Canvas) -> None:
    tool = Spy()
    tool.takes = False
    canvas.set_tool(tool)
    qtbot.keyPress(canvas, Qt.Key.Key_Space)
    tool.takes = True
    before = canvas.view
    drag(qtbot, canvas, Qt.MouseButton.LeftButton)
    assert canvas.view != before
    assert "press" not in [name for name, _ in tool.told]
    qtbot.keyRelease(canvas, Qt.Key.Key_Space)
    drag(qtbot, canvas, Qt.MouseButton.LeftButton)
    assert "press" in [name for name, _ in tool.told]


def test_a_tool_that_takes_a_drag_gets_all_of_it(qtbot: QtBot, canvas: Canvas) -> None:
    tool = Spy()
    canvas.set_tool(tool)
    before = canvas.view
    drag(qtbot, canvas, Qt.MouseButton.LeftButton)
    assert canvas.view == before
    assert [name for name, _ in tool.told] == ["press", "move", "move", "release"]
    event = tool.told[-1][1]
    assert event is not None
    assert (event.x_m, event.y_m) == pytest.approx(canvas.to_plan(QPointF(230.0, 130.0)))
    assert event.m_per_px == pytest.approx(1.0 / canvas.px_per_m)


def test_a_tool_that_takes_nothing_leaves_the_drag_to_the_canvas(
    qtbot: QtBot, canvas: Canvas
) -> None:
    tool = Spy(takes=False)
    canvas.set_tool(tool)
    before = canvas.view
    drag(qtbot, canvas, Qt.MouseButton.LeftButton)
    assert canvas.view != before
    assert "release" not in [name for name, _ in tool.told]


def test_escape_and_another_tool_give_up_what_is_half_done(qtbot: QtBot, canvas: Canvas) -> None:
    tool = Spy(takes=False)
    canvas.set_tool(tool)
    qtbot.keyClick(canvas, Qt.Key.Key_Escape)
    assert [name for name, _ in tool.told] == ["key", "cancel"]
    canvas.set_tool(None)
    assert [name for name, _ in tool.told] == ["key", "cancel", "cancel"]


def test_a_click_is_told_and_a_drag_is_none(qtbot: QtBot, canvas: Canvas) -> None:
    places: list[tuple[float, float]] = []
    canvas.clicked.connect(lambda x, y: places.append((x, y)))
    qtbot.mouseClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(120, 80))
    assert places == [pytest.approx(canvas.to_plan(QPointF(120.0, 80.0)))]
    drag(qtbot, canvas, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(canvas, Qt.MouseButton.RightButton, pos=QPoint(120, 80))
    assert len(places) == 1


def test_the_pointer_is_followed(qtbot: QtBot, canvas: Canvas) -> None:
    with qtbot.waitSignal(canvas.cursor_moved) as told:
        move(canvas, QPoint(60, 70))
    assert told.args == pytest.approx(list(canvas.to_plan(QPointF(60.0, 70.0))))


def test_a_change_is_told_at_once_and_once_more_when_it_rests(qtbot: QtBot, canvas: Canvas) -> None:
    with qtbot.waitSignals([canvas.view_changed, canvas.view_settled], timeout=SLOW_MS):
        canvas.zoom_by(1.5)


MOVES: tuple[Callable[[Canvas], None], ...] = (
    lambda canvas: canvas.pan_by(37.0, -21.0),
    lambda canvas: canvas.pan_by(-390.0, 150.0),
    lambda canvas: canvas.pan_by(1000.0, 900.0),
    lambda canvas: canvas._settle(),
    lambda canvas: canvas.pan_by(-163.0, 0.0),
    lambda canvas: canvas.pan_by(-300.0, -700.0),
    lambda canvas: canvas.pan_by(5.0, 161.0),
)


def test_a_plan_moved_about_looks_as_one_painted_there(canvas: Canvas) -> None:
    canvas.clearFocus()
    canvas.zoom_by(4.0)
    for step in MOVES:
        step(canvas)
        assert np.array_equal(seen(canvas), afresh(canvas))
    assert (seen(canvas) != 255).any()


def test_a_slow_picture_is_enlarged_first_and_crisp_when_it_rests(
    qtbot: QtBot, canvas: Canvas
) -> None:
    canvas.clearFocus()
    seen(canvas)
    canvas._backing.took_s = 1.0
    canvas.zoom_by(1.7)
    rough = seen_now(canvas)
    assert not np.array_equal(rough, afresh(canvas))
    # the parts of the scale bar are those of now, never of the old picture
    bar = np.s_[-18:-16, 17:85]
    assert np.array_equal(rough[bar] < 60, afresh(canvas)[bar] < 60)
    assert (rough[bar] < 60).any()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert np.array_equal(seen_now(canvas), afresh(canvas))


def test_an_overlay_lies_on_top_and_goes(canvas: Canvas) -> None:
    before = seen(canvas)
    canvas.set_overlay("spot", (Dot(10.0, 5.0, 20.0, "circle", "#ff0000"),))
    at = canvas.to_widget(10.0, 5.0).toPoint()
    assert seen(canvas)[at.y(), at.x()].tolist() == [255, 0, 0]
    canvas.set_overlay("spot", ())
    assert np.array_equal(seen(canvas), before)


def test_a_tool_draws_over_the_plan(canvas: Canvas) -> None:
    tool = Spy()
    canvas.set_tool(tool)
    tool.drawing = (Dot(10.0, 5.0, 20.0, "circle", "#00aa00"),)
    at = canvas.to_widget(10.0, 5.0).toPoint()
    assert seen(canvas)[at.y(), at.x()].tolist() == [0, 170, 0]


def test_the_paper_is_white_whatever_the_window(canvas: Canvas) -> None:
    palette = canvas.palette()
    palette.setColor(palette.ColorRole.Window, QColor("#101010"))
    palette.setColor(palette.ColorRole.Base, QColor("#101010"))
    canvas.setPalette(palette)
    canvas.clearFocus()
    canvas.set_view(canvas.view.centred(-500.0, -500.0))
    assert (seen(canvas)[:200] == 255).all()


def test_an_image_lies_where_its_transform_says(canvas: Canvas) -> None:
    image = QImage(40, 20, QImage.Format.Format_RGB32)
    image.fill(QColor("#ff0000"))
    for column in range(20):
        for row in range(20):
            image.setPixelColor(column, row, QColor("#0000ff"))
    canvas.set_drawing((), EXTENT)
    # turned a quarter: along a row of pixels is up the plan
    canvas.set_underlay(image, (0.0, -0.2, 10.0, 0.2, 0.0, 1.0), opacity=0.5)
    picture = seen(canvas)

    def colour_at(x: float, y: float) -> list[int]:
        at = canvas.to_widget(x, y).toPoint()
        return [int(part) for part in picture[at.y(), at.x()]]

    assert colour_at(8.0, 2.0) == pytest.approx([128, 128, 255], abs=2)
    assert colour_at(8.0, 8.0) == pytest.approx([255, 128, 128], abs=2)
    assert colour_at(11.0, 5.0) == [255, 255, 255]
    canvas.set_underlay(None)
    assert (seen(canvas)[100:150, 100:300] == 255).all()


def test_another_size_keeps_the_middle_and_the_scale(canvas: Canvas) -> None:
    canvas.zoom_by(4.0)
    canvas.pan_by(55.0, 22.0)
    before = canvas.view
    canvas.resize(640, 480)
    QApplication.processEvents()
    assert (canvas.view.x, canvas.view.y, canvas.px_per_m) == (before.x, before.y, before.px_per_m)
    assert (canvas.view.width_px, canvas.view.height_px) == (640.0, 480.0)


def test_a_plan_shown_whole_is_shown_whole_at_another_size(canvas: Canvas) -> None:
    canvas.resize(900, 700)
    QApplication.processEvents()
    assert canvas.view == canvas.view.fitted(EXTENT)


def test_a_place_in_sight_is_not_moved_to(canvas: Canvas) -> None:
    before = canvas.view
    canvas.show_place(9.0, 4.0)
    assert canvas.view == before
    canvas.show_place(200.0, 4.0)
    assert (canvas.view.x, canvas.view.y) == (200.0, 4.0)


@pytest.mark.parametrize("ratio", [1.0, 2.0])
def test_a_picture_of_the_view_has_the_pixels_asked_for(canvas: Canvas, ratio: float) -> None:
    image = canvas.grab_picture(QSize(500, 350), ratio)
    assert (image.width(), image.height()) == (500 * ratio, 350 * ratio)
    assert image.devicePixelRatio() == ratio
    assert image.pixelColor(0, 0) == QColor("#ffffff")


def test_the_focus_shows(qtbot: QtBot, canvas: Canvas) -> None:
    canvas.activateWindow()
    canvas.setFocus()
    qtbot.waitUntil(canvas.hasFocus, timeout=SLOW_MS)
    ring = seen(canvas)[0, 200].tolist()
    assert ring != [255, 255, 255]
    canvas.clearFocus()
    assert seen(canvas)[0, 200].tolist() == [255, 255, 255]


def test_the_canvas_has_a_name_for_those_who_do_not_see_it(canvas: Canvas) -> None:
    assert canvas.accessibleName()
    assert "table" in canvas.accessibleDescription()
