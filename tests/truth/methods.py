"""Methods to score: each turns a floor and its readings into estimates at targets.

``sd`` is that of the noise-free field, scaled so that the method's own 95 % interval is
``mean`` ± 1.96 ``sd``; a target without an estimate is NaN.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.stats import norm, t

from hgmap.field.averaged import CellEstimate, beliefs_about, estimate_cells, why_default
from hgmap.field.beliefs import Given
from hgmap.field.graph import CellGraph
from hgmap.field.idw import idw
from hgmap.field.idw_doors import leave_one_out_through_doors
from hgmap.field.kriging import krige
from hgmap.field.paths import Walks
from hgmap.field.places import merge_places
from hgmap.field.predict import leave_one_out as errors_left_out
from hgmap.field.raster import rooms_of
from hgmap.field.validate import leave_one_out_idw, leave_one_out_kriging
from hgmap.field.variogram import choose_variogram
from hgmap.field.walls import WallField
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Estimate = Callable[[Floor, Floats, Floats, Floats], tuple[Floats, Floats | None]]
"""From floor, xy (n, 2), values (n,) and targets (m, 2) to mean (m,) and sd (m,) or None."""
LeaveOneOut = Callable[[Floor, Floats, Floats], Floats]
"""From floor, xy and values to observed minus predicted, each reading left out in turn."""


class Method(NamedTuple):
    """An estimate and, where the method offers it, its leave-one-out errors."""

    estimate: Estimate
    leave_one_out: LeaveOneOut | None = None


def straight_kriging(reading_sd: float | None) -> Method:
    """Return ordinary kriging over straight-line distances, with the variogram hgmap chooses.

    As :func:`hgmap.field.estimate.estimate_surface` does it, at any targets: of the nugget,
    ``reading_sd`` squared is reading error and leaves the variance, and no sd is below
    ``reading_sd``. None: the whole nugget is reading error.
    """

    def estimate(_: Floor, xy: Floats, values: Floats, targets: Floats) -> tuple[Floats, Floats]:
        variogram = choose_variogram(xy, values, log=reading_sd is not None)
        mean, variance = krige(
            xy,
            values,
            targets,
            model=variogram.model,
            nugget=variogram.nugget,
            psill=variogram.psill,
            range_=variogram.range_m,
            exact=False,
        )
        known = np.inf if reading_sd is None else reading_sd**2
        sd = np.sqrt(np.maximum(variance - min(variogram.nugget, known), 0.0))
        return mean, student(np.maximum(sd, reading_sd or 0.0), len(values) - 1)

    def leave_one_out(_: Floor, xy: Floats, values: Floats) -> Floats:
        variogram = choose_variogram(xy, values, log=reading_sd is not None)
        return leave_one_out_kriging(xy, values, variogram).residuals

    return Method(estimate, leave_one_out)


def doors_kriging(reading_sd: float | None, *, step_m: float = 0.2) -> Method:
    """Return kriging through the doors, averaged over range, nugget and wall flux.

    As :func:`hgmap.field.averaged.by_averaged_kriging` does it, at any targets; ``reading_sd`` as
    for :func:`straight_kriging`, but the sd may fall below it: the errors here share nothing.
    """

    def fit(floor: Floor, xy: Floats, values: Floats) -> CellEstimate:
        graph = CellGraph.over(floor, step_m)
        places = merge_places(
            xy, values, _room_of(floor, xy).astype(np.int64), tolerance_m=1e-6, reading_sd=None
        )
        note = why_default(places) if reading_sd is not None else ""
        beliefs = beliefs_about(places, log=reading_sd is not None, given=Given(), note=note)
        return estimate_cells(graph, places, walls=WallField(graph), beliefs=beliefs)

    def estimate(
        floor: Floor, xy: Floats, values: Floats, targets: Floats
    ) -> tuple[Floats, Floats]:
        made = fit(floor, xy, values)
        finest = made.graph.interpolation(targets, _room_of(floor, targets).astype(np.int64))
        mean, variance = finest @ made.mean, np.maximum(finest @ made.variance, 0.0)
        if reading_sd is not None:
            variance += max(made.mixture.nugget - reading_sd**2, 0.0)
        return mean, student(np.sqrt(variance), made.mixture.degrees_of_freedom)

    def leave_one_out(floor: Floor, xy: Floats, values: Floats) -> Floats:
        return errors_left_out(fit(floor, xy, values).mixture)[0]

    return Method(estimate, leave_one_out)


def straight_idw(power: float = 2.0) -> Method:
    """Return IDW over straight-line distances; its leave-one-out error stands in for an sd."""

    def estimate(_: Floor, xy: Floats, values: Floats, targets: Floats) -> tuple[Floats, Floats]:
        mean = idw(xy, values, targets, power=power)
        sd = np.full(len(mean), leave_one_out_idw(xy, values, power=power).rmse)
        return mean, student(sd, len(values) - 1)

    def leave_one_out(_: Floor, xy: Floats, values: Floats) -> Floats:
        return leave_one_out_idw(xy, values, power=power).residuals

    return Method(estimate, leave_one_out)


def doors_idw(power: float = 2.0) -> Method:
    """Return IDW over walks through the doors; its leave-one-out error stands in for an sd."""

    def estimate(
        floor: Floor, xy: Floats, values: Floats, targets: Floats
    ) -> tuple[Floats, Floats]:
        mean = idw(xy, values, targets, power=power, floor=floor)
        error = leave_one_out(floor, xy, values)
        known = np.isfinite(error)
        rmse = np.sqrt(np.mean(error[known] ** 2)) if known.any() else np.nan
        sd = np.where(np.isfinite(mean), rmse, np.nan)
        return mean, student(sd, max(int(known.sum()) - 1, 1))

    def leave_one_out(floor: Floor, xy: Floats, values: Floats) -> Floats:
        return leave_one_out_through_doors(
            Walks.over(floor), xy, values, rooms_of(floor, xy), power=power
        )

    return Method(estimate, leave_one_out)


def room_averages() -> Method:
    """Return each room's mean reading, and the mean of all where a room has none.

    The crudest way to respect walls, and so what a map that respects them has to beat.
    """

    def estimate(floor: Floor, xy: Floats, values: Floats, targets: Floats) -> tuple[Floats, None]:
        room = _room_of(floor, xy)
        count = np.bincount(room, minlength=len(floor.rooms))
        total = np.bincount(room, weights=values, minlength=len(floor.rooms))
        average = np.where(count > 0, total / np.maximum(count, 1), values.mean())
        return average[_room_of(floor, targets)], None

    def leave_one_out(floor: Floor, xy: Floats, values: Floats) -> Floats:
        keep = ~np.eye(len(values), dtype=bool)
        return np.array(
            [
                values[k] - estimate(floor, xy[keep[k]], values[keep[k]], xy[[k]])[0][0]
                for k in range(len(values))
            ]
        )

    return Method(estimate, leave_one_out)


def student(sd: Floats, freedom: int) -> Floats:
    """Widen an sd so that ± 1.96 of it is Student's 95 % interval, as the zones use it."""
    return sd * float(t.ppf(0.975, freedom) / norm.ppf(0.975))


def _room_of(floor: Floor, xy: Floats) -> NDArray[np.intp]:
    points = shapely.points(xy)
    distance = [shapely.distance(room.polygon, points) for room in floor.rooms]
    return np.asarray(np.argmin(distance, axis=0), dtype=np.intp)
