"""How an image is placed: by points, by a length, by the side of its pixels, or by a guess."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from hgmap.editing.plan_picture import place_picture
from hgmap.errors import PlanError
from hgmap.site.files import read_bytes
from hgmap.site.pictures.placed import PicturePoint, PlacedPicture, place_by_points
from hgmap.site.pictures.read_picture import ReadPicture
from hgmap.site.pictures.world_file import read_world_file
from hgmap.site.plan_picture import COARSEST_M_PER_PX, PlanPicture

GUESSED_WIDTH_M: Final = 20.0
"""How wide (m) an image is laid before anybody said its scale. Ours; it has to be mended."""

OUTSIDE_PX: Final = 0.5
"""A point may lie so far outside the image: on its very edge."""

UNSAID: Final = (
    "nobody has said its scale: it was laid by a guess, and a plan drawn after it clears nothing"
)


@dataclass(frozen=True, slots=True)
class Placing:
    """How an image is to be placed; where nothing is said, it is laid by a guess.

    Attributes
    ----------
    points : tuple of PicturePoint
        Two or more with their places; or two without, and ``length_m``.
    length_m : float, optional
        Between two points without places (m); the first becomes the origin.
    metres_per_pixel : float, optional
        Its lower left corner becomes the origin.
    turn_deg : float, optional
        Direction of its rows, counter-clockwise from plan-right; with one of the two above.
    world_file : Path, optional
    """

    points: tuple[PicturePoint, ...] = ()
    length_m: float | None = None
    metres_per_pixel: float | None = None
    turn_deg: float | None = None
    world_file: Path | None = None


def placed_by(placing: Placing, read: ReadPicture, file: str, name: str) -> PlacedPicture:
    """Place the image as it arrived, then as it is kept.

    Parameters
    ----------
    placing : Placing
    read : ReadPicture
    file : str
        Path of the image relative to the site folder.
    name : str
        As it arrived: named in messages.

    Raises
    ------
    HgmapError
        If more than one way is given, or the one given places nothing.
    """
    ways = [bool(placing.points), placing.metres_per_pixel is not None,
            placing.world_file is not None]  # fmt: skip
    if sum(ways) > 1:
        raise PlanError(
            "--point, --metres-per-pixel and --world-file each place the picture", where=name,
            todo="give one of them",
        )  # fmt: skip
    if placing.length_m is not None and not placing.points:
        raise PlanError("--length is between two points", where=name, todo="give --point twice")
    with_places = any(one.place is not None for one in placing.points)
    if placing.turn_deg is not None and (with_places or placing.world_file or not any(ways)):
        raise PlanError(
            "--turn goes with --length or --metres-per-pixel", where=name, todo="leave it out"
        )
    if placing.turn_deg is not None and not abs(placing.turn_deg) <= 360:
        raise PlanError(
            f"a turn of {placing.turn_deg:g} degrees", where=name, todo="say -360 to 360"
        )
    _refuse_outside(placing.points, read, name)
    placed = _as_it_arrived(placing, read, file)
    kept = replace(placed.picture, m_per_px=placed.picture.m_per_px * read.shrunk_by)
    if kept.m_per_px > COARSEST_M_PER_PX:
        raise PlanError(
            f"a pixel would be {kept.m_per_px:.3g} m wide", where=name,
            todo=f"check the scale: at most {COARSEST_M_PER_PX:g} m a pixel",
        )  # fmt: skip
    return replace(placed, picture=kept)


def _as_it_arrived(placing: Placing, read: ReadPicture, file: str) -> PlacedPicture:
    wide, high = read.size_px
    turn = placing.turn_deg or 0.0
    if placing.world_file is not None:
        where = str(placing.world_file)
        picture = read_world_file(
            read_bytes(placing.world_file, where=where), where=where, file=file
        )
        return PlacedPicture(picture)
    if placing.metres_per_pixel is not None:
        return PlacedPicture(_from_corner(file, placing.metres_per_pixel, turn, high))
    if placing.length_m is not None:
        return _by_length(placing.points, placing.length_m, turn, file)
    if placing.points:
        return place_by_points(placing.points, file=file)
    scale = min(GUESSED_WIDTH_M / wide, COARSEST_M_PER_PX / read.shrunk_by)
    guess = replace(_from_corner(file, scale, 0.0, high), guessed=True)
    return PlacedPicture(guess, doubts=(UNSAID,))


def _from_corner(file: str, scale: float, turn_deg: float, high: int) -> PlanPicture:
    """Lay an image with its lower left corner at (0, 0)."""
    if not (math.isfinite(scale) and 0 < scale <= COARSEST_M_PER_PX):
        raise PlanError(
            f"a pixel would be {scale:g} m wide", where="--metres-per-pixel",
            todo=f"say more than 0 and at most {COARSEST_M_PER_PX:g}",
        )  # fmt: skip
    x, y = PlanPicture(file, scale, turn_deg).to_metres([(0, high)])[0]
    return PlanPicture(file, scale, math.remainder(turn_deg, 360.0), -float(x), -float(y))


def _by_length(
    points: Sequence[PicturePoint], length_m: float, turn_deg: float, file: str
) -> PlacedPicture:
    if len(points) != 2 or any(one.place is not None for one in points):
        raise PlanError(
            "--length is between two points without places", where="--point",
            todo='give --point twice, each as "column,row"',
        )  # fmt: skip
    picture = place_picture(
        points[0].pixel, points[1].pixel, length_m, file=file, angle_deg=turn_deg
    )
    return PlacedPicture(
        picture, notes=("one length always fits: measure another, across it, on the plan",)
    )


def _refuse_outside(points: Sequence[PicturePoint], read: ReadPicture, name: str) -> None:
    wide, high = read.size_px
    for number, one in enumerate(points, start=1):
        column, row = one.pixel
        if not (-OUTSIDE_PX <= column <= wide + OUTSIDE_PX
                and -OUTSIDE_PX <= row <= high + OUTSIDE_PX):  # fmt: skip
            raise PlanError(
                f"point {number} (column {column:g}, row {row:g}) lies outside the picture of "
                f"{wide} by {high} pixels", where=name,
                todo="count from its upper left corner, upright as a viewer shows it",
            )  # fmt: skip
