"""The error that an instrument's own checks show, as an estimate takes it.

A zero offset or a span that drifts is shared by all that the instrument read in that hour. So it
does two things here: a reading that has more of it weighs less, and, since no number of readings
averages it out, it is added whole to the sd of the air that those readings speak for.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.branch import one_reading_sd
from hgmap.field.idw import idw_grid
from hgmap.field.places import Places
from hgmap.field.points import as_values
from hgmap.field.raster import Raster

Floats = NDArray[np.float64]

SHARED_POWER: Final = 2.0
"""Of the distances by which a place takes the shared error of the readings of its room."""

MOST_SHARE: Final = 1.0
"""Relative error up to which the delta method is used: beyond, a reading is less than its error."""


def working_errors(concentration: Floats, error: Floats, *, log: bool) -> Floats:
    """Return the sd of each reading's measured error on the working scale, shape (n,).

    On the log scale that is error / concentration = r (the delta method: the derivative of the
    logarithm), at most 1; where r is so large that two of those would reach less far up than two of
    the errors themselves, it is ln(1 + 2 r) / 2, which reaches just as far (ours, no source).

    Parameters
    ----------
    concentration : array of shape (n,), above 0 for the log scale
    error : array of shape (n,)
        One standard deviation, in the unit of ``concentration``.
    log : bool

    Raises
    ------
    EstimateError
        If an error is negative or not finite.

    Examples
    --------
    >>> working_errors(np.array([2.0, 1.0]), np.array([0.1, 50.0]), log=True).round(3).tolist()
    [0.05, 2.308]
    """
    error = as_values(error, len(concentration), name="error")
    if (error < 0).any():
        raise EstimateError(f"an error of {error[error < 0][0]:g} cannot be", todo="give 0 or more")
    if not log:
        return error
    share = error / concentration
    return np.asarray(np.maximum(np.minimum(share, MOST_SHARE), np.log1p(2.0 * share) / 2.0))


def one_reading(values: Floats, *, log: bool) -> float:
    """Return the stated sd of one reading (working scale); that of the mean where it grows."""
    return float(one_reading_sd(float(np.abs(values).mean()), log=log))


def trust_of(error: Floats, values: Floats, *, log: bool) -> Floats | None:
    """Return what the weight of each place by distance is multiplied by; None: there is no error.

    s² / (s² + e²) with s the stated sd of one reading and e the measured error.
    """
    if not error.any():
        return None
    stated = one_reading(values, log=log) ** 2
    return np.asarray(np.maximum(stated / (stated + error**2), 1e-12))


def shared_sd(
    places: Places, raster: Raster, kept: dict[int, tuple[bytes, Floats]] | None = None
) -> Floats:
    """Return the sd of the shared error in every inside cell (working scale).

    A mean of the errors of the readings of its room, weighed by 1 / distance²; of all readings in
    a room without any. At a reading it is that reading's. ``kept`` holds what was last found for
    each room of this raster, and by what.
    """
    kept = {} if kept is None else kept
    cells = raster.room_index[raster.inside]
    found = np.empty(len(cells))
    if np.ptp(places.error) == 0:
        found[:] = places.error[0]
        return found
    read = set(places.room.tolist())
    for index in np.unique(cells):
        mine = places.room == index if int(index) in read else np.ones(len(places.error), bool)
        key = places.xy[mine].tobytes() + places.error[mine].tobytes()
        known, own = kept.get(int(index), (b"", found))
        if known == key:
            found[cells == index] = own
            continue
        row, column = np.nonzero(raster.room_index == index)
        rows = slice(row.min(), row.max() + 1)
        columns = slice(column.min(), column.max() + 1)
        own = idw_grid(
            places.xy[mine],
            places.error[mine],
            raster.x[columns],
            raster.y[rows],
            raster.room_index[rows, columns] == index,
            power=SHARED_POWER,
        )
        kept[int(index)] = key, own
        found[cells == index] = own
    return found


def error_by_room(room: NDArray[np.int64], error: Floats, rooms: int) -> Floats:
    """Return the mean shared error of the readings of each room, of all where it has none.

    Parameters
    ----------
    room, error : arrays of shape (k,)
        Of every place: the position of its room, its error (working scale).
    rooms : int
        How many rooms the floor has.
    """
    if not error.any():
        return np.zeros(rooms)
    known = room >= 0
    count = np.bincount(room[known], minlength=rooms)
    total = np.bincount(room[known], weights=error[known], minlength=rooms)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), error.mean()))


def error_notes(concentration: Floats, error: Floats | None, *, log: bool) -> list[str]:
    """Say that measured errors are in the estimate, and which are larger than their readings."""
    if error is None or not np.any(error):
        return []
    touched = int((np.asarray(error) > 0).sum())
    have = "reading has" if touched == 1 else "readings have"
    notes = [
        f"{touched} {have} an error of {'its' if touched == 1 else 'their'} own (by the checks of "
        "the instrument, or written as approximate): it widens the estimate there and does not "
        "average out"
    ]
    beyond = int((error > MOST_SHARE * concentration).sum()) if log else 0
    if beyond:
        notes.append(
            f"{beyond} reading{' is' if beyond == 1 else 's are'} smaller than "
            f"{'its' if beyond == 1 else 'their'} own measured error: little more than a bound"
        )
    return notes
