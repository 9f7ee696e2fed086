"""How far a room's change is known where its readings are bounds: non-detects and saturated ones.

An estimate from non-detects alone is a share of their detection limit, one from saturated readings
a multiple of the range of the instrument. The ratio of two such estimates is a ratio of limits: a
better instrument would read as a clean-up. So the interval of a room's ratio is widened to what the
bounds leave open, before any word is said of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from hgmap.decide.change_model import SHARED_SD, Visit, quantile
from hgmap.decide.model import Evidence
from hgmap.decide.paired import ends_of

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

SLACK = math.exp(quantile(None) * SHARED_SD)
"""What the calibrations of the two visits may make of a ratio, either way."""


def mean_between(average: float, items: Sequence[Evidence]) -> tuple[float, float]:
    """Return the least and the most that a room's mean can be by its own readings.

    Where all of them are numbers, the estimate itself. Else the estimate less, and plus, the mean
    over the readings of what each leaves open; not below what the lower ends prove on average, nor,
    with a saturated reading, below less than that. Our rule, no source.

    Parameters
    ----------
    average : float
        Estimate of the room's mean (computing unit).
    items : sequence of Evidence
        What bears on the room; only what is used is looked at.
    """
    used = [item for item in items if item.role == "used"]
    ends = np.array([ends_of(item) for item in used], dtype=np.float64).reshape(-1, 2)
    if not len(ends) or np.array_equal(ends[:, 0], ends[:, 1]):
        return average, average
    proven = min(average, float(ends[:, 0].mean()))
    open_ = float((ends[:, 1] - ends[:, 0]).mean())
    return max(average - open_, proven), average + open_


def ratio_by_bounds(before: tuple[float, float], after: tuple[float, float]) -> tuple[float, float]:
    """Return the least and the most that after over before can be, calibrations allowed for.

    Examples
    --------
    >>> ratio_by_bounds((0.0, 2.0), (0.0, 0.02))
    (0.0, inf)
    """
    least = after[0] / before[1] / SLACK if math.isfinite(before[1]) else 0.0
    most = after[1] / before[0] * SLACK if before[0] > 0.0 else math.inf
    return least, most


def only_bounds(items: Sequence[Evidence]) -> bool:
    """Tell whether a room was read and none of what was used is a number."""
    ends = [ends_of(item) for item in items if item.role == "used"]
    return bool(ends) and all(low != high for low, high in ends)


def barred_cells(before: Visit, after: Visit) -> tuple[Bools, Bools]:
    """Return the cells that cannot be said to have fallen, and those that cannot to have risen.

    What is known of a cell is what the nearest reading of its room proves, in each round: a number
    stands for the estimate there, a bound for its two ends. Our rule, no source.

    Returns
    -------
    tuple of arrays of shape (ny, nx)
    """
    if before.surface is None or after.surface is None:
        raise ValueError("both rounds need a surface")
    old_low, old_high = _cell_ends(before)
    new_low, new_high = _cell_ends(after)
    bound = (old_low < old_high) | (new_low < new_high)
    # infinite against infinite is barred as well: nothing is known
    fall = bound & ~(new_high * SLACK < old_low)
    rise = bound & ~(new_low > old_high * SLACK)
    return fall, rise


def _cell_ends(visit: Visit) -> tuple[Floats, Floats]:
    surface, evidence = visit.surface, visit.evidence
    assert surface is not None
    raster = surface.raster
    with np.errstate(over="ignore"):
        low = np.array(np.exp(surface.mean) if surface.scale == "log" else surface.mean)
    high = low.copy()
    ends = np.array([ends_of(item) for item in evidence.used], dtype=np.float64).reshape(-1, 2)
    y, x = np.meshgrid(raster.y, raster.x, indexing="ij")
    room = evidence.room
    for index in np.unique(room[room >= 0]):
        own = np.flatnonzero(room == index)
        if np.array_equal(ends[own, 0], ends[own, 1]):
            continue
        cells = raster.room_index == index
        if not cells.any():
            continue
        near = own[KDTree(evidence.xy[own]).query(np.column_stack([x[cells], y[cells]]))[1]]
        bound = ends[near, 0] != ends[near, 1]
        low[cells] = np.where(bound, ends[near, 0], low[cells])
        high[cells] = np.where(bound, ends[near, 1], high[cells])
    return low, high
