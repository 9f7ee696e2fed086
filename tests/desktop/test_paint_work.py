from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from hgmap.desktop import paint_work, painter
from hgmap.desktop.backing import MARGIN_PX
from hgmap.desktop.canvas import Canvas
from hgmap.desktop.fonts import text_outline, text_width
from hgmap.desktop.paint_work import Made, Order
from hgmap.report.drawing import Area, Drawing, Hatch, Label, Pen
from tests.desktop.patience import SLOW_MS, SLOW_S

EXTENT = (0.0, 0.0, 20.0, 10.0)
INKS = ("#c74a00", "#7a2e8c", "#117733")
"""No look of the window has one of these: the ring of the focus is in an ink of the look."""


def floor(ink: str) -> Drawing:
    boxes = [shapely.box(x, 0.0, x + 0.9, 10.0) for x in range(20)]
    rooms = tuple(
        Area(box, ink, Hatch("dots", "#000000", 6.0, 1.7), Pen("#000000", 1.0)) for box in boxes
    )
    return (*rooms, *(Label(x + 0.1, 5.0, f"{x}", 7.0, halo="#ffffff") for x in range(20)))


@pytest.fixture
def canvas(qtbot: QtBot) -> Iterator[Canvas]:
    made = Canvas()
    qtbot.addWidget(made)
    made.resize(400, 300)
    made.show()
    made.set_drawing(floor(INKS[0]), EXTENT)
    qtbot.waitUntil(lambda: not made.busy, timeout=SLOW_MS)
    yield made
    made.close()


def shown(canvas: Canvas) -> NDArray[np.uint8]:
    image = canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.width(), 4)
    return rows[..., 2::-1].copy()


def inks(canvas: Canvas) -> set[str]:
    """The grounds that are seen."""
    found = {
        f"#{r:02x}{g:02x}{b:02x}" for r, g, b in np.unique(shown(canvas).reshape(-1, 3), axis=0)
    }
    return found & set(INKS)


