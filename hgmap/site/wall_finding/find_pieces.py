"""Every straight piece of ink in an image: voted for by its skeleton, fitted to its ink."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from hgmap.errors import PlanError
from hgmap.site.wall_finding.ink import skimage
from hgmap.site.wall_finding.pieces import Limits, Piece, grow

MOST_SKELETON_PX: Final = 3_000_000
"""More is no drawing: a photo, or a picture full of grain."""

LEAST_PX: Final = 7
"""Shorter pieces (px) have no direction."""

CLAIMED: Final = 0.6
"""A candidate that so large a share of lies under a piece found before is that piece."""

_DIRECTIONS: Final = 720
_SEED: Final = 1


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for (px).

    Attributes
    ----------
    shortest : float
        Shorter pieces are not looked at.
    gap : int
        A piece goes on over so much nothing.
    thickest : float
        Wider ink is no wall.
    island : float
        Ink that hangs together and spans less is a letter, a column or furniture.
    """

    shortest: float
    gap: int
    thickest: float
    island: float


def without_islands(
    ink: NDArray[np.bool_], island: float, bridged: int
) -> tuple[NDArray[np.bool_], int]:
    """Take away ink that hangs together and spans less than ``island`` px.

    Parameters
    ----------
    ink : array of bool
    island : float
        Diagonal of the box round it (px).
    bridged : int
        Ink over gaps of so many pixels hangs together.

    Returns
    -------
    ink : array of bool
        What is left.
    count : int
        How many islands were taken away.
    """
    together = ndimage.binary_dilation(ink, np.ones((3, 3)), bridged // 2) if bridged > 1 else ink
    labels, count = ndimage.label(together, np.ones((3, 3)))
    boxes = ndimage.find_objects(labels)
    grown = 2 * (bridged // 2) if bridged > 1 else 0
    small = np.zeros(count + 1, dtype=bool)
    for number, (rows, columns) in enumerate(boxes, start=1):
        high, wide = rows.stop - rows.start - grown, columns.stop - columns.start - grown
        small[number] = math.hypot(high, wide) < island
    return ink & ~small[labels], int(small.sum())


def find_pieces(ink: NDArray[np.bool_], search: Search) -> list[Piece]:
    """Find the straight pieces of ink, long ones first.

    Candidates come from the progressive probabilistic Hough transform (Galamhos, Matas and Kittler
    1999, as scikit-image has it) of the skeleton; each is then fitted to the ink itself, grows
    along it, and takes its ink from the candidates after it.

    Raises
    ------
    PlanError
        If there is so much ink that it is no drawing, or scikit-image is not installed.
    """
    if not ink.any():
        return []
    skeleton = skimage("morphology").skeletonize(ink)
    if int(skeleton.sum()) > MOST_SKELETON_PX:
        raise PlanError(
            "so much of the picture is ink that it is no clean drawing",
            where="--threshold", todo="say a lower one, or choose a cleaner picture",
        )  # fmt: skip
    depth = ndimage.distance_transform_edt(np.pad(ink, 1))[1:-1, 1:-1]
    shortest = max(search.shortest, float(LEAST_PX))
    found = skimage("transform").probabilistic_hough_line(
        skeleton,
        threshold=max(4, int(shortest / 2)),
        line_length=max(4, int(0.8 * shortest)),
        line_gap=search.gap,
        theta=np.linspace(-math.pi / 2, math.pi / 2, _DIRECTIONS, endpoint=False),
        rng=np.random.default_rng(_SEED),
    )
    candidates = sorted(
        found, key=lambda one: (-math.dist(one[0], one[1]), one[0], one[1])
    )  # the longest first
    limits = Limits(float(search.gap), 1.5 * search.thickest)
    taken = np.zeros_like(ink)
    pieces: list[Piece] = []
    for start, end in candidates:
        columns, rows = _pixels(start, end)
        if taken[rows, columns].mean() > CLAIMED:
            continue
        width = max(1.0, 2.0 * float(np.median(depth[rows, columns])) - 0.5)
        if width > search.thickest:
            continue
        piece = grow(ink, _middle(start), _middle(end), width, limits)
        if piece is None or piece.length < shortest or piece.width > search.thickest:
            continue
        if piece.length < 1.5 * piece.width:
            continue
        pieces.append(piece)
        _take(taken, piece)
    return pieces


def _middle(pixel: tuple[int, int]) -> tuple[float, float]:
    return pixel[0] + 0.5, pixel[1] + 0.5


def _pixels(start: Any, end: Any) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    count = int(max(abs(end[0] - start[0]), abs(end[1] - start[1]))) + 1
    columns = np.round(np.linspace(start[0], end[0], count)).astype(np.intp)
    rows = np.round(np.linspace(start[1], end[1], count)).astype(np.intp)
    return columns, rows


def _take(taken: NDArray[np.bool_], piece: Piece) -> None:
    """Mark the band of a piece: half its ink and a pixel to both sides of its middle."""
    draw = skimage("draw")
    side = piece.width / 2 + 1.0 if piece.width < 4 else 0.4 * piece.width + 1.0
    along = piece.along
    across = np.array([-along[1], along[0]]) * side
    start, end = np.array(piece.start) - along, np.array(piece.end) + along
    corners = np.array([start + across, end + across, end - across, start - across])
    rows, columns = draw.polygon(corners[:, 1] - 0.5, corners[:, 0] - 0.5, taken.shape)
    taken[rows, columns] = True
