"""From readings on a floor to a surface with its uncertainty."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.field.models import Model
from hgmap.field.points import Merged, Progress, as_points, as_values, merge_coincident
from hgmap.field.raster import Raster, fitting_cell
from hgmap.field.surface import Surface
from hgmap.field.validate import leave_one_out_idw, leave_one_out_kriging
from hgmap.field.variogram import FEWEST_TO_FIT, choose_variogram, default_variogram
from hgmap.site.model import Floor

FEWEST_FOR_A_SURFACE: Final = 3
USUAL_CELL_M: Final = 0.1
USUAL_MOST_CELLS: Final = 1_000_000

REPLICATE_DISTANCE_M: Final = 0.05
"""Readings closer than this (m) were taken at one place (common practice, no source)."""

READING_SD: Final = 0.1
"""Relative sd of one reading (common practice, no source: direct-reading instruments are good to
5 to 15 %). A nugget above its square is taken for variation of the air itself."""


@dataclass(frozen=True)
class EstimateSettings:
    """How to estimate; ``cell_m`` None chooses 0.1 m, or coarser where the floor is large."""

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = None
    model: Model = "exponential"
    power: float = 2.0


def estimate_surface(
    floor: Floor,
    xy: NDArray[np.float64],
    concentration: NDArray[np.float64],
    settings: EstimateSettings,
    progress: Progress | None = None,
) -> Surface:
    """Estimate one floor from its usable readings.

    Parameters
    ----------
    floor : Floor
    xy : array of shape (n, 2), m
    concentration : array of shape (n,), computing unit, above 0 for the log scale
    settings : EstimateSettings
    progress : callable, optional
        Called with (done, all) cells.

    Raises
    ------
    EstimateError
        With fewer than three usable readings or places, a cell that does not fit, or readings
        that the scale cannot hold. The message is the reason that the map prints.
    """
    if len(concentration) < FEWEST_FOR_A_SURFACE:
        raise EstimateError(
            f"{_count(len(concentration), 'usable reading')}: a surface needs "
            f"{FEWEST_FOR_A_SURFACE}"
        )
    xy = as_points(xy)
    concentration = as_values(concentration, len(xy), name="concentration")
    log = settings.scale == "log"
    if log and (concentration <= 0).any():
        raise EstimateError("the log scale needs concentrations above 0")
    notes: list[str] = []
    raster = Raster.over(floor, _cell(floor, settings, notes))
    working = np.log(concentration) if log else concentration
    merged = merge_coincident(xy, working, tolerance=_replicate_distance(xy))
    if len(merged.values) < FEWEST_FOR_A_SURFACE:
        raise EstimateError(
            f"the usable readings stand at {_count(len(merged.values), 'place')}: a surface needs "
            f"{FEWEST_FOR_A_SURFACE}"
        )
    if merged.repeated:
        count = len(merged.repeated)
        notes.append(f"{_count(count, 'place')} with replicates: averaged on the working scale")
    targets = raster.points()
    if settings.method == "idw":
        variogram = None
        mean = idw(merged.xy, merged.values, targets, power=settings.power, progress=progress)
        scores = leave_one_out_idw(merged.xy, merged.values, power=settings.power)
        sd = np.full(len(mean), max(scores.rmse, _least_sd(merged, log=log)))
        notes.append(
            "IDW has no error model: the leave-one-out error stands in for its sd everywhere"
        )
    else:
        variogram = choose_variogram(merged.xy, merged.values, log=log, model=settings.model)
        if variogram.origin == "default":
            notes.append(f"default variogram parameters ({variogram.note})")
        elif variogram.note:
            notes.append(f"variogram: {variogram.note}")
        mean, variance = krige(
            merged.xy,
            merged.values,
            targets,
            model=variogram.model,
            nugget=variogram.nugget,
            psill=variogram.psill,
            range_=variogram.range_m,
            exact=False,
            progress=progress,
        )
        # zones are about the air, not about the next reading: the reading's own error leaves the
        # variance, but the rest of the nugget is real variation too fine to map, and stays. No
        # estimate is surer than one reading: what they share, a calibration, never averages out
        noise = min(variogram.nugget, READING_SD**2) if log else 0.0
        sd = np.maximum(np.sqrt(np.maximum(variance - noise, 0.0)), _one_reading(mean, log=log))
        scores = leave_one_out_kriging(merged.xy, merged.values, variogram)
    return Surface(
        raster=raster,
        mean=raster.spread(mean),
        sd=raster.spread(sd),
        scale=settings.scale,
        method=settings.method,
        xy=merged.xy,
        values=merged.values,
        degrees_of_freedom=len(merged.values) - 1,
        variogram=variogram,
        scores=scores,
        notes=tuple(notes),
        settings={**asdict(settings), "cell_m": raster.cell_m},
    )


def _cell(floor: Floor, settings: EstimateSettings, notes: list[str]) -> float:
    if settings.cell_m is not None:
        return settings.cell_m
    cell = max(USUAL_CELL_M, fitting_cell(floor, USUAL_MOST_CELLS))
    if cell > USUAL_CELL_M:
        notes.append(f"cells of {cell:g} m, since {USUAL_CELL_M:g} m would be too many")
    return cell


def _least_sd(merged: Merged, *, log: bool) -> float:
    """Return the sd that IDW claims at least: readings that happen to agree prove no even floor.

    That of the default variogram with as few places as that is used for, or readings that do not
    differ; else the error of one reading.
    """
    values = merged.values
    one_reading = float(_one_reading(values.mean(), log=log))
    differ = np.ptp(values) > 1e-12 * max(1.0, float(np.abs(values).max()))
    if len(values) >= FEWEST_TO_FIT and differ:
        return one_reading
    return max(
        one_reading, float(default_variogram(merged.xy, values, log=log, note="").sill ** 0.5)
    )


def _one_reading(estimate: Any, *, log: bool) -> Any:
    """Return the sd of one reading of an estimate (an array or a number), working scale."""
    return READING_SD if log else READING_SD * np.abs(estimate)


def _replicate_distance(xy: NDArray[np.float64]) -> float:
    # a site in kilometres keeps its places apart as well as a room does
    return min(REPLICATE_DISTANCE_M, 1e-3 * float(np.ptp(xy, axis=0).max()))


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")
