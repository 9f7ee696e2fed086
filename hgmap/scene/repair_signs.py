"""Where repairs of a drawing lie on its plan, with their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import PAPER, SOFT

MADE: Final = "#c74a00"
_PEN: Final = Pen(MADE, 2.4)
_REFUSED: Final = Pen(SOFT, 1.6, (3.0, 2.0))
_LEAST_PT: Final = 4.0
"""What would be smaller than this on the screen (pt) is shown as a dot."""
_APART_PT: Final = 17.0
"""Numbers nearer to each other than this (pt) would lie over each other: the later has none."""
_NUMBER_PT: Final = 7.5
_OFF_PT: Final = 10.0
_PT_PER_PX: Final = 0.75


@dataclass(frozen=True, slots=True)
class RepairSign:
    """A repair to show: its number, its place (m), and whether it is made."""

    number: int
    place: shapely.Geometry
    made: bool = True


def repair_signs(signs: Sequence[RepairSign], px_per_m: float) -> Drawing:
    """Draw repairs: those made in an unbroken line, those refused in a broken one.

    Parameters
    ----------
    signs : sequence of RepairSign
    px_per_m : float
        Of the screen; numbers that would lie over others appear as the plan is enlarged.
    """
    pt_per_m = px_per_m * _PT_PER_PX
    items: list[Item] = []
    taken = np.empty((0, 2))
    numbers: list[Item] = []
    for one in signs:
        if one.place.is_empty:
            continue
        items += _shape(one, pt_per_m)
        at = one.place.representative_point()
        here = np.array([at.x, at.y]) * pt_per_m
        if taken.size and np.hypot(*(taken - here).T).min() < _APART_PT:
            continue
        taken = np.vstack([taken, here])
        colour = MADE if one.made else SOFT
        numbers.append(
            Label(at.x, at.y, str(one.number), _NUMBER_PT, colour, bold=True, across="centre",
                  up="middle", halo=PAPER, offset_pt=(0.0, _OFF_PT))
        )  # fmt: skip
    return (*items, *numbers)


def _shape(one: RepairSign, pt_per_m: float) -> Drawing:
    pen = _PEN if one.made else _REFUSED
    west, south, east, north = one.place.bounds
    if max(east - west, north - south) * pt_per_m < _LEAST_PT:
        at = one.place.representative_point()
        return (Dot(at.x, at.y, 7.0, "circle", MADE if one.made else None, pen),)
    if one.place.geom_type.endswith("Polygon"):
        return (Area(one.place, fill=MADE + "33" if one.made else None, pen=pen),)
    return (Path(one.place, Pen(PAPER, pen.width_pt + 2.0)), Path(one.place, pen))
