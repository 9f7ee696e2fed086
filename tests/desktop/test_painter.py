"""The window and the print agree: both painters put the same drawing on the same pixels.

The print is made with four times the pixels each way and averaged: at the screen's own pixels its
library moves marks and texts to whole ones.

Mean difference is of all channels of all pixels, of 255. Ink is the sum of what is darker than
white; where two painters place the same ink it differs only by how they round to pixels.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PySide6.QtCore import QRect
from PySide6.QtGui import QImage, QPainter

from hgmap.desktop.fonts import text_outline, text_width
from hgmap.desktop.painter import PX_PER_PT, Place, Prepared, paint, paint_sheet
from hgmap.report.drawing import (
    Area,
    Dot,
    Drawing,
    Frame,
    Hatch,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.paper import png_bytes
from hgmap.report.typeset import font_file, width_pt
from tests.report.test_sheet import house_case, sheet_of

pytestmark = pytest.mark.usefixtures("qapp")

MM = 25.4 / 96.0
"""Of a pixel."""
FINE = 4
WIDE, HIGH = 240, 180
ROOM = shapely.Polygon(
    [(0.5, 0.5), (5.5, 0.7), (5.5, 3.9), (2.6, 3.9), (2.2, 2.4), (0.5, 3.1)],
    [[(3.5, 1.2), (4.5, 1.3), (4.3, 2.3), (3.4, 2.2)]],
)
BLACK = Pen("#000000", 2.0)


def framed(drawing: Drawing) -> Sheet:
    frame = Frame(drawing, 4 * MM, 4 * MM, (WIDE - 8) * MM, (HIGH - 8) * MM, 0.0, 0.0, 38.0 * MM)
    return Sheet(WIDE * MM, HIGH * MM, (frame,), ())


def on_paper(sheet: Sheet, dpi: float = 96.0) -> NDArray[np.float64]:
    fine = pixels(QImage.fromData(png_bytes(sheet, FINE * dpi)))
    # a page is not always whole pixels high; both count from the lower left corner
    rows, columns = fine.shape[0] // FINE, fine.shape[1] // FINE
    fine = fine[fine.shape[0] - FINE * rows :, : FINE * columns]
    return fine.reshape(rows, FINE, columns, FINE, 3).mean(axis=(1, 3))


def pixels(image: QImage) -> NDArray[np.float64]:
    image = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(float)


def on_screen(sheet: Sheet, dpi: float = 96.0) -> NDArray[np.float64]:
    per_mm = dpi / 25.4
    size = round(sheet.width_mm * per_mm), round(sheet.height_mm * per_mm)
    image = QImage(*size, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint_sheet(painter, sheet, per_mm)
    painter.end()
    return pixels(image)


def softened(picture: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over 3 x 3 pixels: a shift of half a pixel is no difference between two pictures."""
    padded = np.pad(picture, ((1, 1), (1, 1), (0, 0)), mode="edge")
    rows, columns = picture.shape[:2]
    return np.mean(
        [padded[i : i + rows, j : j + columns] for i in range(3) for j in range(3)], axis=0
    )


def assert_agree(sheet: Sheet, mean: float, ink: float, dpi: float = 96.0) -> None:
    paper, screen = on_paper(sheet, dpi), on_screen(sheet, dpi)
    rows, columns = (min(a, b) for a, b in zip(paper.shape[:2], screen.shape[:2], strict=True))
    # both count from the lower left corner
    paper = paper[len(paper) - rows :, :columns]
    screen = screen[len(screen) - rows :, :columns]
    inks = [float((255.0 - one).sum()) for one in (paper, screen)]
    assert inks[0] > 1000.0, "nothing is drawn"
    apart = float(np.abs(softened(paper) - softened(screen)).mean())
    assert abs(inks[1] / inks[0] - 1.0) <= ink
    assert apart <= mean


