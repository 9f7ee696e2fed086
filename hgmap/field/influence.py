"""Which readings drive an estimate: the weight of each, and the way from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist

from hgmap.errors import EstimateError
from hgmap.field.idw_doors import distance_weights
from hgmap.field.measured import trust_of
from hgmap.field.paths import Walks
from hgmap.field.surface import Surface
from hgmap.field.variogram import Variogram
from hgmap.site.building import Floor

Floats = NDArray[np.float64]


def reading_weights(
    surface: Surface, floor: Floor, xy: Floats, room: int, walks: Walks | None = None
) -> Floats:
    """Return the weight of each place of readings in the estimate at one point.

    The estimate (working scale) is the sum of weight times value; weights add up to 1 where the
    readings reach. Kriging weights may be negative: a reading that another one screens.

    Parameters
    ----------
    surface : Surface
    floor : Floor
    xy : array of shape (2,), m
    room : int
        Position of the point's room in ``floor.rooms``.
    walks : Walks, optional
        Those of the floor, where they are at hand.

    Returns
    -------
    array of shape (n,)
        In the order of ``surface.xy``; NaN where no reading reaches the point.
    """
    at = np.reshape(np.asarray(xy, dtype=np.float64), (1, 2))
    if surface.method == "idw":
        return _by_distance(surface, floor, at, room, walks)
    if surface.estimate is not None:
        made = surface.estimate
        return made.reading_weights(made.graph.interpolation(at, np.array([room])))
    fit = surface.variogram
    if not isinstance(fit, Variogram):
        raise EstimateError("this surface keeps nothing to explain it by")
    return np.asarray(kriging_weights(surface.xy, at, fit, surface.error)[0])


def kriging_weights(
    xy: Floats, targets: Floats, variogram: Variogram, error: Floats | None = None
) -> Floats:
    """Return the weights (c, k) of ordinary kriging along straight lines.

    ``error`` (k,) is the sd of each place's measured error; empty or None where there is none.
    """
    covariance = variogram.covariance(xy, xy) + variogram.nugget * np.eye(len(xy))
    if error is not None and len(error):
        covariance[np.diag_indices(len(xy))] += error**2
    factor = cho_factor(covariance)
    ones = cho_solve(factor, np.ones(len(xy)))
    solved = cho_solve(factor, variogram.covariance(xy, targets))
    return np.asarray((solved + np.outer(ones, (1.0 - solved.sum(axis=0)) / ones.sum())).T)


def idw_weights(distance: Floats, power: float, trust: Floats | None = None) -> Floats:
    """Return the weights (c, k) by distance (c, k); at a reading it has them all.

    ``trust`` (k,) is what each weight is multiplied by.
    """
    weight = distance_weights(distance, power)
    if trust is not None:
        weight = weight * trust
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _by_distance(
    surface: Surface, floor: Floor, at: Floats, room: int, walks: Walks | None
) -> Floats:
    power = float(surface.settings.get("power", 2.0))
    if surface.settings.get("walls"):
        walks = walks or Walks.over(floor)
        distance = walks.distances(at, np.array([room]), surface.xy, surface.room)
    else:
        distance = cdist(at, surface.xy)
    if np.isinf(distance).all():
        return np.full(distance.shape[1], np.nan)
    trust = trust_of(surface.error, surface.values, log=surface.scale == "log")
    return np.asarray(idw_weights(distance, power, trust)[0])
