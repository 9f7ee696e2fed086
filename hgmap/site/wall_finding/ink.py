"""What of an image is ink: lines of a drawing, or the occupied cells of a laser map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import PlanError

if TYPE_CHECKING:
    from types import ModuleType

GROUND_SHARE: Final = 0.10
"""A grey that so much of an image has is ground (floor, or nobody knows), not ink. Ours."""

GREY_STEP: Final = 16
"""Greys that differ by less are one; so much darker than any ground ink has to be. Ours."""

DARKEST_GROUND: Final = 64
"""A darker grey is ink, however much of it there is. Ours."""

MOST_INK: Final = 0.5
"""Where more is dark, the lines are the bright part. Ours."""

FAINTEST: Final = 32
"""An image whose darkest and brightest grey differ by less has no lines in it. Ours."""


@dataclass(frozen=True)
class Ink:
    """The ink of an image.

    Attributes
    ----------
    mask : array of bool, shape (rows, columns)
        Row 0 at the top.
    threshold : int
        Ink is as dark as this grey (0 to 255) or darker; of bright lines on dark, of the image
        turned into its negative.
    laser_map : bool
        Whether grey ground lies beside white: cells that nobody has seen, beside free ones.
    negative : bool
        Whether the lines are brighter than their ground.
    """

    mask: NDArray[np.bool_]
    threshold: int
    laser_map: bool
    negative: bool


def skimage(part: str) -> Any:
    """Return a part of scikit-image, which is optional.

    Raises
    ------
    PlanError
        Saying what to install.
    """
    import importlib

    try:
        module: ModuleType = importlib.import_module(f"skimage.{part}")
    except ImportError:
        raise PlanError(
            "the library that finds lines in images is not installed",
            todo="pip install 'hgmap[drawings]', or draw the walls by hand",
        ) from None
    return module


def find_ink(
    grey: NDArray[np.uint8], threshold: int | None = None, *, laser_map: bool | None = None
) -> Ink:
    """Tell ink from ground.

    Where no threshold is given it is Otsu's (Otsu 1979, IEEE Trans. Syst. Man Cybern. 9, 62-66, as
    scikit-image has it) between the ink and the darkest ground: a grey that fills a tenth of the
    image is ground. On a laser map the cells that nobody has seen are such a ground, and whatever
    is clearly darker has been seen occupied, if not every time.

    Parameters
    ----------
    grey : array of uint8, shape (rows, columns)
    threshold : int, optional
        0 to 254.
    laser_map : bool, optional
        Whether it is one; where nothing is said, an image with two bright grounds is.

    Raises
    ------
    PlanError
        If nothing stands out from the ground, or the threshold is none.
    """
    if threshold is not None and not 0 <= threshold <= 254:
        raise PlanError(f"a threshold of {threshold}", where="--threshold", todo="say 0 to 254")
    counts = np.bincount(grey.ravel(), minlength=256).astype(float)
    seen = np.flatnonzero(counts)
    if not seen.size or seen[-1] - seen[0] < FAINTEST:
        raise PlanError(
            "the picture is one shade: no lines stand out",
            todo="choose a picture with dark lines on bright ground",
        )
    grounds = _grounds(counts / counts.sum())
    negative = threshold is None and _is_negative(grounds)
    if negative:
        grey, counts = 255 - grey, counts[::-1]
        grounds = _grounds(counts / counts.sum())
    bright = [one for one in grounds if one >= DARKEST_GROUND]
    if laser_map is None:
        laser_map = len(bright) > 1 and not negative
    if threshold is None:
        unseen = laser_map and bool(bright)
        threshold = min(bright) - GREY_STEP if unseen else _between(counts, bright)
    mask = grey <= threshold
    share = float(mask.mean())
    if not 0.0 < share < MOST_INK:
        raise PlanError(
            f"{share:.0%} of the picture would be ink at threshold {threshold}",
            where="--threshold", todo="say another, 0 (black) to 254",
        )  # fmt: skip
    return Ink(mask, int(threshold), laser_map, negative)


def _grounds(share: NDArray[np.float64]) -> list[int]:
    """Return the greys that fill ground, from dark to bright: peaks, with those beside them."""
    left = share.copy()
    found = []
    for _ in range(4):
        peak = int(np.argmax(left))
        low, high = max(0, peak - GREY_STEP // 2), peak + GREY_STEP // 2 + 1
        if float(share[low:high].sum()) < GROUND_SHARE or left[peak] <= 0:
            break
        found.append(peak)
        left[max(0, peak - GREY_STEP) : peak + GREY_STEP + 1] = 0.0
    return sorted(found)


def _is_negative(grounds: list[int]) -> bool:
    """Tell bright lines on dark ground: all ground is dark."""
    return bool(grounds) and max(grounds) < 128


def _between(counts: NDArray[np.float64], bright: list[int]) -> int:
    """Return Otsu's threshold with every ground taken as bright as the darkest of them."""
    filters = skimage("filters")
    if not bright:
        return int(filters.threshold_otsu(hist=(counts, np.arange(256))))
    ground = min(bright)
    levels = np.minimum(np.arange(256), ground)
    clipped = np.bincount(levels, weights=counts, minlength=256)
    found = int(filters.threshold_otsu(hist=(clipped[: ground + 1], np.arange(ground + 1))))
    return min(found, ground - GREY_STEP)
