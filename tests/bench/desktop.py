"""How quick the window is: ``python -m tests.bench.desktop``; prints figures, asserts nothing.

Offscreen, medians. A floor of 100 rooms with a raster of 1e6 cells and 500 readings is panned and
zoomed; on the demo's ground floor a reading is dropped, and the window's own thread is watched for
gaps all the while; a process of its own is timed to its first painted plan.
"""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import shapely
from PySide6.QtCore import QPoint, QSize
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from hgmap.desktop.canvas import Canvas
from hgmap.desktop.view import Bounds
from hgmap.report.drawing import Area, Dot, Drawing, Hatch, Item, Label, Pen, Picture
from hgmap.report.drawing import Path as Line

DEMO = Path(__file__).parents[2] / "demo_site"
TIMES = 15

FIRST_PAINT = """
import os, sys, time
from pathlib import Path
from hgmap.desktop.app import application
app = application()
from hgmap.desktop.window import Window
window = Window(remembering=False)
window.show()
window.open_site(Path(sys.argv[1]), ask=False)
window.canvas.repaint()
while not window.canvas._backing.ground.drawing or window.canvas.busy:
    app.processEvents()
    time.sleep(0.001)
print(time.time())
sys.stdout.flush()
os._exit(0)
"""


def big_drawing() -> Drawing:
    """Draw 100 rooms on 1e6 cells, each hatched and named, and 500 readings with their values."""
    random = np.random.default_rng(6)
    items: list[Item] = []
    for row in range(10):
        for column in range(10):
            west, south = 10.0 * column, 8.0 * row
            rgba = random.integers(120, 255, (100, 100, 4), dtype=np.uint8)
            rgba[..., 3] = 255
            room = shapely.box(west + 0.1, south + 0.1, west + 9.9, south + 7.9)
            items.append(Picture(rgba, room.bounds, room))
            items.append(Area(room, hatch=Hatch("diagonal", "#c74a00", 6.0, 1.15)))
            items.append(Line(room.exterior, Pen("#33373b", 0.9)))
            items.append(Label(west + 5, south + 7, f"Room {row}{column}", 8.0, across="centre",
                               halo="#ffffff"))  # fmt: skip
    for x, y, value in zip(random.uniform(0, 100, 500), random.uniform(0, 80, 500),
                           random.uniform(0, 9, 500), strict=True):  # fmt: skip
        items.append(Dot(float(x), float(y), 4.6, "circle", "#1a1a1a", Pen("#ffffff", 0.6)))
        items.append(Label(float(x), float(y), f"{value:.2f}", 6.5, halo="#ffffff",
                           offset_pt=(4.0, 0.0)))  # fmt: skip
    return tuple(items)


def median_ms(act: Callable[[int], object]) -> float:
    """Return the median time (ms) of an act."""
    took = []
    for k in range(TIMES):
        begin = time.perf_counter()
        act(k)
        took.append(1000.0 * (time.perf_counter() - begin))
    return statistics.median(took)


def frames(app: QApplication) -> None:
    """Pan and zoom a floor of 100 rooms."""
    for size, ratio in (((1280, 800), 1.0), ((1920, 1080), 1.0), ((1280, 800), 2.0)):
        canvas = Canvas()
        canvas.resize(*size)
        canvas.show()
        canvas.set_drawing(big_drawing(), (0.0, 0.0, 100.0, 80.0))
        canvas.fit()
        canvas.zoom_by(1.6)
        target = QImage(QSize(*size) * ratio, QImage.Format.Format_ARGB32_Premultiplied)
        target.setDevicePixelRatio(ratio)

        def paint(canvas: Canvas = canvas, target: QImage = target) -> None:
            canvas.render(target, QPoint(0, 0))

        paint()
        app.processEvents()

        def pan(k: int, canvas: Canvas = canvas, paint: Callable[[], None] = paint) -> None:
            canvas.pan_by(9.0 if k % 2 else -7.0, 4.0)
            paint()

        def zoom(k: int, canvas: Canvas = canvas, paint: Callable[[], None] = paint) -> None:
            canvas.zoom_by(1.13 if k % 2 else 0.87)
            paint()

        pans, zooms = median_ms(pan), median_ms(zoom)
        print(f"{size[0]}x{size[1]} at {ratio:g}: pan {pans:.1f} ms, zoom {zooms:.1f} ms a frame")
        canvas.close()


