"""From readings on a floor to a surface with its uncertainty."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.branch import READING_SD, by_idw, by_straight_kriging
from hgmap.field.doors import by_doors
from hgmap.field.models import Model
from hgmap.field.points import Merged, Progress, as_points, as_values, merge_coincident
from hgmap.field.raster import Raster, fitting_cell
from hgmap.field.surface import Surface
from hgmap.site.model import Floor

__all__ = ["READING_SD", "EstimateSettings", "estimate_surface"]

FEWEST_FOR_A_SURFACE: Final = 3
USUAL_CELL_M: Final = 0.1
USUAL_MOST_CELLS: Final = 1_000_000

REPLICATE_DISTANCE_M: Final = 0.05
"""Readings of one room closer than this (m) were taken at one place (common practice, no
source)."""


@dataclass(frozen=True)
class EstimateSettings:
    """How to estimate.

    ``cell_m`` None chooses 0.1 m, or coarser where the floor is large. ``walls`` None estimates
    through the doors where the plan shows an opening between two rooms.
    """

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = None
    model: Model = "exponential"
    power: float = 2.0
    walls: bool | None = None


def estimate_surface(
    floor: Floor,
    xy: NDArray[np.float64],
    concentration: NDArray[np.float64],
    settings: EstimateSettings,
    progress: Progress | None = None,
    *,
    room: NDArray[np.int64] | None = None,
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
    room = rooms_of(floor, xy) if room is None else room
    merged = merge_coincident(xy, working, tolerance=_replicate_distance(xy), apart=room)
    if len(merged.values) < FEWEST_FOR_A_SURFACE:
        raise EstimateError(
            f"the usable readings stand at {_count(len(merged.values), 'place')}: a surface needs "
            f"{FEWEST_FOR_A_SURFACE}"
        )
    if merged.repeated:
        count = len(merged.repeated)
        notes.append(f"{_count(count, 'place')} with replicates: averaged on the working scale")
    walls = settings.method == "kriging" and _use_walls(floor, settings, notes)
    if settings.method == "idw":
        branch = by_idw(merged, raster, power=settings.power, log=log, progress=progress)
    elif walls:
        branch = by_doors(floor, raster, merged, _room_of_place(merged, room), log=log,
                          progress=progress)  # fmt: skip
    else:
        branch = by_straight_kriging(
            merged, raster, model=settings.model, log=log, progress=progress
        )
    return Surface(
        raster=raster,
        mean=raster.spread(branch.mean),
        sd=raster.spread(branch.sd),
        scale=settings.scale,
        method=settings.method,
        xy=merged.xy,
        values=merged.values,
        degrees_of_freedom=branch.degrees_of_freedom,
        variogram=branch.variogram,
        scores=branch.scores,
        notes=(*notes, *branch.notes),
        settings={**asdict(settings), "cell_m": raster.cell_m, "walls": walls},
        posterior=branch.posterior,
    )


def rooms_of(floor: Floor, xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the position of the room that each point (m) lies in or nearest to."""
    tree = shapely.STRtree([room.polygon for room in floor.rooms])
    return np.asarray(tree.nearest(shapely.points(xy)), dtype=np.int64)


def _room_of_place(merged: Merged, room: NDArray[np.int64]) -> NDArray[np.int64]:
    place_room = np.empty(len(merged.values), dtype=np.int64)
    place_room[merged.group] = room
    return place_room


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
