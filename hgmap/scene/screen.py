"""A screen taken as paper: 96 pixels of the window's own size make an inch, as a browser has it.

Every size in points then means the same on the screen and on the sheet.
"""

from __future__ import annotations

from typing import Final

from hgmap.report.drawing import Frame
from hgmap.report.extent import extent
from hgmap.site.building import Floor

PX_PER_INCH: Final = 96.0
PAD_MM: Final = 14.0
"""Paper round the floor, for what stands beside its rooms (mm)."""

_FINEST: Final = 250.0
"""Scale (mm on the screen for a metre) beyond which labels are not laid out anew."""


def mm_per_m(px_per_m: float) -> float:
    """Return the scale of a screen that shows a metre on so many pixels (mm/m)."""
    return px_per_m * 25.4 / PX_PER_INCH


def screen_frame(floor: Floor, px_per_m: float, pad_mm: float = PAD_MM) -> Frame:
    """Return the empty frame that a floor and what stands beside it fill at a scale.

    ``pad_mm`` is left round the floor.
    """
    scale = min(mm_per_m(px_per_m), _FINEST)
    west, south, east, north = extent(floor)
    pad = pad_mm / scale
    return Frame(
        drawing=(),
        left_mm=0.0,
        bottom_mm=0.0,
        width_mm=(east - west) * scale + 2.0 * pad_mm,
        height_mm=(north - south) * scale + 2.0 * pad_mm,
        west_m=west - pad,
        south_m=south - pad,
        mm_per_m=scale,
    )
