"""Kriging averaged over what is not known of its parameters, along straight lines or doors."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.field.as_before import ranges_before, weighed_as_before
from hgmap.field.beliefs import SHARES, Beliefs, Given
from hgmap.field.branch import READING_SD, Branch, honest_sd, variogram_notes
from hgmap.field.cell_estimate import CellEstimate
from hgmap.field.dense_cells import DenseCells
from hgmap.field.graph import CellGraph
from hgmap.field.kept_floor import KeptFloor
from hgmap.field.kernel_step import kernel_step
from hgmap.field.mixture import Candidate, Mixture
from hgmap.field.models import Model
from hgmap.field.places import Places
from hgmap.field.points import Check, Progress, never
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.precision_cost import precision_pays
from hgmap.field.precision_mixture import weigh_by_precision
from hgmap.field.predict import predict
from hgmap.field.raster import Raster
from hgmap.field.straight_candidate import straight_candidates
from hgmap.field.validate import scores_of
from hgmap.field.variogram import FEWEST_TO_FIT, AveragedFit, default_variogram
from hgmap.field.wall_candidate import WALL_FLUX, wall_candidates
from hgmap.field.walls import WallField
from hgmap.field.weigh import weigh
from hgmap.site.building import Floor

Floats = NDArray[np.float64]

RANGES_TRIED: Final = 7
LONGEST_RANGE: Final = 6.0
"""Longest range that is tried, in diagonals of the floor: a plane, as far as the floor can tell."""

MOST_MISFIT: Final = 2.0
"""Readings that vary more than this many times what given parameters allow contradict them."""

LONGEST_STATED: Final = 0.5
"""The same where the sill is the stated one: few readings, or readings that agree, do not prove
that the floor hangs together either (common practice, no source)."""

NUGGET_LOG_SD: Final = 1.5
"""Of the lognormal prior of the nugget about the variance of one reading's error: within a factor
of 20 either way (common practice, no source)."""


def ranges_to_try(graph: CellGraph, *, longest: float = LONGEST_RANGE) -> Floats:
    """Return ranges (m) from two cells to ``longest`` diagonals of the floor."""
    diagonal = float(np.hypot(*np.ptp(graph.xy, axis=0)))
    shortest = max(2.0 * graph.raster.cell_m, diagonal / 40.0)
    return np.geomspace(shortest, max(longest * diagonal, 2.0 * shortest), RANGES_TRIED)


def estimate_cells(
    graph: CellGraph,
    places: Places,
    *,
    walls: WallField | None,
    model: Model = "exponential",
    ranges_m: Floats | None = None,
    beliefs: Beliefs | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    check: Check = never,
    before: Mixture | None = None,
) -> DenseCells:
    """Estimate every cell, weighing ranges, nuggets and wall fluxes by what the readings say.

    Parameters
    ----------
    graph : CellGraph
    places : Places
    walls : WallField or None
        Of the graph; None: along straight lines, by ``model``.
    model : str
    ranges_m : array, optional
        Ranges tried (m); see :func:`ranges_to_try`.
    beliefs : Beliefs, optional
    seed : int
        Of the draws of readings that are intervals.
    progress : callable, optional
        Called with (done, all) ranges; raising inside it cancels.
    check : callable, optional
        Called now and then; raising inside it cancels.
    before : Mixture, optional
        What weighed nearly the same readings: they are taken as it took them, for a draft.

    Raises
    ------
    EstimateError
        If there are no more places than separate parts of the floor.
    """
    weights = graph.interpolation(places.xy, places.room)
    if before is not None:
        ranges_m = ranges_before(before)
    ranges_m = ranges_to_try(graph) if ranges_m is None else ranges_m
    candidates: list[Candidate]
    if walls is None:
        component = np.zeros(len(graph.xy), dtype=np.int64)
        candidates = [*straight_candidates(model, places.xy, graph.xy, ranges_m)]
    else:
        component = graph.component
        candidates = [*wall_candidates(walls, weights, ranges_m, progress=progress, check=check)]
    home = component[np.asarray(weights.argmax(axis=1)).ravel()]
    reached = np.unique(home)
    trend = (home[:, None] == reached[None, :]).astype(float)
    target_trend = (component[:, None] == reached[None, :]).astype(float)
    if before is None:
        mixture = weigh(
            candidates, places.values, trend, error_weight=places.error_weight, beliefs=beliefs,
            intervals=places.intervals, seed=seed, check=check,
        )  # fmt: skip
    else:
        mixture = weighed_as_before(
            before, candidates, places.values, trend, error_weight=places.error_weight,
            intervals=places.intervals,
        )  # fmt: skip
    mean, variance = predict(mixture, target_trend, check)
    if progress is not None:
        progress(1, 1)
    return DenseCells(graph, weights, target_trend, mean, variance, mixture)


def by_averaged_kriging(
    floor: Floor,
    raster: Raster,
    places: Places,
    *,
    walls: bool,
    model: Model,
    log: bool,
    given: Given,
    seed: int,
    progress: Progress | None,
    kept: KeptFloor | None = None,
    check: Check = never,
    before: Mixture | None = None,
) -> Branch:
    """Estimate a floor's raster, through its doors or along straight lines.

    Parameters
    ----------
    floor : Floor
    raster : Raster
        Cells to fill.
    places : Places
    walls : bool
    model : str
        Correlation along straight lines.
    log : bool
        Whether the working scale is the logarithm.
    given : Given
    seed : int
    progress : callable or None
    kept : KeptFloor, optional
        Of this floor.
    check : callable, optional
        Called now and then; raising inside it cancels.
    before : Mixture, optional
        See :func:`estimate_cells`.

    Raises
    ------
    EstimateError
        If there are no more places than separate parts of the floor.
    """
    kept = kept or KeptFloor()
    note = why_default(places) if given.sill is None else ""
    beliefs = beliefs_about(places, log=log, given=given, note=note)
    field = kept.field(floor, kernel_step(floor, raster.cell_m))
    graph = field.graph
    made: CellEstimate
    if walls and _by_precision(field, places, given):
        made = _estimate_by_precision(field, places, _ranges(graph, note, given), beliefs, progress)
    else:
        step = kernel_step(floor, raster.cell_m, len(places.values))
        if step > graph.raster.cell_m:
            field = kept.field(floor, step)
            graph = field.graph
        made = estimate_cells(
            graph,
            places,
            walls=field if walls else None,
            model=model,
            ranges_m=_ranges(graph, note, given),
            beliefs=beliefs,
            seed=seed,
            progress=progress,
            check=check,
            before=before,
        )
    check()
    finest = field.onto(raster)
    mean = finest @ made.mean
    noise_free = np.maximum(finest @ made.variance, 0.0)
    lost = ~np.isin(raster.room_index[raster.inside], np.unique(graph.room))
    mean[lost] = noise_free[lost] = np.nan
    fit = AveragedFit(
        made.nugget,
        made.sill,
        made.range_m,
        made.candidates,
        "through doors" if walls else model,
        "default" if note else "given" if given.anything else "fitted",
        note or _at_a_bound(made, given),
    )
    error, sd = made.left_out()
    return Branch(
        mean,
        honest_sd(mean, noise_free, made.nugget, log=log),
        fit,
        scores_of(error, sd),
        made.degrees_of_freedom,
        made.posterior,
        variogram_notes(fit),
        made,
        _contradiction(made, given),
    )


def _by_precision(walls: WallField, places: Places, given: Given) -> bool:
    """Tell whether the form for very many readings can be used, and is the cheaper one."""
    if given.anything or places.intervals is not None:
        return False
    return precision_pays(walls, len(places.values), ranges=RANGES_TRIED, fluxes=len(WALL_FLUX))


def _ranges(graph: CellGraph, note: str, given: Given) -> Floats:
    if given.range_m is not None:
        return np.array([given.range_m])
    return ranges_to_try(graph, longest=LONGEST_STATED if note else LONGEST_RANGE)


def _estimate_by_precision(
    field: WallField,
    places: Places,
    ranges_m: Floats,
    beliefs: Beliefs,
    progress: Progress | None,
) -> PrecisionCells:
    made = weigh_by_precision(
        field,
        field.graph.interpolation(places.xy, places.room),
        places.values,
        ranges_m=ranges_m,
        wall_flux=WALL_FLUX,
        error_weight=places.error_weight,
        beliefs=beliefs,
        progress=progress,
    )
    return PrecisionCells.of(field, places, made)


def beliefs_about(places: Places, *, log: bool, given: Given, note: str) -> Beliefs:
    """Return what is held of nugget and sill before the readings are seen.

    ``note`` not empty: the sill is at least the stated one (few readings, or readings that do not
    differ, do not prove an even floor).
    """
    stated = default_variogram(places.xy, places.values, log=log, note=note)
    return Beliefs(
        SHARES,
        nugget_median=READING_SD**2 if log else None,
        nugget_log_sd=NUGGET_LOG_SD,
        least_sill=stated.sill if note else 0.0,
        nugget=given.nugget,
        sill=given.sill,
    )


def why_default(places: Places) -> str:
    """Say why the stated sill stands in for the fitted one; empty where it does not."""
    count = len(places.values)
    numbers = count - (0 if places.intervals is None else len(places.intervals.which))
    if numbers < FEWEST_TO_FIT:
        return (
            f"{numbers} places with a number are fewer than {FEWEST_TO_FIT}: the sill is at least "
            "the stated one, range and nugget are weighed by few"
        )
    known = np.delete(places.values, places.intervals.which) if places.intervals else places.values
    if np.ptp(known) <= 1e-12 * max(1.0, float(np.abs(known).max())):
        return "the readings do not differ: the sill is the stated one"
    return ""


def _contradiction(made: CellEstimate, given: Given) -> str:
    """Say when the readings vary far more than the parameters that were given allow."""
    if not given.anything or made.misfit <= MOST_MISFIT:
        return ""
    return (
        f"the readings vary {made.misfit:.2g} times as much as the range, nugget or sill that was "
        "given allows"
    )


def _at_a_bound(made: CellEstimate, given: Given) -> str:
    """Say when the readings would have a range beyond those that are tried."""
    if given.range_m is not None:
        return ""
    shortest, *_, longest = ranges_to_try(made.graph)
    if made.weight_of_range(float(shortest)) > 0.5:
        return f"range at its lower bound of {shortest:.1f} m: readings say little beyond it"
    if made.weight_of_range(float(longest)) > 0.5:
        return f"range at its upper bound of {longest:.0f} m: a trend over the whole floor"
    return ""
