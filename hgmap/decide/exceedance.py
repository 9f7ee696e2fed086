"""Probability that the concentration is above a level."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, stdtr, stdtrit

from hgmap.errors import LevelError
from hgmap.field.surface import Surface


def exceedance_probability(
    mean: ArrayLike, sd: ArrayLike, level: float, *, degrees_of_freedom: int | None = None
) -> NDArray[np.float64]:
    """Return the probability that a value lies above ``level``.

    Parameters
    ----------
    mean, sd : array_like
        Estimate and standard deviation on the working scale; where sd is 0 the answer is 0 or 1.
    level : float
        On the same scale (its logarithm where the scale is log).
    degrees_of_freedom : int, optional
        With Student's t in place of the normal: the sill was estimated from this many readings
        plus one, and few readings make longer tails (Kitanidis 1986, Water Resources Research
        22: the predictive distribution with an unknown sill is Student's t).

    Examples
    --------
    >>> exceedance_probability([0.0, 1.0], [1.0, 0.0], 0.0).tolist()
    [0.5, 1.0]
    """
    z = standardised_excess(mean, sd, level)
    below = ndtr(z) if degrees_of_freedom is None else stdtr(degrees_of_freedom, z)
    return np.asarray(below, dtype=np.float64)


def standardised_excess(mean: ArrayLike, sd: ArrayLike, level: float) -> NDArray[np.float64]:
    """Return (mean - level) / sd, cut at ±1e3 so that an exact reading stays finite."""
    excess = np.asarray(mean, dtype=np.float64) - level
    with np.errstate(divide="ignore", invalid="ignore"):
        z = excess / np.asarray(sd, dtype=np.float64)
    z = np.where((excess == 0) & ~np.isfinite(z), 0.0, z)
    return np.clip(z, -1e3, 1e3)


@lru_cache(maxsize=64)
def excess_at(probability: float, degrees_of_freedom: int) -> float:
    """Return the standardised excess at which the probability above the level is this."""
    return float(stdtrit(degrees_of_freedom, probability))


def working_level(surface: Surface, concentration: float) -> float:
    """Return a level (computing unit, above 0) on a surface's working scale."""
    if not concentration > 0:
        raise LevelError(f"a level of {concentration:g} cannot be used", todo="give one above 0")
    return float(np.log(concentration)) if surface.scale == "log" else concentration


def probability_above(surface: Surface, concentration: float) -> NDArray[np.float64]:
    """Return the probability of each cell of being above a level (computing unit).

    NaN where no reading reaches; shape (ny, nx).
    """
    found = exceedance_probability(
        surface.mean, surface.sd, working_level(surface, concentration),
        degrees_of_freedom=surface.degrees_of_freedom,
    )  # fmt: skip
    return np.where(np.isfinite(surface.mean), found, np.nan)
