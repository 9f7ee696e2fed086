"""Placing an image from two points or more whose coordinates on the plan are known."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from hgmap.errors import PlanError
from hgmap.site.control.doubts import point_that_misses
from hgmap.site.control.fit import Fit, solve
from hgmap.site.control.points import ControlPoint, places_of
from hgmap.site.plan_picture import COARSEST_M_PER_PX, FINEST_M_PER_PX, PlanPicture

Place = tuple[float, float]

NEAREST_PX: Final = 2.0
"""Two points nearer to each other than this (pixels) fix no scale."""

MIRRORED_BETTER: Final = 5.0
"""Points that fit a mirrored picture so many times better are of one. Ours, no source."""

PARTED: Final = 0.02
"""Points that miss by a greater share of their extent are mistyped, not measured badly. Ours."""

LOOSE_M: Final = 0.10
LOOSE_PX: Final = 3.0
"""A point that misses by more than both is worth a second look. Ours, no source."""

ALWAYS_FIT: Final = "two points always fit: a third one would check them"

_NUMBER: Final = r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*"
_POINT: Final = re.compile(rf"{_NUMBER},{_NUMBER}(?:={_NUMBER},{_NUMBER})?")


@dataclass(frozen=True, slots=True)
class PicturePoint:
    """A point of an image (column, row in pixels from its upper left corner), and its place (m)."""

    pixel: Place
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class PointMiss:
    """How far an image, as it is placed, lies from where a point was said to be."""

    pixel: Place
    place: Place
    dx_m: float
    dy_m: float

    @property
    def miss_m(self) -> float:
        """The length of the residual (m)."""
        return math.hypot(self.dx_m, self.dy_m)


@dataclass(frozen=True, slots=True)
class PlacedPicture:
    """An image placed by points.

    Attributes
    ----------
    picture : PlanPicture
    points : tuple of PointMiss
        Said place less fitted place of each point, in their order.
    rmse_m : float
        Root of the mean squared length of the residuals.
    doubts : tuple of str
        What the person should look at again.
    notes : tuple of str
        What else is to be known.
    """

    picture: PlanPicture
    points: tuple[PointMiss, ...] = ()
    rmse_m: float = 0.0
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def read_point(text: str) -> PicturePoint:
    """Read ``"px,py=x,y"``, or ``"px,py"`` alone.

    Raises
    ------
    PlanError
        If it is neither.

    Examples
    --------
    >>> read_point("120, 340 = 0, 12.5")
    PicturePoint(pixel=(120.0, 340.0), place=(0.0, 12.5))
    """
    found = _POINT.fullmatch(text)
    numbers = [float(one) for one in found.groups() if one is not None] if found else []
    if not numbers or not all(map(math.isfinite, numbers)):
        raise PlanError(
            f"{text[:40]!r} is no point of a picture", where="--point",
            todo='write column,row=x,y (pixels, metres) as "120,340=0,12.5", with decimal points',
        )  # fmt: skip
    place = (numbers[2], numbers[3]) if len(numbers) == 4 else None
    return PicturePoint((numbers[0], numbers[1]), place)


def place_by_points(points: Sequence[PicturePoint], *, file: str) -> PlacedPicture:
    """Place an image by two points or more: turned, scaled and moved, neither sheared nor mirrored.

    Parameters
    ----------
    points : sequence of PicturePoint
        Each with its place.
    file : str
        Path of the image relative to the site folder.

    Raises
    ------
    PlanError
        If the points fix no scale, fit only a mirrored image, or do not fit at all.
    """
    pairs = [(one.pixel, one.place) for one in points if one.place is not None]
    if len(pairs) < 2 or len(pairs) != len(points):
        raise PlanError(
            "two points with their places are needed", where="--point",
            todo="give --point column,row=x,y twice or more",
        )  # fmt: skip
    _refuse_one_place([pixel for pixel, _ in pairs], [place for _, place in pairs])
    # rows count downwards, y upwards
    control = [
        ControlPoint(str(n), pixel[0], -pixel[1], *place)
        for n, (pixel, place) in enumerate(pairs, start=1)
    ]
    upwards, places = places_of(control)
    fit = solve("conformal", upwards, places)
    if not FINEST_M_PER_PX <= fit.scale <= COARSEST_M_PER_PX:
        raise PlanError(
            f"a pixel would be {fit.scale:.3g} m wide", where="--point",
            todo=f"check the places: metres, {1000 * FINEST_M_PER_PX:g} mm to "
            f"{COARSEST_M_PER_PX:g} m a pixel",
        )  # fmt: skip
    misses = tuple(
        PointMiss(pixel, place, -float(dx), -float(dy))
        for (pixel, place), (dx, dy) in zip(pairs, fit.residuals, strict=True)
    )
    doubts = _doubts(fit, control, misses)
    notes = () if fit.degrees_of_freedom else (ALWAYS_FIT,)
    turn = math.degrees(math.atan2(fit.matrix[1, 0], fit.matrix[0, 0]))
    x, y = fit.origin
    picture = PlanPicture(file, fit.scale, turn, float(x), float(y))
    return PlacedPicture(picture, misses, fit.rmse_m, doubts, notes)


def _refuse_one_place(pixels: Sequence[Place], places: Sequence[Place]) -> None:
    for i in range(len(pixels)):
        for j in range(i):
            if math.dist(pixels[i], pixels[j]) < NEAREST_PX:
                raise PlanError(
                    f"points {j + 1} and {i + 1} are one point of the picture", where="--point",
                    todo="choose points that are far apart",
                )  # fmt: skip
            if math.dist(places[i], places[j]) == 0:
                raise PlanError(
                    f"points {j + 1} and {i + 1} have one place", where="--point",
                    todo="check their metres",
                )  # fmt: skip


def _doubts(
    fit: Fit, control: Sequence[ControlPoint], misses: Sequence[PointMiss]
) -> tuple[str, ...]:
    """Refuse points that do not belong together, and say which ones to look at again."""
    if fit.degrees_of_freedom == 0:
        return ()
    loose = max(LOOSE_M, LOOSE_PX * fit.scale)
    upwards, places = places_of(control)
    over = solve("conformal", upwards * (1.0, -1.0), places)
    if fit.rmse_m > max(loose / 10, MIRRORED_BETTER * over.rmse_m):
        raise PlanError(
            "the points fit a mirrored picture only", where="--point",
            todo="count rows downwards from the upper left corner, y upwards on the plan, and look "
            "whether the drawing was scanned from behind",
        )  # fmt: skip
    out = point_that_misses(control, fit) if fit.rmse_m > loose / 10 else None
    named = ""
    if out is not None:
        point, missed = out
        named = (
            f"point {point.name} (column {point.x:g}, row {0.0 - point.y:g}) stands out: the "
            f"others agree, and miss it by {missed:.2f} m"
        )
    span = float(np.hypot(*np.ptp(places, axis=0)))
    if fit.rmse_m > PARTED * span and fit.rmse_m > loose:
        message = f"the points do not fit: root mean square {fit.rmse_m:.2f} m"
        raise PlanError(
            f"{message}; {named}" if named else message, where="--point",
            todo="check their pixels and their metres",
        )  # fmt: skip
    worst = max(one.miss_m for one in misses)
    if named:
        return (named,)
    if worst > loose:
        return (
            f"a point misses by {worst:.2f} m: check its pixels and its metres, or the drawing is "
            "stretched",
        )
    return ()
