"""The door of the numerics: arrays are checked once here, and replicates are merged by one rule."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from hgmap.errors import CoincidentReadingsWarning, EstimateError

Progress = Callable[[int, int], None]
"""Called with (done, all); raising inside it cancels the work."""

Check = Callable[[], None]
"""Called now and then in long work; raising inside it cancels the work."""


def never() -> None:
    """Let the work go on."""


Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Merged:
    """Readings after those at one place were averaged.

    Attributes
    ----------
    xy, values : arrays of shape (k, 2) and (k,)
        Places and the mean of the values there.
    group : array of shape (n,), int
        The place of each reading.
    """

    xy: Floats
    values: Floats
    group: NDArray[np.intp]

    @property
    def repeated(self) -> list[list[int]]:
        """Rows (0-based) of the readings that share a place, a list per place."""
        counts = np.bincount(self.group)
        return [list(np.flatnonzero(self.group == place)) for place in np.flatnonzero(counts > 1)]


def as_points(xy: ArrayLike, *, name: str = "xy") -> Floats:
    """Return finite coordinates of shape (n, 2), or say which row is not."""
    points = _as_floats(xy, name)
    if points.ndim != 2 or points.shape[1] != 2:
        raise EstimateError(
            f"{name} has shape {points.shape}", todo="give an array of shape (n, 2)"
        )
    _refuse_not_finite(points, name)
    return points


def as_values(values: ArrayLike, count: int, *, name: str = "values") -> Floats:
    """Return finite values of shape (count,), or say which row is not."""
    array = _as_floats(values, name)
    if array.shape != (count,):
        raise EstimateError(f"{name} has shape {array.shape}", todo=f"give one value for each of "
                            f"the {count} places")  # fmt: skip
    _refuse_not_finite(array, name)
    return array


def _as_floats(array: ArrayLike, name: str) -> Floats:
    try:
        return np.asarray(array, dtype=np.float64)
    except (TypeError, ValueError):
        raise EstimateError(f"{name} is not an array of numbers") from None


def _refuse_not_finite(array: Floats, name: str) -> None:
    finite = np.isfinite(array)
    bad = ~(finite if array.ndim == 1 else finite.all(axis=1))
    if bad.any():
        rows = np.flatnonzero(bad)
        raise EstimateError(
            f"{name} row {rows[0]} (counted from 0) is not a finite number"
            + (f", and {len(rows) - 1} more" if len(rows) > 1 else ""),
            todo="hold or mend the reading before the estimate",
        )


def merge_coincident(
    xy: Floats, values: Floats, *, tolerance: float, apart: NDArray[np.int64] | None = None
) -> Merged:
    """Average the readings that stand within ``tolerance`` of each other.

    The rule, stated: readings joined by steps of at most ``tolerance`` are one place, at the mean
    of their coordinates, with the mean of their values. Readings whose ``apart`` differs (the
    room, across a thin wall) are never one place.
    """
    pairs = KDTree(xy).query_pairs(tolerance, output_type="ndarray")
    if apart is not None:
        pairs = pairs[apart[pairs[:, 0]] == apart[pairs[:, 1]]]
    if not len(pairs):
        return Merged(xy, values, np.arange(len(xy)))
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(xy), len(xy)))
    count, group = connected_components(links, directed=False)
    size = np.bincount(group)

    def mean(column: Floats) -> Floats:
        return np.bincount(group, weights=column, minlength=count) / size

    return Merged(
        np.column_stack([mean(xy[:, 0]), mean(xy[:, 1])]), mean(values), group.astype(np.intp)
    )


def merge_and_warn(xy: Floats, values: Floats, *, stacklevel: int = 3) -> Merged:
    """Merge exactly coincident readings (1e-9 of the extent) and name their rows in a warning.

    ``stacklevel`` is that of :func:`warnings.warn`: 3 points at the caller of the caller.
    """
    extent = float(np.ptp(xy, axis=0).max()) if len(xy) > 1 else 0.0
    merged = merge_coincident(xy, values, tolerance=1e-9 * extent)
    if merged.repeated:
        rows = "; ".join(", ".join(map(str, rows)) for rows in merged.repeated[:3])
        more = f"; and {len(merged.repeated) - 3} more" if len(merged.repeated) > 3 else ""
        warnings.warn(
            f"readings at one place were averaged (rows {rows}{more})",
            CoincidentReadingsWarning,
            stacklevel=stacklevel,
        )
    return merged
