"""Estimates by inverse distance weighting, which has no error model of its own."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from hgmap.errors import EstimateError
from hgmap.field.branch import Branch, one_reading_sd
from hgmap.field.idw import idw_grid
from hgmap.field.idw_doors import idw_through_doors, leave_one_out_through_doors
from hgmap.field.measured import trust_of
from hgmap.field.paths import Walks
from hgmap.field.places import Places
from hgmap.field.points import Progress
from hgmap.field.raster import Raster
from hgmap.field.validate import leave_one_out_idw, scores_of
from hgmap.field.variogram import FEWEST_TO_FIT, default_variogram
from hgmap.site.building import Floor

NO_ERROR_MODEL: Final = (
    "IDW has no error model: the leave-one-out error stands in for its sd everywhere"
)

MOST_WALKS: Final = 150_000_000
"""Places times corners of the plan above which inverse distance weighting through the doors is
refused: each pair's length is kept."""

BYTES_PER_WALK: Final = 16


def by_idw(
    places: Places, raster: Raster, *, power: float, log: bool, progress: Progress | None
) -> Branch:
    """Estimate by inverse distance weighting; its leave-one-out error stands in for an sd."""
    trust = trust_of(places.error, places.values, log=log)
    mean = idw_grid(
        places.xy, places.values, raster.x, raster.y, raster.inside, power=power,
        progress=progress, trust=trust,
    )  # fmt: skip
    scores = leave_one_out_idw(places.xy, places.values, power=power, trust=trust)
    sd = np.full(len(mean), max(scores.rmse, _least_idw_sd(places, log=log)))
    return Branch(mean, sd, None, scores, len(places.values) - 1, None, (NO_ERROR_MODEL,))


def by_idw_through_doors(
    floor: Floor,
    raster: Raster,
    places: Places,
    *,
    power: float,
    log: bool,
    progress: Progress | None,
) -> Branch:
    """Estimate by inverse distance weighting over walks; NaN where no reading can be walked to.

    Raises
    ------
    EstimateError
        If no reading can be walked to from another: nothing says then how far the map is off. If
        there are more walks than memory for them.
    """
    _refuse_too_many(floor, len(places.values))
    walks = Walks.over(floor)
    cells = raster.room_index[raster.inside].astype(np.int64)
    trust = trust_of(places.error, places.values, log=log)
    mean = idw_through_doors(
        walks, places.xy, places.values, places.room, raster.points(), cells, power=power,
        progress=progress, trust=trust,
    )  # fmt: skip
    error = leave_one_out_through_doors(
        walks, places.xy, places.values, places.room, power=power, trust=trust
    )
    predicted = int(np.isfinite(error).sum())
    if predicted < 2:
        raise EstimateError("no more readings than separate parts of the floor")
    scores = scores_of(error, None)
    sd = np.full(len(mean), max(scores.rmse, _least_idw_sd(places, log=log)))
    count = np.bincount(walks.parts_of(places.xy, places.room), minlength=len(walks.part))
    # no other reading says how far the only one of a part is off
    alone = count[walks.parts_of(raster.points(), cells)] == 1
    sill = default_variogram(places.xy, places.values, log=log, note="").sill
    sd[alone] = np.maximum(sd[alone], np.sqrt(sill))
    sd[np.isnan(mean)] = np.nan
    return Branch(mean, sd, None, scores, predicted - 1, None, (NO_ERROR_MODEL,))


def _refuse_too_many(floor: Floor, places: int) -> None:
    outlines = [*(room.polygon for room in floor.rooms), *floor.walls]
    corners = int(shapely.get_num_coordinates(outlines).sum(dtype=np.int64))
    corners += 4 * len(floor.openings)
    if corners * places > MOST_WALKS:
        raise EstimateError(
            f"walks from {places} places round {corners} corners need about "
            f"{corners * places * BYTES_PER_WALK / 2**30:.2g} GiB",
            where=f"floor {floor.name!r}",
            todo="use --straight, or map a part of the floor",
        )


def _least_idw_sd(places: Places, *, log: bool) -> float:
    """Return the sd that IDW claims at least: readings that happen to agree prove no even floor.

    That of the default variogram with as few places as that is used for, or readings that do not
    differ; else the error of one reading.
    """
    values = places.values
    one_reading = float(one_reading_sd(values.mean(), log=log))
    differ = np.ptp(values) > 1e-12 * max(1.0, float(np.abs(values).max()))
    if len(values) >= FEWEST_TO_FIT and differ:
        return one_reading
    return max(
        one_reading, float(default_variogram(places.xy, values, log=log, note="").sill ** 0.5)
    )