def shades(rows: int, columns: int) -> NDArray[np.uint8]:
    rgba = np.full((rows, columns, 4), 255, dtype=np.uint8)
    rgba[..., 0] = np.linspace(0, 255, columns).astype(np.uint8)
    rgba[..., 1] = np.linspace(30, 220, rows).astype(np.uint8)[:, None]
    rgba[0, :, 2] = 0
    return rgba


MARKS = [
    Dot(1.0 + 0.5 * place, 1.0 + 0.3 * place, 9.0, shape, fill, Pen("#aa2200", 1.2), (3.0, -2.0))
    for place, (shape, fill) in enumerate(
        [
            ("circle", "#225588"), ("square", "#225588"), ("triangle", None),
            ("diamond", "#88cc22"), ("cross", None), ("plus", None), ("circle", None),
            ("cross", "#ff0000"),
        ]
    )
]  # fmt: skip
KINDS: dict[str, tuple[Drawing, float, float]] = {
    "a filled area with a hole": ((Area(ROOM, fill="#7799bb"),), 0.02, 0.001),
    "a fill with alpha": ((Area(ROOM, fill="#aa000080"),), 0.02, 0.001),
    "an outline": ((Area(ROOM, pen=BLACK),), 0.1, 0.005),
    "a dashed outline": ((Area(ROOM, pen=Pen("#000000", 2.0, (6.0, 2.5, 1.5, 2.5))),), 0.15, 0.015),
    "a path": (
        (Path(shapely.LineString([(0.5, 0.5), (2.0, 3.0), (2.1, 0.6), (5.0, 2.0)]), BLACK),),
        0.3,
        0.02,
    ),
    "paths with dashes": (
        (Path(shapely.MultiLineString([[(0.5, 1.0), (5.0, 1.5)], [(0.5, 2.0), (5.0, 3.0)]]),
              Pen("#0000aa", 3.0, (5.0, 3.0))),),
        0.3,
        0.03,
    ),
    "a thin path": (
        (Path(shapely.LineString([(0.5, 0.5), (5.0, 1.1), (2.0, 3.0)]), Pen("#000000", 0.5)),),
        0.3,
        0.03,
    ),
    "marks": (tuple(MARKS), 0.3, 0.02),
    "strokes": ((Stroke(2.0, 2.0, (5.0, 5.0), (60.0, -20.0), Pen("#333333", 1.0)),), 0.02, 0.015),
    "hatched, rising": ((Area(ROOM, hatch=Hatch("diagonal", "#c74a00", 6.0, 1.2)),), 0.5, 0.01),
    "hatched, crossed": ((Area(ROOM, hatch=Hatch("cross", "#222222", 6.0, 0.6)),), 1.0, 0.04),
    "hatched, dots": ((Area(ROOM, hatch=Hatch("dots", "#00508a", 6.0, 2.0)),), 1.5, 0.03),
    "a label": (
        (Label(0.5, 1.0, "Boiler room, 12.5 µg/m³", 9.0),
         Label(3.0, 2.0, "Stair AVA", 12.0, "#aa0000", True, "centre", "middle"),
         Label(5.8, 3.0, "right, top", 8.0, across="right", up="top", offset_pt=(-3.0, 4.0))),
        1.0,
        0.05,
    ),
    "a label with a halo": (
        (Area(shapely.box(0.0, 0.0, 6.0, 4.0), fill="#445566"),
         Label(3.0, 2.0, "Classroom 2", 12.0, across="centre", up="middle", halo="#ffffff")),
        0.8,
        0.01,
    ),
    "a picture": ((Picture(shades(30, 50), (0.5, 0.5, 5.5, 3.9)),), 1.0, 0.03),
    "a picture cut at its walls": (
        (Picture(shades(30, 50), (0.5, 0.5, 5.5, 3.9), ROOM),), 1.2, 0.03
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_the_window_and_the_print_agree(kind: str) -> None:
    drawing, mean, ink = KINDS[kind]
    assert_agree(framed(drawing), mean, ink)


@pytest.mark.parametrize("kind", KINDS)
def test_a_screen_of_twice_the_pixels_agrees_too(kind: str) -> None:
    drawing, mean, ink = KINDS[kind]
    assert_agree(framed(drawing), mean, ink, 192.0)


@pytest.fixture(scope="module")
def whole_sheet() -> Sheet:
    """A zone map with estimate, zones, openings, readings, leaders and all texts round it."""
    made: Sheet = sheet_of(house_case())
    return made


def test_the_plan_of_a_whole_sheet_agrees(whole_sheet: Sheet) -> None:
    assert_agree(replace(whole_sheet, page=()), 1.0, 0.01)


def test_the_whole_page_agrees(whole_sheet: Sheet) -> None:
    """A screen has texts at whole pixels, paper anywhere: what differs is small print."""
    assert_agree(whole_sheet, 3.0, 0.02)


def test_the_comparison_sees_what_is_missing() -> None:
    drawing, mean, ink = KINDS["marks"]
    paper = on_paper(framed(drawing))
    less = on_screen(framed(drawing[1:]))
    assert abs((255.0 - less).sum() / (255.0 - paper).sum() - 1.0) > ink
    assert np.abs(softened(paper) - softened(less)).mean() > mean / 3.0


def test_the_first_row_of_a_picture_is_its_top() -> None:
    rgba = np.full((2, 1, 4), 255, dtype=np.uint8)
    rgba[0, 0, :3] = (250, 10, 10)
    rgba[1, 0, :3] = (10, 10, 250)
    screen = on_screen(framed((Picture(rgba, (0.0, 0.0, 6.0, 4.0)),)))
    assert screen[30, 100].tolist() == [250.0, 10.0, 10.0]
    assert screen[150, 100].tolist() == [10.0, 10.0, 250.0]


def test_a_later_item_lies_on_top() -> None:
    box = shapely.box(0.0, 0.0, 6.0, 4.0)
    screen = on_screen(framed((Area(box, fill="#ff0000"), Area(box, fill="#0000ff"))))
    assert screen[90, 100].tolist() == [0.0, 0.0, 255.0]


def test_nothing_of_a_frame_shows_outside_it() -> None:
    screen = on_screen(framed((Area(shapely.box(-50.0, -50.0, 50.0, 50.0), fill="#000000"),)))
    assert (screen[:3] == 255.0).all()
    assert (screen[:, :3] == 255.0).all()
    assert (screen[10:-10, 10:-10] == 0.0).all()


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["<0.05 at 0.3 m", "Science laboratory", "µg/m³", "1 : 175"])
def test_a_text_is_as_wide_as_the_sheets_reckon(text: str, bold: bool) -> None:
    assert text_width(text, 9.0, bold) == pytest.approx(width_pt(text, 9.0, bold), rel=0.02)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["AVAVA To WA", "Te. 7, Ty", "Boiler room"])