def watched(app: QApplication, until: Callable[[], bool], most_s: float) -> tuple[float, float]:
    """Run the event loop until something is so; return the time (s) and the longest gap (ms)."""
    begin = last = time.perf_counter()
    longest = 0.0
    while not until() and last - begin < most_s:
        app.processEvents()
        now = time.perf_counter()
        longest = max(longest, now - last)
        time.sleep(0.001)
        last = time.perf_counter()
        longest = max(longest, last - now - 0.001)
    return time.perf_counter() - begin, 1000.0 * longest


def pictures(app: QApplication, canvas: Canvas, drawing: Drawing, extent: Bounds) -> None:
    """Watch the window's thread while new drawings, zooms and pans are painted beside it."""

    def new(k: int) -> None:
        # another drawing each time, of which nothing is prepared
        canvas.set_drawing(drawing[: len(drawing) - k % 2], extent)

    acts: dict[str, Callable[[int], None]] = {
        "new drawing": new,
        "zoom": lambda k: canvas.zoom_by(1.3 if k % 2 else 1 / 1.3),
        "pan": lambda k: canvas.pan_by(-190.0 if k % 2 else 190.0, 40.0 if k % 2 else -40.0),
    }
    for name, act in acts.items():
        watched(app, lambda: not canvas.busy, 30.0)
        took, gaps, own = [], [], []
        for k in range(TIMES):
            begin = time.perf_counter()
            act(k)
            own.append(1000.0 * (time.perf_counter() - begin))
            # the first tick is the act itself
            crisp_s, gap = watched(app, lambda: not canvas.busy, 30.0)
            took.append(1000.0 * crisp_s)
            gaps.append(max(gap, own[-1]))
        print(f"  {name}: crisp after {statistics.median(took):.0f} ms, longest gap "
              f"{max(gaps):.0f} ms (median {statistics.median(gaps):.0f}), the call itself "
              f"{statistics.median(own):.1f} ms")  # fmt: skip


def beside(app: QApplication, folder: Path) -> None:
    """Measure pictures painted beside the window, of the crowded floor and the demo's."""
    from hgmap.desktop.window import Window

    class Sharp(Canvas):
        ratio = 1.0

        def devicePixelRatioF(self) -> float:  # noqa: N802
            return self.ratio

    window = Window(remembering=False)
    window.resize(1280, 800)
    window.show()
    window.open_site(folder, ask=False)
    watched(app, lambda: window.session.mapped is not None, 120.0)
    watched(app, lambda: not window.jobs.busy, 60.0)
    scene, extent = window.plan_view.scene, window.canvas._extent
    assert scene is not None
    assert extent is not None
    window.close_for_good()
    for ratio in (1.0, 2.0):
        for name, drawing, whole in (
            ("demo", scene.drawing, extent), ("100 rooms", big_drawing(), (0.0, 0.0, 100.0, 80.0)),
        ):  # fmt: skip
            print(f"{name}, 1280x800 at {ratio:g}, painted beside the window:")
            canvas = Sharp()
            canvas.ratio = ratio
            canvas.resize(1280, 800)
            canvas.show()
            canvas.set_drawing(drawing, whole)
            canvas.zoom_by(1.6)
            pictures(app, canvas, drawing, whole)
            canvas.close()


