"""Time the canvas: ``QT_QPA_PLATFORM=offscreen python -m tests.bench.desktop_canvas``.

Asserts nothing. An invented floor of 100 rooms, every one hatched, a shade of 1e6 cells cut at the
rooms' walls, 500 readings with labels, 20 contours of 1,000 corners. A frame is the whole of
``paintEvent``, as the window has it; a crisp one paints the plan anew at another scale.

Targets (1280 x 800): pan 8 ms, zoom 16 ms a frame (medians).
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Final

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QApplication

from hgmap.desktop.canvas import Canvas
from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen, Picture
from hgmap.report.palette import LEVEL_PEN, LEVEL_RIM, ZONE_LOOKS

ROOMS: Final = 10
ROOM_M: Final = 5.0
CELLS: Final = 100
READINGS: Final = 500
FRAMES: Final = 40
SIZES: Final = ((1280, 800, 1.0), (1920, 1080, 1.0), (1280, 800, 2.0), (1920, 1080, 2.0))


def crowded(seed: int = 7) -> Drawing:
    """Invent the floor."""
    random = np.random.default_rng(seed)
    items: list[Item] = []
    rooms = [
        shapely.box(x, y, x + ROOM_M - 0.2, y + ROOM_M - 0.2)
        for y in np.arange(ROOMS) * ROOM_M
        for x in np.arange(ROOMS) * ROOM_M
    ]
    rooms = [
        room.difference(shapely.Point(room.bounds[0], room.bounds[1]).buffer(1.0)) for room in rooms
    ]
    shades = random.integers(150, 255, (len(rooms), CELLS, CELLS, 4), dtype=np.uint8)
    shades[..., 3] = 255
    for room, rgba in zip(rooms, shades, strict=True):
        items.append(Picture(rgba, room.bounds, room))
    looks = [look for look in ZONE_LOOKS.values() if look.hatch is not None]
    for number, room in enumerate(rooms):
        look = looks[number % len(looks)]
        items += [Area(room, hatch=look.hatch_rim), Area(room, hatch=look.hatch)]
        items += [Area(room, pen=look.pen_rim), Area(room, pen=look.pen)]
    turn = np.linspace(0.0, 2.0 * np.pi, 1000)
    loops = []
    for x, y, reach in random.uniform((3.0, 3.0, 0.5), (47.0, 47.0, 3.0), (20, 3)):
        wavy = reach * (1.0 + 0.05 * np.sin(9.0 * turn))
        loops.append(np.column_stack([x + wavy * np.cos(turn), y + wavy * np.sin(turn)]))
    line = shapely.MultiLineString(loops)
    items += [Path(line, LEVEL_RIM), Path(line, LEVEL_PEN)]
    items.append(
        Path(shapely.MultiLineString([one.exterior for one in rooms]), Pen("#33373b", 0.9))
    )
    for x, y in random.uniform(0.0, ROOMS * ROOM_M, (READINGS, 2)):
        text = f"{random.uniform(0.01, 9.0):.2f}"
        items.append(Dot(x, y, 4.0, "circle", "#1a1a1a", Pen("#ffffff", 0.8)))
        items.append(Label(x, y, text, 7.0, up="middle", halo="#ffffff", offset_pt=(4.0, 0.0)))
    return tuple(items)


def frames(canvas: Canvas, change: Callable[[int], None], surface: QPixmap) -> list[float]:
    """Change the view and paint, again and again; return how long each took (ms)."""
    took = []
    for number in range(FRAMES):
        start = time.perf_counter()
        change(number)
        canvas.render(surface)
        took.append(1e3 * (time.perf_counter() - start))
    return took


def told(name: str, took: list[float]) -> str:
    """Say the median and the longest."""
    return f"  {name:34s} median {statistics.median(took):6.1f} ms, longest {max(took):6.1f} ms"


def main() -> None:
    app = QApplication.instance() or QApplication([])
    drawing = crowded()
    extent = (0.0, 0.0, ROOMS * ROOM_M, ROOMS * ROOM_M)
    for width, height, ratio in SIZES:
        canvas = Canvas()
        canvas.devicePixelRatioF = lambda ratio=ratio: ratio  # type: ignore[method-assign]
        canvas.resize(width, height)
        canvas.show()
        app.processEvents()
        surface = QPixmap(QSize(width, height) * ratio)
        surface.setDevicePixelRatio(ratio)
        start = time.perf_counter()
        canvas.set_drawing(drawing, extent)
        canvas.render(surface)
        print(f"{width} x {height}, device ratio {ratio:g}")
        print(
            f"  a new drawing, with first picture   {1e3 * (time.perf_counter() - start):6.1f} ms"
        )
        middle = QPointF(width / 2.0, height / 2.0)

        def pan(number: int, canvas: Canvas = canvas) -> None:
            canvas.pan_by(13.0 if number % 40 < 20 else -13.0, 7.0)

        def zoom(number: int, canvas: Canvas = canvas, at: QPointF = middle) -> None:
            canvas.zoom_by(1.1 if number % 20 < 10 else 1.0 / 1.1, at)

        def crisp(number: int, canvas: Canvas = canvas) -> None:
            zoom(number)
            canvas._crisp.stop()

        print(told("zoom, painted anew", frames(canvas, crisp, surface)))
        print(told("zoom, as the window does it", frames(canvas, zoom, surface)))
        canvas._crisp.stop()
        canvas.render(surface)
        print(told("pan", frames(canvas, pan, surface)))
        canvas.fit((10.0, 10.0, 25.0, 20.0))
        canvas._crisp.stop()
        canvas.render(surface)
        print(told("pan, close up", frames(canvas, pan, surface)))
        canvas.close()


if __name__ == "__main__":
    main()