def test_letters_are_drawn_together_as_on_paper(text: str, bold: bool) -> None:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    look = FontProperties(fname=str(font_file(bold)))
    paper = TextPath((0.0, 0.0), text, size=100.0, prop=look).get_extents()
    screen = text_outline(text, 100.0, bold).boundingRect()
    assert screen.width() == pytest.approx(paper.width, rel=0.02)
    assert screen.height() == pytest.approx(paper.height, rel=0.02)
    assert screen.left() == pytest.approx(paper.x0, abs=1.0)
    # no text is wider than the room that was left for it
    assert text_width(text, 9.0, bold) <= 1.02 * width_pt(text, 9.0, bold)


def test_a_letter_that_the_font_lacks_is_a_box_on_both() -> None:
    assert_agree(framed((Label(0.5, 2.0, "room 学校 b", 14.0),)), 1.0, 0.06)


def painted(drawing: Drawing, place: Place, window: QRect) -> NDArray[np.float64]:
    image = QImage(WIDE, HIGH, QImage.Format.Format_RGB32)
    image.fill("white")
    painter = QPainter(image)
    paint(painter, Prepared(drawing), place, window)
    painter.end()
    return pixels(image)


WHOLE = QRect(0, 0, WIDE, HIGH)
LOOKS = [look.hatch for look in ZONE_LOOKS.values() if look.hatch is not None]


