"""Paint sheets into a PDF: the display list as the operators of its pages.

reportlab keeps the file, the fonts, the pictures and the bookmarks; what is painted is written as
it stands in the file. Lengths are points with three decimals, a three-thousandth of a millimetre.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import (
    PT_PER_MM,
    Area,
    Dot,
    Drawing,
    Hatch,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)
from hgmap.report.glyphs import left_end
from hgmap.report.hatching import hatch_dots, hatch_lines
from hgmap.report.pdf_text import SAVING, line, pdf_font, rim
from hgmap.report.rings import rings_of
from hgmap.report.typeset import plain, printable

_ROUND: Final = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)
"""How far the inner points of a quarter of a circle lie from its ends, as a part of its radius."""


def painted(sheets: Sequence[Sheet]) -> bytes:
    """Return a PDF with a page for each sheet; what is in it is said by `paper.pdf_bytes`."""
    from reportlab.pdfgen.canvas import Canvas

    from hgmap.report.pdf_about import About

    first = sheets[0]
    stream = io.BytesIO()
    pdf_font(True)
    canvas = Canvas(
        stream, pageCompression=1, invariant=1, lang="en", pdfVersion=(1, 4),
        initialFontName=pdf_font(False).fontName,
    )  # fmt: skip
    canvas._doc.info = About(plain(first.title), plain(first.author))
    canvas.setViewerPreference("DisplayDocTitle", "true")
    before = ""
    for number, sheet in enumerate(sheets):
        canvas.setPageSize((sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM))
        title = plain(sheet.title) or f"page {number + 1}"
        usual = () if title == before else (title,)
        marks = usual if sheet.begins is None else [plain(one) for one in sheet.begins]
        for place, mark in enumerate(marks):
            name = f"page-{number}-{place}"  # of its own: a name has one title only
            canvas.bookmarkPage(name)
            canvas.addOutlineEntry(mark, name)
        before = title
        _Painter(canvas).sheet(sheet)
        canvas.showPage()
    with SAVING:
        canvas.save()
    return stream.getvalue()


class _Painter:
    """Put items on a page in order; the state is where the drawing lies (pt)."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas
        self.scale, self.left, self.bottom = PT_PER_MM, 0.0, 0.0

    def sheet(self, sheet: Sheet) -> None:
        for frame in sheet.frames:
            self.scale = frame.mm_per_m * PT_PER_MM
            self.left = frame.left_mm * PT_PER_MM - frame.west_m * self.scale
            self.bottom = frame.bottom_mm * PT_PER_MM - frame.south_m * self.scale
            edge = (frame.left_mm, frame.bottom_mm, frame.width_mm, frame.height_mm)
            self.canvas.saveState()
            self._write(f"{_numbers(np.multiply(edge, PT_PER_MM))} re W n")
            self._paint(frame.drawing)
            self.canvas.restoreState()
        self.scale, self.left, self.bottom = PT_PER_MM, 0.0, 0.0
        self._paint(sheet.page)

    def _write(self, operators: str) -> None:
        self.canvas.addLiteral(operators)

    def _paint(self, drawing: Drawing) -> None:
        for item in drawing:
            self._item(item)

    def _item(self, item: Item) -> None:
        if isinstance(item, Area):
            self._area(item)
        elif isinstance(item, Path):
            self._lines(self._on_page(item.shape), item.pen)
        elif isinstance(item, Stroke):
            ends = np.array([item.start_pt, item.end_pt]) + self._place(item.x, item.y)
            self._drawn(_steps(ends), None, item.pen)
        elif isinstance(item, Dot):
            x, y = np.add(self._place(item.x, item.y), item.offset_pt)
            path = _mark(item.shape, item.size_pt / 2.0)
            self._drawn(f"1 0 0 1 {x:.3f} {y:.3f} cm {path}", item.fill, item.edge, corners="0 j")
        elif isinstance(item, Label):
            self._label(item)
        else:
            self._picture(item)

    def _on_page(self, shape: BaseGeometry) -> BaseGeometry:
        return shapely.transform(shape, lambda at: at * self.scale + (self.left, self.bottom))

    def _place(self, x: float, y: float) -> tuple[float, float]:
        return self.left + x * self.scale, self.bottom + y * self.scale

    def _drawn(self, path: str, fill: str | None, pen: Pen | None, corners: str = "1 j") -> None:
        """Fill and stroke a path; what is set for it ends with it."""
        if not path or (fill is None and pen is None):
            return
        see = [_alpha(one) for one in (fill, pen.colour if pen else None)]
        clear = see != [1.0, 1.0]
        if clear:
            self.canvas.saveState()
            self.canvas.setFillAlpha(see[0])
            self.canvas.setStrokeAlpha(see[1])
        words = ["q"]
        if fill is not None:
            words.append(f"{_colour(fill)} rg")
        if pen is not None:
            dashes = f"[{_numbers(np.array(pen.dashes))}] 0 d " if pen.dashes else ""
            words.append(
                f"{_colour(pen.colour)} RG {pen.width_pt:.4g} w {corners} {dashes}".strip()
            )
        words += [path, "f*" if pen is None else "S" if fill is None else "B*", "Q"]
        self._write("\n".join(words))
        if clear:
            self.canvas.restoreState()

    def _area(self, area: Area) -> None:
        shape = self._on_page(area.shape)
        outline = _polygons(shape)
        if not outline:
            return
        self._drawn(outline, area.fill, None)
        if area.hatch is not None:
            self._hatch(shape, area.hatch)
        self._drawn(outline, None, area.pen)

    def _hatch(self, shape: BaseGeometry, hatch: Hatch) -> None:
        if hatch.name != "dots":
            self._lines(hatch_lines(shape, hatch), Pen(hatch.colour, hatch.width_pt))
            return
        # from dot to dot, so that each is written alike: that packs well
        dots = np.round(hatch_dots(shape, hatch), 3)
        moves = np.diff(dots, axis=0, prepend=np.zeros((1, 2)))
        dot = _mark("circle", hatch.width_pt / 2.0)
        self.canvas.saveState()
        self.canvas.setFillAlpha(_alpha(hatch.colour))
        steps = [f"1 0 0 1 {x:.3f} {y:.3f} cm {dot} f" for x, y in moves.tolist()]
        self._write("\n".join([f"{_colour(hatch.colour)} rg", *steps]))
        self.canvas.restoreState()

    def _lines(self, shape: BaseGeometry, pen: Pen) -> None:
        steps = [
            _steps(shapely.get_coordinates(part))
            for part in shapely.get_parts(shape)
            if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
        ]
        self._drawn("\n".join(steps), None, pen)

    def _label(self, label: Label) -> None:
        text = printable(label.text)
        if not text.strip():
            return
        x, y = self._place(label.x, label.y)
        x += label.offset_pt[0] + left_end(text, label.across, label.size_pt, label.bold)
        y += label.offset_pt[1] + label.baseline_shift_pt
        look = (text, x, y, label.size_pt, label.bold)
        if label.halo is not None:
            colour = _colour(label.halo)
            self._write(f"{colour} rg {colour} RG " + "\n".join(rim(*look)))
        self._write(f"{_colour(label.colour)} rg " + "\n".join(line(self.canvas._doc, *look)))

    def _picture(self, picture: Picture) -> None:
        from PIL import Image
        from reportlab.lib.utils import ImageReader

        outline = "" if picture.clip is None else _polygons(self._on_page(picture.clip))
        if picture.clip is not None and not outline:
            return
        west, south = self._place(*picture.bounds[:2])
        east, north = self._place(*picture.bounds[2:])
        image = Image.fromarray(np.ascontiguousarray(picture.rgba), "RGBA")
        self.canvas.saveState()
        if outline:
            self._write(f"{outline} W* n")
        self.canvas.drawImage(
            ImageReader(image), west, south, east - west, north - south, mask="auto"
        )
        self.canvas.restoreState()


