"""A world file: six numbers beside an image that say where its pixels lie.

The lines are A, D, B, E, C, F of x = A column + B row + C and y = D column + E row + F, for the
middles of pixels (common practice, no source).
"""

from __future__ import annotations

import math
from typing import Final

from hgmap.errors import PlanError
from hgmap.site.plan import LONGEST_BUILDING_M
from hgmap.site.plan_picture import COARSEST_M_PER_PX, PlanPicture

ALIKE: Final = 1e-3
"""Scales along rows and columns that differ by a smaller share are one scale."""


def read_world_file(data: bytes, *, where: str, file: str) -> PlanPicture:
    """Read where an image lies.

    Parameters
    ----------
    data : bytes
        The world file, in metres of the floor's own frame.
    where : str
        Its name.
    file : str
        Path of the image relative to the site folder.

    Raises
    ------
    PlanError
        If it has not six numbers, mirrors or shears the image, has pixels that are not square, or
        lies farther out than a building does.
    """
    try:
        numbers = [float(one) for one in data[:4096].decode("ascii").split()]
    except (UnicodeDecodeError, ValueError):
        numbers = []
    if len(numbers) != 6 or not all(map(math.isfinite, numbers)):
        raise PlanError("is no world file", where=where, todo="it has six lines of one number")
    a, d, b, e, c, f = numbers
    scale = math.hypot(a, d)
    if not 0 < scale <= COARSEST_M_PER_PX:
        raise PlanError(
            f"a pixel would be {scale:.3g} m wide", where=where,
            todo=f"write it in metres: more than 0 and at most {COARSEST_M_PER_PX:g} m a pixel",
        )  # fmt: skip
    if a * e - b * d > 0:
        raise PlanError("it mirrors the picture", where=where, todo="export the picture unmirrored")
    if math.hypot(b - d, e + a) > ALIKE * scale:
        raise PlanError(
            "its pixels are not square", where=where, todo="export the picture with square pixels"
        )
    # the corner of the first pixel lies half a pixel before its middle, both ways
    x, y = c - (a + b) / 2, f - (d + e) / 2
    if max(abs(x), abs(y)) > LONGEST_BUILDING_M:
        raise PlanError(
            f"the picture would lie at {x:.0f}, {y:.0f} m, far from the plan", where=where,
            todo="place it by points with coordinates of the plan, not of a map",
        )  # fmt: skip
    return PlanPicture(file, scale, math.degrees(math.atan2(d, a)), x, y)
