"""A drawing with what Qt needs to paint it again and again: bounds, paths, pictures."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from PySide6.QtGui import QImage, QPainterPath
from shapely.geometry.base import BaseGeometry

from hgmap.desktop.outlines import Pieces, lines_of, pieces, rings_of, whole_path
from hgmap.desktop.pictures import image_of
from hgmap.desktop.stamps import Stamp
from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Picture, Stroke

DETAIL_PX: Final = 0.25
"""A line is simplified by less than this, on screens only; paper has every corner."""
_MANY: Final = 60
"""Corners from which it is worth it."""
_WIDE_PX: Final = 12000.0
"""Qt counts pixels in 16 bits in places; what is wider is cut near the window first."""

_Made = TypeVar("_Made", QPainterPath, Pieces)

Seen = tuple[float, float, float, float]
"""West, south, east, north, in the unit of the drawing."""


class Prepared:
    """A drawing, and what was made from it; holds the drawing, so that nothing is mixed up."""

    def __init__(self, drawing: Drawing = ()) -> None:
        self.drawing = drawing
        count = len(drawing)
        self._bounds = np.full((count, 4), np.nan)
        self._reach_pt = np.zeros(count)
        self.spots = np.zeros((count, 4))
        """Place (unit) and offset from it (pt, y up) of what has a fixed size."""
        self._shapes: list[BaseGeometry | None] = [None] * count
        self._paths: dict[tuple[int, int], QPainterPath] = {}
        self._pieces: dict[tuple[int, int], Pieces] = {}
        self._images: dict[int, QImage] = {}
        self.kept: dict[int, tuple[object, Stamp]] = {}
        """The last picture of an item's dots, and what it was made for."""
        for number, item in enumerate(drawing):
            self._place(number, item)
        shapes = np.array(self._shapes, dtype=object)
        spread = np.array([one is not None for one in self._shapes], dtype=bool)
        if spread.any():
            self._bounds[spread] = shapely.bounds(shapes[spread])
        self._corners = shapely.get_num_coordinates(shapes) if count else np.zeros(0, dtype=int)

    def _place(self, number: int, item: Item) -> None:
        if isinstance(item, Area):
            self._shapes[number] = item.shape
            self._reach_pt[number] = 0.0 if item.pen is None else item.pen.width_pt
        elif isinstance(item, Path):
            self._shapes[number] = item.shape
            self._reach_pt[number] = item.pen.width_pt
        elif isinstance(item, Picture):
            self._shapes[number] = shapely.box(*item.bounds) if item.clip is None else item.clip
        else:
            self._bounds[number] = (item.x, item.y, item.x, item.y)
            self.spots[number, :2] = item.x, item.y
            self._reach_pt[number] = self._fixed(number, item)

    def _fixed(self, number: int, item: Dot | Label | Stroke) -> float:
        """Note the offset of an item of fixed size; return how far (pt) it reaches at most."""
        if isinstance(item, Stroke):
            ends = (*item.start_pt, *item.end_pt)
            return max(map(abs, ends)) + item.pen.width_pt
        x, y = item.offset_pt
        if isinstance(item, Label):
            self.spots[number, 2:] = x, y + item.baseline_shift_pt
            # no letter of the font is wider than 1.4 of its size
            return max(abs(x), abs(y)) + item.size_pt * (2.0 + 1.4 * len(item.text))
        self.spots[number, 2:] = x, y
        return max(abs(x), abs(y)) + item.size_pt + (item.edge.width_pt if item.edge else 0.0)

    def within(self, seen: Seen, unit_per_pt: float) -> NDArray[np.intp]:
        """Return the numbers of the items that may show in a rectangle, in order."""
        west, south, east, north = seen
        reach = self._reach_pt * unit_per_pt
        with np.errstate(invalid="ignore"):
            held = (
                (self._bounds[:, 0] - reach <= east)
                & (self._bounds[:, 2] + reach >= west)
                & (self._bounds[:, 1] - reach <= north)
                & (self._bounds[:, 3] + reach >= south)
            )
        return np.nonzero(held)[0]

    def shape(self, number: int, scale: float, seen: Seen) -> BaseGeometry:
        """Return the shape of an item; one far wider than the window is cut round the window."""
        shape = self._shapes[number]
        if shape is None:
            raise IndexError(number)
        return _cut(shape, seen) if self.is_wide(number, scale) else shape

    def path(self, number: int, scale: float, seen: Seen) -> QPainterPath:
        """Return the outline of an area for filling, good enough for a scale (px per unit)."""
        return self._made(number, scale, seen, self._paths, whole_path)

    def pieces(self, number: int, scale: float, seen: Seen) -> Pieces:
        """Return the lines of an item for stroking, good enough for a scale (px per unit)."""
        return self._made(number, scale, seen, self._pieces, pieces)

    def _made(
        self,
        number: int,
        scale: float,
        seen: Seen,
        kept: dict[tuple[int, int], _Made],
        make: Callable[[NDArray[np.object_]], _Made],
    ) -> _Made:
        many = self._corners[number] > _MANY
        level = math.floor(math.log2(scale)) if many else 0
        wide = self.is_wide(number, scale)
        held = None if wide else kept.get((number, level))
        if held is not None:
            return held
        shape = self.shape(number, scale, seen)
        if many:
            finest = DETAIL_PX / 2.0 ** (level + 1)
            shape = shapely.simplify(shape, finest, preserve_topology=False)
        lines = lines_of if isinstance(self.drawing[number], Path) else rings_of
        made = make(lines(shape))
        if not wide:
            kept[number, level] = made
        return made

    def image(self, number: int) -> QImage:
        """Return the pixels of a picture."""
        if number not in self._images:
            item = self.drawing[number]
            if not isinstance(item, Picture):
                raise TypeError(type(item).__name__)
            self._images[number] = image_of(item.rgba)
        return self._images[number]

    def is_wide(self, number: int, scale: float) -> bool:
        """Tell whether an item is too wide to be painted, or kept, as a whole."""
        west, south, east, north = self._bounds[number]
        return bool(max(east - west, north - south) * scale > _WIDE_PX)


def _cut(shape: BaseGeometry, seen: Seen) -> BaseGeometry:
    """Cut a shape so far outside the window that no pen of the cut shows."""
    west, south, east, north = seen
    across, up = east - west, north - south
    box = (west - across, south - up, east + across, north + up)
    try:
        return shapely.clip_by_rect(shape, *box)
    except shapely.GEOSException:
        return shapely.intersection(shapely.make_valid(shape), shapely.box(*box))
