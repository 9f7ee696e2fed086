"""The readings as an estimate takes them: places, replicates, errors, and what are intervals."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hgmap.field.points import merge_coincident
from hgmap.field.truncated import Intervals

Floats = NDArray[np.float64]

PRIOR_REPLICATES = 4
"""How many replicates the stated error of a reading weighs as much as, against the spread of those
that were taken (common practice, no source)."""

MOST_ERROR_WEIGHT = 1e6
"""Of a measured error, relative to a single reading's nugget: beyond, a reading says nothing."""


@dataclass(frozen=True)
class Places:
    """Readings of one floor, those at one place merged (working scale).

    Attributes
    ----------
    xy : array of shape (k, 2), m
    values : array of shape (k,)
        Means of the replicates; a bound where the reading is an interval.
    room : array of shape (k,)
        Position of each place's room in ``floor.rooms``.
    count : array of shape (k,)
        Readings at each place.
    error_weight : array of shape (k,)
        Variance of each place's nugget, relative to that of a single reading.
    group : array of shape (n,)
        The place of each reading.
    intervals : Intervals or None
    error : array of shape (k,)
        Standard deviation of the measured error that the readings of a place share: its replicates
        do not average it out. Empty: none was measured.
    """

    xy: Floats
    values: Floats
    room: NDArray[np.int64]
    count: NDArray[np.int64]
    error_weight: Floats
    group: NDArray[np.intp]
    intervals: Intervals | None = None
    error: Floats = field(default_factory=lambda: np.empty(0))

    @property
    def repeated(self) -> int:
        """How many places have replicates."""
        return int((self.count > 1).sum())


def merge_places(
    xy: Floats,
    values: Floats,
    room: NDArray[np.int64],
    *,
    tolerance_m: float,
    reading_sd: float | None,
    bounds: tuple[Floats, Floats] | None = None,
    error: Floats | None = None,
    stated_sd: float = 1.0,
) -> Places:
    """Merge replicates: numbers within a distance of each other, in one room.

    An interval is never merged: what it says is not a number that a mean can be taken of.

    Half of the nugget is taken for error of the reading, which replicates average out, and half
    for variation of the air at the place, which they share. The error's variance is the stated one
    and that of the replicates themselves, weighed by their numbers (4 for the stated one).

    Parameters
    ----------
    xy : array of shape (n, 2), m
    values : array of shape (n,)
        Working scale.
    room : array of shape (n,)
    tolerance_m : float
    reading_sd : float or None
        Standard deviation of one reading's error (working scale); None: not stated, and the spread
        of replicates is not used.
    bounds : pair of arrays of shape (n,), optional
        Lower and upper bound of each reading; equal where it is a number.
    error : array of shape (n,), optional
        Standard deviation of each reading's measured error (working scale). A place has the mean of
        its readings': the same instrument in the same hour errs the same way, so that replicates
        do not average it out. It adds (error / stated_sd)² to the relative variance of the place:
        the nugget is weighed by the readings, and this holds as it stands where it comes out as
        the square of ``stated_sd``, the centre of its prior; a larger nugget makes more of it, a
        smaller one less. The sd of the estimate does not hang on that, since the error is added to
        it whole (:func:`hgmap.field.measured.shared_sd`).
    stated_sd : float
        Standard deviation that is stated for one reading (working scale), above 0.
    """
    lower, upper = (values, values) if bounds is None else bounds
    interval = lower < upper
    apart = np.where(interval, -1 - np.arange(len(values)), room)
    merged = merge_coincident(xy, values, tolerance=tolerance_m, apart=apart)
    count = np.bincount(merged.group)
    weight_of_error, shared = np.zeros(len(count)), np.empty(0)
    if error is not None and error.any():
        shared = np.bincount(merged.group, weights=error) / count
        weight_of_error = np.minimum((shared / stated_sd) ** 2, MOST_ERROR_WEIGHT)
    first = np.zeros(len(count), dtype=np.int64)
    first[merged.group] = np.arange(len(values))
    own = 1.0 / count
    if reading_sd is not None:
        squares = np.bincount(merged.group, weights=(values - merged.values[merged.group]) ** 2)
        freedom = PRIOR_REPLICATES + count - 1
        own = (PRIOR_REPLICATES + squares / reading_sd**2) / freedom / count
    hidden = np.flatnonzero(interval[first])
    return Places(
        xy=merged.xy,
        values=merged.values,
        room=room[first],
        count=count.astype(np.int64),
        error_weight=(1.0 + own) / 2.0 + weight_of_error,
        group=merged.group,
        intervals=(
            Intervals(hidden, lower[first][hidden], upper[first][hidden]) if len(hidden) else None
        ),
        error=shared,
    )