class Gate:
    """Lets a painting go on to its end only when told; one that is stale goes at once."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.open, self.reached = threading.Event(), threading.Event()
        self.threads: set[int] = set()
        real = paint_work.carry_out

        def slow(order: Order) -> Made:
            self.threads.add(threading.get_ident())
            self.reached.set()
            while not order.is_stale() and not self.open.wait(0.002):
                pass
            return real(order)

        monkeypatch.setattr(paint_work, "carry_out", slow)


@pytest.fixture
def gate(canvas: Canvas, monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    made = Gate(monkeypatch)
    yield made
    made.open.set()


def test_the_plan_is_painted_beside_the_window(qtbot: QtBot, canvas: Canvas, gate: Gate) -> None:
    gate.open.set()
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert gate.threads
    assert threading.get_ident() not in gate.threads


def test_the_old_picture_stays_until_the_new_one_is_there(
    qtbot: QtBot, canvas: Canvas, gate: Gate
) -> None:
    before = shown(canvas)
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    qtbot.waitUntil(gate.reached.is_set, timeout=SLOW_MS)
    assert np.array_equal(shown(canvas), before)
    assert canvas.busy
    gate.open.set()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert inks(canvas) == {INKS[1]}


def test_the_old_picture_moves_with_the_view_while_the_new_one_is_painted(
    qtbot: QtBot, canvas: Canvas, gate: Gate
) -> None:
    before = shown(canvas)
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    qtbot.waitUntil(gate.reached.is_set, timeout=SLOW_MS)
    canvas.pan_by(20.0, 0.0)
    after = shown(canvas)
    assert np.array_equal(after[60:200, 60:300], before[60:200, 40:280])
    canvas.zoom_by(2.0)
    assert inks(canvas) == {INKS[0]}


def test_of_two_drawings_set_quickly_the_last_is_shown(
    qtbot: QtBot, canvas: Canvas, gate: Gate
) -> None:
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    qtbot.waitUntil(gate.reached.is_set, timeout=SLOW_MS)
    canvas.set_drawing(floor(INKS[2]), EXTENT)
    gate.open.set()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert inks(canvas) == {INKS[2]}


def test_a_stale_picture_that_was_finished_is_never_shown_over_a_newer(
    qtbot: QtBot, canvas: Canvas, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[Order] = []
    start = canvas._work.start
    monkeypatch.setattr(canvas._work, "start", lambda order: (kept.append(order), start(order)))
    for ink in INKS[1:]:
        canvas.set_drawing(floor(ink), EXTENT)
        canvas.repaint()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    stale, newest = kept[0], kept[-1]
    assert stale.ground is not newest.ground
    assert stale.is_stale()
    late = Made(stale, (QImage(stale.size, QImage.Format.Format_RGB32),))
    assert not canvas._backing.take(late)
    assert inks(canvas) == {INKS[2]}


def test_what_is_stale_is_left_between_two_items() -> None:
    looked: list[int] = []

    def stale() -> bool:
        looked.append(1)
        return len(looked) > 3

    image = QImage(400, 300, QImage.Format.Format_RGB32)
    brush = painter.QPainter(image)
    with pytest.raises(painter.PaintStopped):
        painter.paint(
            brush, painter.Prepared(floor(INKS[0])), painter.Place(20.0, 0.0, 300.0), image.rect(),
            stale,
        )  # fmt: skip
    brush.end()
    assert len(looked) == 4


def test_white_paper_until_a_strip_has_come(qtbot: QtBot, canvas: Canvas, gate: Gate) -> None:
    canvas.zoom_by(6.0)
    gate.open.set()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    gate.open.clear()
    gate.reached.clear()
    canvas.clearFocus()
    # farther than what a canvas that had a rest has painted ahead
    canvas.pan_by(0.0, MARGIN_PX + 110.0)
    strip = shown(canvas)[:100, 100:300]
    assert (strip == 255).all()
    gate.open.set()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert (shown(canvas)[:100, 100:300] != 255).any()


def test_closing_while_painting_waits_for_the_thread(
    qtbot: QtBot, canvas: Canvas, gate: Gate
) -> None:
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    qtbot.waitUntil(gate.reached.is_set, timeout=SLOW_MS)
    canvas.close()
    assert gate.threads.isdisjoint(one.ident for one in threading.enumerate())
    assert canvas._backing.asked is None


def test_a_canvas_that_was_closed_paints_again(qtbot: QtBot, canvas: Canvas) -> None:
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    canvas.close()
    canvas.show()
    qtbot.waitUntil(lambda: not canvas.busy, timeout=SLOW_MS)
    assert inks(canvas) == {INKS[1]}


def test_a_picture_is_whole_at_once_when_it_is_asked_for(canvas: Canvas, gate: Gate) -> None:
    canvas.set_drawing(floor(INKS[1]), EXTENT)
    canvas.repaint()
    canvas.complete()
    assert not canvas.busy
    assert inks(canvas) == {INKS[1]}


def test_what_cannot_be_painted_is_told_once_and_the_old_picture_stays(
    qtbot: QtBot, canvas: Canvas, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(order: Order) -> Made:
        raise MemoryError("no room for a picture")

    monkeypatch.setattr(paint_work, "carry_out", fail)
    before = shown(canvas)
    with qtbot.captureExceptions() as told:
        canvas.set_drawing(floor(INKS[1]), EXTENT)
        qtbot.waitUntil(lambda: bool(told), timeout=SLOW_MS)
        for _ in range(5):
            canvas.repaint()
            QApplication.processEvents()
    assert [kind for kind, *_ in told] == [MemoryError]
    assert np.array_equal(shown(canvas), before)


def test_two_threads_letter_alike() -> None:
    widths: list[float] = []
    texts = [f"{number} µg/m³ <" for number in range(200)]

    def letter() -> None:
        for text in texts:
            text_outline(text, 9.0)
            widths.append(text_width(text, 9.0))

    threads = [threading.Thread(target=letter) for _ in range(2)]
    for thread in threads:
        thread.start()
    expected = [text_width(text, 9.0) for text in texts]
    for thread in threads:
        thread.join()
    assert sorted(widths) == sorted(expected * 2)


END = """
import sys
from PySide6.QtWidgets import QApplication
from hgmap.desktop.canvas import Canvas
from tests.desktop.test_paint_work import EXTENT, INKS, floor
app = QApplication([])
canvas = Canvas()
canvas.resize(1200, 800)
canvas.show()
canvas.set_drawing(floor(INKS[0]) * 20, EXTENT)
canvas.repaint()
assert canvas.busy
if sys.argv[1] == "deleted":
    canvas.deleteLater()
    app.sendPostedEvents(None, 52)
elif sys.argv[1] == "forgotten":
    del canvas
"""


@pytest.mark.parametrize("how", ["left open", "deleted", "forgotten"])
def test_a_program_ends_quietly_while_a_plan_is_painted(how: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", END, how], capture_output=True, text=True, check=False,
        timeout=SLOW_S, env={**os.environ, "LC_ALL": "C.UTF-8"},  # else Qt has something to say
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
