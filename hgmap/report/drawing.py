"""A display list: what is drawn, with no word about who draws it.

Geometry is in the unit of the drawing (metres for a plan, millimetres for a page), x to the right
and y up. Pens, dots, text, hatch spacing and offsets are in points (1/72 inch) and keep their size
at every scale. Files and a window paint the same list, so they agree by construction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

HatchName = Literal["diagonal", "cross", "dots"]
DotShape = Literal["circle", "square", "triangle", "diamond", "cross", "plus"]
Across = Literal["left", "centre", "right"]
Up = Literal["baseline", "middle", "top"]

PT_PER_MM: Final = 72.0 / 25.4
CAP_HEIGHT: Final = 0.729
"""Height of a capital of DejaVu Sans, as a fraction of the size (1493 of 2048 font units)."""


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line looks; ``dashes`` are lengths on and off (pt), empty for an unbroken line."""

    colour: str
    width_pt: float
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Hatch:
    """A pattern that says something without colour.

    ``spacing_pt`` lies between lines, or between dots along a row; ``width_pt`` is that of a line,
    or the diameter of a dot.
    """

    name: HatchName
    colour: str
    spacing_pt: float
    width_pt: float


@dataclass(frozen=True, slots=True)
class Area:
    """A polygon or several: a fill (``#rrggbb`` or ``#rrggbbaa``), a hatch on it, an outline."""

    shape: BaseGeometry
    fill: str | None = None
    hatch: Hatch | None = None
    pen: Pen | None = None


@dataclass(frozen=True, slots=True)
class Path:
    """A line or several."""

    shape: BaseGeometry
    pen: Pen


@dataclass(frozen=True, slots=True)
class Dot:
    """A mark of a fixed size; ``fill`` None is hollow. ``offset_pt`` moves it on the paper."""

    x: float
    y: float
    size_pt: float
    shape: DotShape = "circle"
    fill: str | None = None
    edge: Pen | None = None
    offset_pt: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line between two offsets (pt) from one place: a leader, a tick."""

    x: float
    y: float
    start_pt: tuple[float, float]
    end_pt: tuple[float, float]
    pen: Pen


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text, printed literally.

    ``across`` and ``up`` say which part of the text stands at the place; ``"top"`` and
    ``"middle"`` are those of a capital letter. ``halo`` is the colour of a rim, None for none.
    """

    x: float
    y: float
    text: str
    size_pt: float
    colour: str = "#1a1a1a"
    bold: bool = False
    across: Across = "left"
    up: Up = "baseline"
    halo: str | None = None
    offset_pt: tuple[float, float] = (0.0, 0.0)

    @property
    def baseline_shift_pt(self) -> float:
        """How far (pt) the baseline lies from the place."""
        part = {"baseline": 0.0, "middle": 0.5, "top": 1.0}[self.up]
        return -part * CAP_HEIGHT * self.size_pt


@dataclass(frozen=True, slots=True)
class Picture:
    """Pixels, row 0 at the top.

    Attributes
    ----------
    rgba : array of shape (rows, columns, 4), uint8
    bounds : tuple of float
        West, south, east, north in the unit of the drawing.
    clip : Polygon or MultiPolygon, optional
        Nothing is painted outside it.
    """

    rgba: NDArray[np.uint8]
    bounds: tuple[float, float, float, float]
    clip: BaseGeometry | None = None


Item: TypeAlias = Area | Path | Dot | Stroke | Label | Picture
Drawing: TypeAlias = tuple[Item, ...]
"""Painted in order: a later item lies on top."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A drawing in metres, laid into a rectangle of a page at a scale, and cut at its edge.

    ``(west_m, south_m)`` comes to lie on the lower left corner ``(left_mm, bottom_mm)``.
    """

    drawing: Drawing
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float
    west_m: float
    south_m: float
    mm_per_m: float

    @property
    def seen_m(self) -> tuple[float, float, float, float]:
        """West, south, east, north (m) of what the frame shows."""
        return (
            self.west_m,
            self.south_m,
            self.west_m + self.width_mm / self.mm_per_m,
            self.south_m + self.height_mm / self.mm_per_m,
        )

    def to_page(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place of the plan (m) lies on the page (mm)."""
        return (
            self.left_mm + (x - self.west_m) * self.mm_per_m,
            self.bottom_mm + (y - self.south_m) * self.mm_per_m,
        )


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page: frames first, then the page's own drawing (mm, origin at the lower left).

    ``begins`` are the bookmarks of a page of text: what begins on it, or nothing. Where it is None
    the page is marked with its title, unless that of the page before is the same.
    """

    width_mm: float
    height_mm: float
    frames: tuple[Frame, ...]
    page: Drawing
    title: str = ""
    author: str = ""
    begins: tuple[str, ...] | None = None


def texts(sheet: Sheet) -> tuple[str, ...]:
    """Return every text of a sheet, in the order of painting."""
    drawings = (*(frame.drawing for frame in sheet.frames), sheet.page)
    return tuple(item.text for one in drawings for item in one if isinstance(item, Label))
