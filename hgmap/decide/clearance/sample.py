"""The readings of one room as arrays, checked once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


LARGEST_EXPONENT: Final = 700.0
SMALLEST: Final = 1e-100
LARGEST: Final = 1e100
"""Beyond these the squares can no longer be written as numbers."""


@dataclass(frozen=True, slots=True)
class CannotTell:
    """Stands where a number would, with the reason why there is none."""

    reason: str


def exponential(exponent: float) -> float:
    """Return e to a power, infinite where that cannot be written as a number."""
    return math.exp(exponent) if exponent < LARGEST_EXPONENT else math.inf


def checked(values: ArrayLike, is_detect: ArrayLike | None = None) -> tuple[Floats, Flags]:
    """Return readings in one order, from low to high, with what each of them is.

    Non-detects stand before detects of the same number: what is below 1 lies below a 1.

    Parameters
    ----------
    values : array_like, shape (n,)
        Concentrations, above zero; of a non-detect its detection limit.
    is_detect : array_like of bool, shape (n,), optional
        False for a non-detect; all are detects where it is left out.

    Raises
    ------
    EstimateError
        If the shapes differ, or a value is not a number above zero (from 1e-100 to 1e100).
    """
    numbers = np.asarray(values, dtype=np.float64)
    detect = np.ones(numbers.shape, bool) if is_detect is None else np.asarray(is_detect, bool)
    if numbers.ndim != 1 or detect.shape != numbers.shape:
        raise EstimateError(
            f"one flag for each value was expected, got {numbers.shape} values and "
            f"{detect.shape} flags",
            where="clearance",
        )
    wrong = ~((numbers >= SMALLEST) & (numbers <= LARGEST))
    if wrong.any():
        place = int(np.argmax(wrong))
        raise EstimateError(
            f"value {place + 1} is {numbers[place]:g}, not a number above zero",
            where="clearance",
            todo="write a reading that shows nothing as a non-detect at its detection limit",
        )
    order = np.lexsort((detect, numbers))
    return numbers[order], detect[order]
