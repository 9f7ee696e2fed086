"""One of everything, painted once on the window's thread before another thread may paint.

PySide makes its classes and enumerations as they are first used, and two threads that make some at
the same time crash the program (seen with 6.11: a fault in ``fillRect`` while the other thread made
an enumeration). After this the painting thread meets nothing new.
"""

from __future__ import annotations

from functools import cache
from typing import get_args

import numpy as np
import shapely
from PySide6.QtCore import QRect, QSize
from PySide6.QtGui import QImage

from hgmap.desktop.paint_work import Ground, Order, Underlay, carry_out
from hgmap.desktop.painter import Place
from hgmap.report.drawing import (
    Across,
    Area,
    Dot,
    DotShape,
    Drawing,
    Hatch,
    HatchName,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Stroke,
)

SIDE_PX = 24


def one_of_everything() -> Drawing:
    """Return a drawing with every kind of item, hatch, mark, pen and placing of text."""
    box = shapely.box(0.0, 0.0, 2.0, 2.0)
    # more corners than are painted as they are, and than are stroked in one go
    round_one = shapely.Point(1.0, 1.0).buffer(1.0, 32)
    thin, thick = Pen("#000000", 0.4, (2.0, 1.0)), Pen("#00000080", 2.0, (2.0, 1.0))
    rgba = np.full((2, 2, 4), 200, dtype=np.uint8)
    items: list[Item] = [Picture(rgba, box.bounds), Picture(rgba, box.bounds, round_one)]
    names: tuple[HatchName, ...] = ("diagonal", "cross", "dots")
    for name, pen in zip(names, (thin, thick, None), strict=True):
        items.append(Area(round_one, "#ffffff80", Hatch(name, "#000000", 4.0, 0.6), pen))
    items += [Path(round_one.exterior, thin), Path(box.exterior, thick)]
    for shape in get_args(DotShape):
        for edge in (None, Pen("#ffffff", 0.6)):
            items.append(Dot(1.0, 1.0, 3.0, shape, "#000000", edge))
    for across in get_args(Across):
        for halo in (None, "#ffffff"):
            items.append(Label(1.0, 1.0, "0", 6.0, bold=bool(halo), across=across, halo=halo))
    items.append(Stroke(1.0, 1.0, (0.0, 0.0), (3.0, 3.0), thin))
    return tuple(items)


@cache
def warm_up() -> None:
    """Paint it, both ways that are ordered; the second call does nothing."""
    image = QImage(4, 4, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    ground = Ground(one_of_everything(), Underlay(image, (0.1, 0.0, 0.0, 0.0, -0.1, 2.0), 0.5))
    page = QRect(0, 0, SIDE_PX, SIDE_PX)
    for kind in ("whole", "strips"):
        place = Place(10.0, 2.0, 22.0)
        carry_out(Order(kind, ground, place, QSize(SIDE_PX, SIDE_PX), (page,), page))