def _polygons(shape: BaseGeometry) -> str:
    # turned as for the PNG, so that dashes begin and run alike
    return "\n".join(f"{_steps(ring[:-1])} h" for ring in rings_of(shape))


def _steps(places: NDArray[np.float64]) -> str:
    """Return a line from place to place."""
    form = "%.3f %.3f m" + "\n%.3f %.3f l" * (len(places) - 1)
    return form % tuple(places.ravel().tolist())


@cache
def _mark(shape: str, half: float) -> str:
    """Return the outline of a mark about the origin, as wide as two halves."""
    if shape == "circle":
        return " ".join(_circle(half))
    corners: dict[str, list[tuple[float, float]]] = {
        "square": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
        "triangle": [(0, 1), (-1, -1), (1, -1)],
        "diamond": [(0, -math.sqrt(2)), (math.sqrt(2), 0), (0, math.sqrt(2)), (-math.sqrt(2), 0)],
    }
    if shape in corners:
        return f"{_steps(np.array(corners[shape]) * half)} h"
    strokes = {
        "cross": [[(-1, -1), (1, 1)], [(-1, 1), (1, -1)]],
        "plus": [[(-1, 0), (1, 0)], [(0, -1), (0, 1)]],
    }
    return " ".join(_steps(np.array(one) * half) for one in strokes[shape])


def _circle(radius: float) -> Iterator[str]:
    ends = radius * np.array([(1, 0), (0, 1), (-1, 0), (0, -1), (1, 0)], dtype=float)
    yield f"{_numbers(ends[0])} m"
    for start, end in pairwise(ends):
        inner = (start + _ROUND * end, end + _ROUND * start, end)
        yield f"{_numbers(np.concatenate(inner))} c"
    yield "h"


def _numbers(values: NDArray[np.float64]) -> str:
    return " ".join(f"{one:.3f}" for one in values.tolist())


@cache
def _rgba(colour: str) -> tuple[float, float, float, float]:
    from matplotlib.colors import to_rgba

    return to_rgba(colour)


@cache
def _colour(colour: str) -> str:
    return " ".join(f"{one:.4g}" for one in _rgba(colour)[:3])


def _alpha(colour: str | None) -> float:
    return 1.0 if colour is None else round(_rgba(colour)[3], 4)
