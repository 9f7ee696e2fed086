"""Placing an image under a plan from two points and the metres between them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from hgmap.editing.plan_edits import Place
from hgmap.errors import PlanError
from hgmap.site.pictures.placed import NEAREST_PX
from hgmap.site.plan_picture import COARSEST_M_PER_PX, PlanPicture

LARGEST_PX: Final = 100_000
"""An image with a longer side is damaged, or made to do harm."""

_PNG: Final = b"\x89PNG\r\n\x1a\n"
_JPEG: Final = b"\xff\xd8"
_FRAMES: Final = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
_BARE: Final = frozenset({0x01, *range(0xD0, 0xD8)})


def place_picture(
    first_px: Place,
    second_px: Place,
    distance_m: float,
    *,
    file: str,
    along_deg: float | None = None,
    angle_deg: float = 0.0,
    at: Place = (0.0, 0.0),
) -> PlanPicture:
    """Place an image.

    Parameters
    ----------
    first_px, second_px : (column, row)
        Two points of it, in pixels from its upper left corner.
    distance_m : float
        Between them in the building (m).
    file : str
        Path of the image relative to the site folder.
    along_deg : float, optional
        Which way the line from the first to the second point shall lie on the plan, in degrees
        counter-clockwise from plan-right; the image is turned so.
    angle_deg : float
        How the image lies where ``along_deg`` is not given.
    at : (x, y)
        Place of the first point in the floor's frame (m).

    Raises
    ------
    PlanError
        If the points are one, or the distance gives no pixel between 0 and 2 m.
    """
    numbers = (*first_px, *second_px, distance_m, along_deg or 0.0, angle_deg, *at)
    if not all(map(math.isfinite, numbers)):
        raise PlanError("a place is two finite numbers", todo="choose the points again")
    across, down = second_px[0] - first_px[0], second_px[1] - first_px[1]
    length_px = math.hypot(across, down)
    if length_px < NEAREST_PX:
        raise PlanError("the two points are one", todo="choose two that are far apart")
    if not distance_m > 0:
        raise PlanError(f"a distance of {distance_m:g} m", todo="type a number above 0")
    scale = distance_m / length_px
    if scale > COARSEST_M_PER_PX:
        raise PlanError(
            f"a pixel would be {scale:.3g} m wide",
            todo=f"check the distance: at most {COARSEST_M_PER_PX:g} m a pixel, and in metres",
        )
    if along_deg is not None:
        angle_deg = along_deg - math.degrees(math.atan2(-down, across))
    angle_deg = math.remainder(angle_deg, 360.0)
    lying = PlanPicture(file, scale, angle_deg)
    x, y = np.asarray(at) - lying.to_metres([first_px])[0]
    return PlanPicture(file, scale, angle_deg, float(x), float(y))


def picture_size(data: bytes, *, where: str = "") -> tuple[int, int]:
    """Return width and height (pixels) of a PNG or JPEG from its header alone.

    As they are stored: that a phone held upright notes a turn beside them is not looked at.

    Raises
    ------
    PlanError
        If it is neither, or its header is damaged.
    """
    size = _png_size(data) if data.startswith(_PNG) else None
    size = _jpeg_size(data) if data.startswith(_JPEG) else size
    if size is None:
        known = data.startswith((_PNG, _JPEG))
        raise PlanError(
            "its header is damaged" if known else "is no PNG or JPEG image",
            where=where,
            todo="save it again as PNG or JPEG",
        )
    if not 0 < min(size) <= max(size) <= LARGEST_PX:
        raise PlanError(f"has {size[0]} by {size[1]} pixels", where=where, todo="save it smaller")
    return size


def _png_size(data: bytes) -> tuple[int, int] | None:
    if len(data) < 24 or data[12:16] != b"IHDR":
        return None
    return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")


def _jpeg_size(data: bytes) -> tuple[int, int] | None:
    """Go from segment to segment up to the one that begins a frame."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        mark = data[at + 1]
        if mark == 0xFF or mark in _BARE:  # filling, or a mark without a segment
            at += 1 if mark == 0xFF else 2
            continue
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        if mark in _FRAMES:
            if at + 9 > len(data):
                return None
            height, width = data[at + 5 : at + 7], data[at + 7 : at + 9]
            return int.from_bytes(width, "big"), int.from_bytes(height, "big")
        if length < 2 or mark in (0xD9, 0xDA):
            return None
        at += 2 + length
    return None
