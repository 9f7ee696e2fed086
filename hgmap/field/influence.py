"""Which readings drive an estimate: the weight of each, and the way from it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.kriging import krige
from hgmap.field.paths import Walks
from hgmap.field.surface import Surface
from hgmap.field.variogram import Variogram
from hgmap.site.model import Floor

Floats = NDArray[np.float64]


def reading_weights(surface: Surface, floor: Floor, xy: Floats, room: int) -> Floats:
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

    Returns
    -------
    array of shape (n,)
        In the order of ``surface.xy``; NaN where no reading reaches the point.
    """
    at = np.reshape(np.asarray(xy, dtype=np.float64), (1, 2))
    if surface.method == "idw":
        return _by_distance(surface, floor, at, room)
    if surface.estimate is not None:
        made = surface.estimate
        return made.reading_weights(made.graph.interpolation(at, np.array([room])))
    fit = surface.variogram
    if not isinstance(fit, Variogram):
        raise EstimateError("this surface keeps nothing to explain it by")
    # kriging is linear in the values: a 1 among zeros shows its weight
    return np.array(
        [
            krige(
                surface.xy, unit, at, model=fit.model, nugget=fit.nugget, psill=fit.psill,
                range_=fit.range_m, exact=False,
            )[0][0]
            for unit in np.eye(len(surface.xy))
        ]
    )  # fmt: skip


def _by_distance(surface: Surface, floor: Floor, at: Floats, room: int) -> Floats:
    power = float(surface.settings.get("power", 2.0))
    if surface.settings.get("walls"):
        distance = Walks.over(floor).distances(at, np.array([room]), surface.xy, surface.room)[0]
    else:
        distance = np.hypot(*(surface.xy - at).T)
    nearest = float(distance.min())
    if not np.isfinite(nearest):
        return np.full(len(distance), np.nan)
    here = distance == 0
    weight = here.astype(float) if here.any() else (nearest / distance) ** power
    return np.asarray(weight / weight.sum())
