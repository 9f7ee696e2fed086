"""From readings on a floor to a surface with its uncertainty."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.averaged import by_averaged_kriging
from hgmap.field.beliefs import Given
from hgmap.field.branch import READING_SD, Branch, by_straight_kriging
from hgmap.field.by_idw import by_idw, by_idw_through_doors
from hgmap.field.dense_cells import DenseCells
from hgmap.field.interval_notes import interval_notes
from hgmap.field.kept_floor import KeptFloor
from hgmap.field.measured import error_notes, one_reading, shared_sd, working_errors
from hgmap.field.models import Model
from hgmap.field.places import Places, merge_places
from hgmap.field.points import Check, Progress, as_points, as_values, never
from hgmap.field.raster import Raster, fitting_cell, rooms_of
from hgmap.field.surface import Surface
from hgmap.site.building import Floor

__all__ = ["READING_SD", "EstimateSettings", "estimate_surface"]

FEWEST_FOR_A_SURFACE: Final = 3
USUAL_CELL_M: Final = 0.1
USUAL_MOST_CELLS: Final = 1_000_000

MOST_TO_AVERAGE: Final = 1000
"""Along straight lines, more places than this leave so little doubt about range and nugget that
the single best of each is used."""

MOST_THROUGH_DOORS: Final = 2000
"""Through the doors, more places than this are taken by the precision form only, whose work does
not grow with their cube: intervals as numbers, and no parameter given."""

SMALLEST_CONCENTRATION: Final = 1e-20
LARGEST_CONCENTRATION: Final = 1e20
"""Beyond these (computing unit) nothing was measured, and squares and exponentials overflow."""

GIVEN_RANGES_M: Final = (1e-3, 1e6)
GIVEN_VARIANCES: Final = (1e-9, 1e6)
"""Of range (m), sill and nugget (working-scale unit squared) that are given: others belong to no
building, and their squares and inverses overflow."""

REPLICATE_DISTANCE_M: Final = 0.05
"""Readings of one room closer than this (m) were taken at one place (common practice, no
source)."""


@dataclass(frozen=True)
class EstimateSettings:
    """How to estimate.

    ``cell_m`` None chooses 0.1 m, or coarser where the floor is large. ``walls`` None estimates
    through the doors where the plan shows an opening between two rooms. ``range_m`` (m),
    ``nugget`` and ``sill`` (working-scale unit squared; ``sill`` is that of the field, without the
    nugget) are weighed by the readings where they are None. ``seed`` is that of the draws of
    readings that are intervals.
    """

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = None
    model: Model = "exponential"
    power: float = 2.0
    walls: bool | None = None
    range_m: float | None = None
    nugget: float | None = None
    sill: float | None = None
    seed: int = 0


def estimate_surface(
    floor: Floor,
    xy: NDArray[np.float64],
    concentration: NDArray[np.float64],
    settings: EstimateSettings,
    progress: Progress | None = None,
    *,
    room: NDArray[np.int64] | None = None,
    bounds: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
    error: NDArray[np.float64] | None = None,
    ranges: NDArray[np.bool_] | None = None,
    kept: KeptFloor | None = None,
    check: Check = never,
    before: Surface | None = None,
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
    room : array of shape (n,), optional
        Position of each reading's room in ``floor.rooms``; found from the plan where not given.
    bounds : pair of arrays of shape (n,), optional
        Lower and upper bound of each concentration, equal where it is a number. Kriging takes the
        others for intervals; IDW knows numbers only and takes ``concentration``.
    error : array of shape (n,), optional
        Standard deviation (computing unit) of the error of each reading that the checks of its
        instrument show, beside the stated 10 % of any reading. It lowers the weight of the reading
        and is added, whole, to the sd of the air near it (:mod:`hgmap.field.measured`): readings
        share it, so that it does not average out. 0 everywhere changes nothing.
    ranges : array of shape (n,), bool, optional
        Which bounds are ranges as they were written, and no non-detects; for the notes only. Those
        with the concentration between their ends where not given.
    kept : KeptFloor, optional
        What an estimate of this very floor leaves for the next one: give each the same.
    check : callable, optional
        Called now and then; raising inside it cancels.
    before : Surface, optional
        Of nearly the same readings: range, nugget, sill and weights are taken from it where it
        has them. For a draft only.

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
    _check_concentrations(concentration, log=log)
    notes: list[str] = []
    _check_given(settings)
    kept = kept or KeptFloor()
    raster = kept.raster(floor, _cell(floor, settings, notes))
    room = rooms_of(floor, xy) if room is None else room
    notes += interval_notes(concentration, bounds, ranges, settings.method)
    notes += error_notes(concentration, error, log=log)
    places = _places(
        xy, concentration, room, bounds if settings.method == "kriging" else None, log, error
    )
    if len(places.values) < FEWEST_FOR_A_SURFACE:
        raise EstimateError(
            f"the usable readings stand at {_count(len(places.values), 'place')}: a surface needs "
            f"{FEWEST_FOR_A_SURFACE}"
        )
    if places.repeated:
        notes.append(
            f"{_count(places.repeated, 'place')} with replicates: averaged on the working scale"
        )
    walls = _use_walls(floor, settings, notes)
    notes += _given_notes(settings)
    branch = _branch(floor, raster, places, settings, walls, notes, progress, kept, check, before)
    sd = branch.sd
    if len(places.error):
        sd = np.hypot(sd, shared_sd(places, raster, kept.shared(raster.cell_m)))
    return Surface(
        raster=raster,
        mean=raster.spread(branch.mean),
        sd=raster.spread(sd),
        scale=settings.scale,
        method=settings.method,
        xy=places.xy,
        values=places.values,
        degrees_of_freedom=branch.degrees_of_freedom,
        variogram=branch.variogram,
        scores=branch.scores,
        notes=(*notes, *branch.notes),
        settings={**asdict(settings), "cell_m": raster.cell_m, "walls": walls},
        posterior=branch.posterior,
        estimate=branch.estimate,
        contradicted=branch.contradicted,
        room=places.room,
        group=places.group,
        error=places.error,
    )


def _places(
    xy: NDArray[np.float64],
    concentration: NDArray[np.float64],
    room: NDArray[np.int64],
    bounds: tuple[NDArray[np.float64], NDArray[np.float64]] | None,
    log: bool,
    error: NDArray[np.float64] | None,
) -> Places:
    if error is not None:
        error = working_errors(concentration, error, log=log)
    working = np.log(concentration) if log else concentration
    if bounds is not None and log:
        with np.errstate(divide="ignore"):
            bounds = np.log(bounds[0]), np.log(bounds[1])
    return merge_places(
        xy,
        working,
        room,
        tolerance_m=_replicate_distance(xy),
        reading_sd=READING_SD if log else None,
        bounds=bounds,
        error=error,
        stated_sd=one_reading(working, log=log) or 1.0,
    )


def _branch(
    floor: Floor,
    raster: Raster,
    places: Places,
    settings: EstimateSettings,
    walls: bool,
    notes: list[str],
    progress: Progress | None,
    kept: KeptFloor,
    check: Check,
    before: Surface | None,
) -> Branch:
    log = settings.scale == "log"
    if settings.method == "idw" and walls:
        return by_idw_through_doors(
            floor, raster, places, power=settings.power, log=log, progress=progress
        )
    if settings.method == "idw":
        return by_idw(places, raster, power=settings.power, log=log, progress=progress)
    given = Given(settings.range_m, settings.nugget, settings.sill)
    many = len(places.values) > (MOST_THROUGH_DOORS if walls else MOST_TO_AVERAGE)
    if many and walls and given.anything:
        raise EstimateError(
            f"{len(places.values)} places are too many for kriging through the doors with a range, "
            f"nugget or sill given ({MOST_THROUGH_DOORS} at most)",
            where=f"floor {floor.name!r}",
            todo="leave them to be weighed, or use --method idw or --straight",
        )
    if many and places.intervals is not None:
        count = len(places.intervals.which)
        notes.append(f"{_count(count, 'interval')} among so many places: taken at the value "
                     "that was written")  # fmt: skip
        places = replace(places, intervals=None)
    if many and not walls:
        return by_straight_kriging(
            places, raster, model=settings.model, log=log, progress=progress, given=given
        )
    return by_averaged_kriging(
        floor,
        raster,
        places,
        walls=walls,
        model=settings.model,
        log=log,
        given=given,
        seed=settings.seed,
        progress=progress,
        kept=kept,
        check=check,
        before=before.estimate.mixture
        if before is not None and isinstance(before.estimate, DenseCells)
        else None,
    )


def _given_notes(settings: EstimateSettings) -> list[str]:
    if settings.method == "idw":
        return []
    texts = [
        f"{name} {value:g}{unit}"
        for name, value, unit in (
            ("range", settings.range_m, " m"),
            ("nugget", settings.nugget, ""),
            ("sill", settings.sill, ""),
        )
        if value is not None
    ]
    return [f"given, not weighed by the readings: {', '.join(texts)}"] if texts else []


def _check_concentrations(concentration: NDArray[np.float64], *, log: bool) -> None:
    if log and (concentration <= 0).any():
        raise EstimateError("the log scale needs concentrations above 0")
    least = SMALLEST_CONCENTRATION if log else -LARGEST_CONCENTRATION
    beyond = np.flatnonzero((concentration < least) | (concentration > LARGEST_CONCENTRATION))
    if len(beyond):
        raise EstimateError(
            f"a concentration of {concentration[beyond[0]]:g} is beyond any measurement"
        )


def _check_given(settings: EstimateSettings) -> None:
    for name, value, (least, most), unit in (
        ("range", settings.range_m, GIVEN_RANGES_M, " m"),
        ("sill", settings.sill, GIVEN_VARIANCES, ""),
        ("nugget", settings.nugget, GIVEN_VARIANCES, ""),
    ):
        if value is None or least <= value <= most or (name == "nugget" and value == 0):
            continue
        raise EstimateError(
            f"a {name} of {value:g} cannot be used",
            where=name,
            todo=f"give {'0 or ' if name == 'nugget' else ''}one from {least:g} to {most:g}{unit}",
        )


def _use_walls(floor: Floor, settings: EstimateSettings, notes: list[str]) -> bool:
    joined = any(len(one.rooms) == 2 for one in floor.openings)
    if settings.walls is None:
        if not joined and len(floor.rooms) > 1:
            notes.append("the plan shows no opening between rooms: estimated along straight lines")
        return joined
    return settings.walls


def _cell(floor: Floor, settings: EstimateSettings, notes: list[str]) -> float:
    if settings.cell_m is not None:
        return settings.cell_m
    cell = max(USUAL_CELL_M, fitting_cell(floor, USUAL_MOST_CELLS))
    if cell > USUAL_CELL_M:
        notes.append(f"cells of {cell:g} m, since {USUAL_CELL_M:g} m would be too many")
    return cell


def _replicate_distance(xy: NDArray[np.float64]) -> float:
    # a site in kilometres keeps its places apart as well as a room does
    return min(REPLICATE_DISTANCE_M, 1e-3 * float(np.ptp(xy, axis=0).max()))


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")
