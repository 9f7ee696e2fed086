"""Numbered things on a plan that a person takes or leaves: repairs, and walls that are offered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import PAPER, SOFT

TAKEN: Final = "#c74a00"
_PEN: Final = Pen(TAKEN, 2.4)
_LEFT: Final = Pen(SOFT, 1.6, (3.0, 2.0))
_LEAST_PT: Final = 4.0
"""What would be smaller than this on the screen (pt) is shown as a dot."""
APART_PT: Final = 17.0
"""Numbers nearer to each other than this (pt) would lie over each other: the later has none."""
_NUMBER_PT: Final = 7.5
_OFF_PT: Final = 10.0
_PT_PER_PX: Final = 0.75


@dataclass(frozen=True, slots=True)
class NumberedSign:
    """One of them: its number, its place (m), whether it is taken, and the pen if it is."""

    number: str
    place: shapely.Geometry
    taken: bool = True
    pen: Pen = _PEN


def numbered_signs(signs: Sequence[NumberedSign], px_per_m: float) -> Drawing:
    """Draw them: those taken in their pen, those left in a broken grey line.

    Parameters
    ----------
    signs : sequence of NumberedSign
    px_per_m : float
        Of the screen; numbers that would lie over others appear as the plan is enlarged.
    """
    pt_per_m = px_per_m * _PT_PER_PX
    shown = [one for one in signs if not one.place.is_empty]
    shapes = [item for one in shown for item in _shape(one, pt_per_m)]
    return (*shapes, *_numbers(shown, pt_per_m))


def _numbers(signs: Sequence[NumberedSign], pt_per_m: float) -> Iterator[Item]:
    """Write numbers, the first ones first, where there is room."""
    taken = np.empty((len(signs), 2))
    count = 0
    for one in signs:
        at = one.place.representative_point()
        here = np.array([at.x, at.y]) * pt_per_m
        if count and np.hypot(*(taken[:count] - here).T).min() < APART_PT:
            continue
        taken[count] = here
        count += 1
        colour = one.pen.colour if one.taken else SOFT
        yield Label(at.x, at.y, one.number, _NUMBER_PT, colour, bold=True, across="centre",
                    up="middle", halo=PAPER, offset_pt=(0.0, _OFF_PT))  # fmt: skip


def _shape(one: NumberedSign, pt_per_m: float) -> Drawing:
    pen = one.pen if one.taken else _LEFT
    west, south, east, north = one.place.bounds
    if max(east - west, north - south) * pt_per_m < _LEAST_PT:
        at = one.place.representative_point()
        return (Dot(at.x, at.y, 7.0, "circle", pen.colour if one.taken else None, pen),)
    if one.place.geom_type.endswith("Polygon"):
        return (Area(one.place, fill=pen.colour + "33" if one.taken else None, pen=pen),)
    return (Path(one.place, Pen(PAPER, pen.width_pt + 2.0)), Path(one.place, pen))
