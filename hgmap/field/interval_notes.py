"""What a reader of a map has to know of the readings that are intervals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def interval_notes(
    concentration: Floats,
    bounds: tuple[Floats, Floats] | None,
    ranges: NDArray[np.bool_] | None,
    method: str,
) -> list[str]:
    """Say how many readings are intervals, and how the method takes them.

    Parameters
    ----------
    concentration : array of shape (n,)
    bounds : pair of arrays of shape (n,) or None
    ranges : array of shape (n,), bool, or None
        Which are ranges as they were written; those with the concentration between their ends where
        None.
    method : {"kriging", "idw"}
    """
    if bounds is None:
        return []
    lower, upper = bounds
    between = (concentration > lower) & (concentration < upper)
    written = between if ranges is None else ranges
    detected, saturated = concentration > lower, (concentration < upper) & ~(concentration > lower)
    notes = []
    for hidden, noun, at, spans in (
        (detected & ~written, "non-detect", "detection limit",
         "anything from {} of the detection limit to the whole of it"),
        (saturated & ~written, "saturated reading", "lower bound",
         "anything from the value it exceeds to {} times that"),
        (written & (lower < upper), "range", "middle" if ranges is None else "upper end",
         "anything in what was written"),
    ):  # fmt: skip
        count = int(hidden.sum())
        if not count:
            continue
        k = int(np.flatnonzero(hidden)[0])
        if noun == "non-detect":
            share = "0" if lower[k] <= 0 else f"1/{concentration[k] / lower[k]:g}"
        else:
            share = f"{upper[k] / lower[k]:g}" if lower[k] > 0 else "inf"
        each = "counts as" if count == 1 else "each count as"
        if method == "idw":
            each, spans = ("stands at its" if count == 1 else "stand at their"), at
        plural = "" if count == 1 else "s"
        notes.append(f"{count} {noun}{plural} {each} {spans.format(share)}")
    return notes