def dropping(app: QApplication, folder: Path) -> None:
    """Drop a reading on the demo's ground floor, again and again."""
    from hgmap.desktop.window import Window
    from hgmap.editing.reading_edits import move_reading

    window = Window(remembering=False)
    window.resize(1280, 800)
    window.show()
    window.open_site(folder, ask=False)
    took, gap = watched(app, lambda: window.session.mapped is not None, 120.0)
    watched(app, lambda: not window.jobs.busy, 60.0)
    print(f"first map after opening: {took:.2f} s, longest gap {gap:.0f} ms")
    site = window.session.site
    assert site is not None
    reading = next(
        one for one in site.readings
        if one.floor == "ground" and one.round == window.session.round_name and one.usable
        and one.x is not None
    )  # fmt: skip
    drafts: list[float] = []
    maps: list[float] = []
    gaps: list[float] = []
    seen: list[float] = []
    window.session.draft_changed.connect(lambda: seen.append(time.perf_counter()))
    laid: list[str] = []
    crisp: dict[str, float] = {}

    def laid_out() -> None:
        shown = window.plan_view.shown
        if shown is not None and shown.surface is not None:
            laid.append("draft" if shown.zones is None else "map")

    window.plan_view.painted.connect(laid_out)
    window.canvas.picture_changed.connect(
        lambda: crisp.setdefault(laid[-1], time.perf_counter()) if laid else None
    )
    pictures: dict[str, list[float]] = {"draft": [], "map": []}
    for k in range(TIMES):
        laid.clear()
        crisp.clear()
        now = next(one for one in window.session.site.readings if one.id == reading.id)  # type: ignore[union-attr]
        seen.clear()
        old = window.session.mapped
        begin = time.perf_counter()
        step = 0.15 if k % 2 else -0.15
        window.session.edit("move", lambda files, now=now, step=step: move_reading(
            files, now, now.x + step, now.y))  # fmt: skip
        _, gap = watched(app, lambda old=old: window.session.mapped is not old, 60.0)
        maps.append(time.perf_counter() - begin)
        drafts += [seen[0] - begin] if seen else []
        _, later = watched(app, lambda: not window.jobs.busy, 60.0)
        gaps.append(max(gap, later))
        for name, at in crisp.items():
            pictures[name].append(at - begin)
    draft = f"{1000 * statistics.median(drafts):.0f} ms" if drafts else "none shown"
    print(f"dropped reading: draft {draft}, map {1000 * statistics.median(maps):.0f} ms, longest "
          f"gap {max(gaps):.0f} ms (median {statistics.median(gaps):.0f})")  # fmt: skip
    shown = {name: f"{1000 * statistics.median(times):.0f} ms" if times else "not shown"
             for name, times in pictures.items()}  # fmt: skip
    print(f"  on the screen: draft {shown['draft']}, map {shown['map']}")
    window.close_for_good()


def first_paint(folder: Path) -> None:
    """Time a process of its own from its start to the first picture of the demo."""
    first = []
    for _ in range(5):
        begin = time.time()
        done = subprocess.run([sys.executable, "-c", FIRST_PAINT, str(folder)], check=True,
                              capture_output=True, text=True)  # fmt: skip
        first.append(float(done.stdout.split()[-1]) - begin)
    print(f"first paint of the demo after process start: {statistics.median(first):.2f} s")


PARTS: dict[str, Callable[[QApplication, Path], None]] = {
    "frames": lambda app, folder: frames(app),
    "beside": beside,
    "dropping": dropping,
}


def part(name: str, folder: Path) -> None:
    """Run one part, and say what it took of memory."""
    from hgmap.desktop.app import application

    PARTS[name](application(), folder)
    print(f"{name}: most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def main() -> None:
    """Print every figure; each part in a process of its own, for its memory."""
    if len(sys.argv) > 1:
        part(sys.argv[1], Path(sys.argv[2]))
        return
    folder = Path(tempfile.mkdtemp()) / "demo"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "*.py"))
    first_paint(folder)
    for name in PARTS:
        subprocess.run([sys.executable, "-m", "tests.bench.desktop", name, str(folder)], check=True)
    shutil.rmtree(folder.parent)


if __name__ == "__main__":
    main()
