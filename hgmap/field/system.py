"""From readings and a variogram to a solved kriging system: one check for every estimate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.models import (
    MODELS,
    USUAL_SMOOTHNESS,
    Model,
    check_smoothness,
    unknown_model,
)
from hgmap.field.points import Merged, as_points, as_values, merge_and_warn, merge_coincident
from hgmap.field.straight import AT_A_READING, Kernel, System, solve_system

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ReadySystem:
    """A solved system, and the way from a place to its place in ranges.

    Attributes
    ----------
    system : System
    centre : array of shape (2,)
        Mean of the places of the readings (unit of length).
    matrix : array of shape (2, 2)
        Turns, stretches and divides by the range.
    """

    system: System
    centre: Floats
    matrix: Floats

    def in_ranges(self, xy: Floats) -> Floats:
        """Return places (unit of length) in ranges, shape kept."""
        return np.asarray((xy - self.centre) @ self.matrix.T)


def ready_system(
    xy: ArrayLike,
    values: ArrayLike,
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool,
    error_variance: ArrayLike | None,
    anisotropy: Anisotropy | None,
    smoothness: float | None,
) -> ReadySystem:
    """Check the arguments that every straight-line estimate takes, and solve their system.

    They are those of :func:`hgmap.field.kriging.krige`. Called straight from a public function,
    it makes the warning about readings at one place point at that function's caller.

    Raises
    ------
    EstimateError
        As :func:`hgmap.field.kriging.krige`.
    """
    places = as_points(xy)
    readings = as_values(values, len(places))
    kernel = checked_kernel(model, nugget, psill, range_, smoothness, len(places))
    if error_variance is None:
        merged = merge_and_warn(places, readings, stacklevel=4)
        errors = np.zeros(len(merged.values))
    else:
        merged, errors = _combine(places, readings, error_variance, own=0 if exact else nugget)
    return _solve(merged, errors, kernel, range_, anisotropy, exact=exact)


def _combine(
    xy: Floats, values: Floats, error_variance: ArrayLike, *, own: float
) -> tuple[Merged, Floats]:
    """Weight readings at one place by the inverse of their own variance; return that of each mean.

    With ``own`` the nugget that every reading has to itself, a place's k readings of own variances
    v = error + own have the weighted mean that minimises the variance 1 / sum(1 / v); the system
    of all readings gives the same. A reading without any variance leaves no weight to the others.
    """
    errors = as_errors(error_variance, len(values))
    place = merge_coincident(xy, values, tolerance=1e-9 * _extent(xy))
    variance = errors + own
    perfect = variance == 0
    known = np.bincount(place.group, weights=perfect) > 0
    with np.errstate(divide="ignore"):
        weight = np.where(known[place.group], perfect, 1.0 / variance)
    total = np.bincount(place.group, weights=weight)
    mean = np.bincount(place.group, weights=weight * values) / total
    return Merged(place.xy, mean, place.group), np.where(known, 0.0, 1.0 / total) - own


def _solve(
    merged: Merged,
    errors: Floats,
    kernel: Kernel,
    range_: float,
    anisotropy: Anisotropy | None,
    *,
    exact: bool,
) -> ReadySystem:
    extent = _extent(merged.xy)
    # nothing is nearer than the places are; a range below that is none, whatever its number
    unit = max(range_, 1e-15 * extent)
    matrix = (np.eye(2) if anisotropy is None else anisotropy.matrix) / unit
    centre = merged.xy.mean(axis=0)
    system = solve_system(
        (merged.xy - centre) @ matrix.T,
        merged.values,
        errors,
        kernel,
        at_reading=AT_A_READING * extent / unit if exact else -1.0,
    )
    return ReadySystem(system, centre, matrix)


def _extent(xy: Floats) -> float:
    return float(np.ptp(xy, axis=0).max())


def checked_kernel(
    model: Model, nugget: float, psill: float, range_: float, smoothness: float | None, count: int
) -> Kernel:
    """Return a covariance, or say which of its parameters cannot be used."""
    if not count:
        raise EstimateError("no reading to estimate from")
    if model not in (*MODELS, "matern"):
        raise unknown_model(model)
    for name, value in (("nugget", nugget), ("psill", psill)):
        if not (np.isfinite(value) and value >= 0):
            raise EstimateError(f"{name} is {value}", todo="give a number of 0 or more")
    if nugget + psill <= 0:
        raise EstimateError("nugget and psill are both 0", todo="one of them is above 0")
    if not (np.isfinite(range_) and range_ > 0):
        raise EstimateError(f"range_ is {range_}", todo="give a number above 0")
    if smoothness is None:
        smoothness = USUAL_SMOOTHNESS
    elif model != "matern":
        raise EstimateError(f"the {model} model has no smoothness", todo="leave it out, or use "
                            "the matern model")  # fmt: skip
    check_smoothness(smoothness)
    return Kernel(model, float(nugget), float(psill), float(smoothness))


def as_errors(error_variance: ArrayLike, count: int) -> Floats:
    """Return a variance for each reading, none negative, or say which row is not."""
    if np.ndim(error_variance) == 0:
        error_variance = np.full(count, error_variance)
    errors = as_values(error_variance, count, name="error_variance")
    if (errors < 0).any():
        raise EstimateError(
            f"error_variance row {np.flatnonzero(errors < 0)[0]} (counted from 0) is negative",
            todo="give variances of 0 or more",
        )
    return errors