@pytest.mark.parametrize("hatch", LOOKS, ids=lambda one: one.name)
def test_strips_painted_apart_are_the_whole_picture(hatch: Hatch) -> None:
    drawing = (Area(ROOM, "#dddddd", hatch, Pen("#000000", 1.5, (4.0, 2.0))), *MARKS)
    place = Place(38.3, 5.25, HIGH - 7.5)
    whole = painted(drawing, place, WHOLE)
    edges = (0, 70, 71, 160, WIDE)
    for left, right in pairwise(edges):
        strip = painted(drawing, place, QRect(left, 0, right - left, HIGH))
        assert np.array_equal(strip[:, left:right], whole[:, left:right])
        assert (np.delete(strip, np.s_[left:right], axis=1) == 255.0).all()


@pytest.mark.parametrize("hatch", LOOKS, ids=lambda one: one.name)
def test_a_hatch_moves_with_the_plan(hatch: Hatch) -> None:
    drawing = (Area(ROOM, hatch=hatch),)
    here = painted(drawing, Place(38.3, 5.25, 170.5), WHOLE)
    there = painted(drawing, Place(38.3, 18.25, 163.5), WHOLE)
    assert (here < 255.0).any()
    assert np.array_equal(here[7:, :-13], there[:-7, 13:])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scale", [1e-3, 0.3, 3e4, 5e6])
def test_any_scale_paints_without_a_word(kind: str, scale: float) -> None:
    drawing = KINDS[kind][0]
    painted(drawing, Place(scale, 120.0 - 2.0 * scale, 90.0 + 2.0 * scale), WHOLE)


def test_close_up_a_wide_area_is_still_all_there() -> None:
    shape = shapely.box(-40.0, -40.0, 40.0, 40.0)
    screen = painted((Area(shape, fill="#102030"),), Place(9e5, 100.0, 100.0), WHOLE)
    assert (screen == (16.0, 32.0, 48.0)).all()
    dots = (Area(shape, hatch=Hatch("dots", "#000000", 6.0, 2.0)),)
    close, far = (painted(dots, Place(one, 100.0, 100.0), WHOLE) for one in (9e5, 10.0))
    assert (255.0 - close).sum() == pytest.approx((255.0 - far).sum(), rel=0.05)


def test_what_is_simplified_stays_within_a_quarter_of_a_pixel() -> None:
    turn = np.linspace(0.0, 40.0, 6000)
    line = shapely.LineString(np.column_stack([turn / 8.0, 2.0 + np.sin(turn)]))
    made = Prepared((Path(line, BLACK),)).pieces(0, 38.0, (0.0, 0.0, 6.0, 4.0))
    corners = [
        (path.elementAt(i).x, path.elementAt(i).y)
        for path in made.paths
        for i in range(path.elementCount())
    ]
    assert len(corners) < 1500
    apart = shapely.hausdorff_distance(shapely.LineString(corners), line) * 38.0
    assert apart <= 0.25


def test_a_point_is_96_pixels_to_the_inch() -> None:
    assert pytest.approx(96.0) == 72.0 * PX_PER_PT


def test_the_painter_loads_no_other_library_of_pictures() -> None:
    code = (
        "import sys; import hgmap.desktop.canvas; from hgmap.desktop.fonts import text_width;"
        "from PySide6.QtWidgets import QApplication; app = QApplication([]); text_width('a', 9.0);"
        "print([m for m in ('matplotlib', 'scipy', 'pandas', 'geopandas') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
