"""The change in every cell between two rounds, and the ground that it makes."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.special import stdtr
from shapely.geometry.base import BaseGeometry

from hgmap.decide.change_model import MOST_LOG, SHARED_SD, CellChange, Grounds, quantile
from hgmap.decide.contours import area_above, polygonal, room_window
from hgmap.errors import EstimateError
from hgmap.field.surface import Surface
from hgmap.site.building import Floor

Floats = NDArray[np.float64]


def cell_change(before: Surface, after: Surface) -> CellChange:
    """Compare two surfaces cell by cell.

    The logarithm of the ratio is the difference of the estimates on the log scale. Its variance is
    the sum of the two estimates' variances (the errors of two visits are independent; the measured
    error that the readings of a visit share is in its own variance) and that of the calibrations,
    ``SHARED_SD`` squared, which no number of readings averages out. On the linear scale logarithm
    and sd are those of the delta method, ln m and s / m, where the estimate m is above 0. A method
    without an error model gives no sd that a change could be judged by: it is without bounds.

    Raises
    ------
    EstimateError
        If the surfaces have not the same cells.
    """
    a, b = before.raster, after.raster
    if a.shape != b.shape or not np.array_equal(a.room_index, b.room_index):
        raise EstimateError(
            "the two rounds were not estimated on the same cells",
            todo="give one --cell for both",
        )
    (first, first_sd), (second, second_sd) = _on_logs(before), _on_logs(after)
    log_ratio = second - first
    sd = np.sqrt(first_sd**2 + second_sd**2 + SHARED_SD**2)
    if "idw" in (before.method, after.method):
        sd = np.where(np.isfinite(sd), np.inf, np.nan)
    free = max(1, min(before.degrees_of_freedom, after.degrees_of_freedom))
    reach = quantile(free) * sd
    return CellChange(
        log_ratio,
        sd,
        np.exp(np.clip(log_ratio - reach, -MOST_LOG, MOST_LOG)),
        np.exp(np.clip(log_ratio + reach, -MOST_LOG, MOST_LOG)),
        np.asarray(stdtr(free, -log_ratio / sd), dtype=np.float64),
        free,
    )


def _on_logs(surface: Surface) -> tuple[Floats, Floats]:
    if surface.scale == "log":
        return surface.mean, surface.sd
    with np.errstate(invalid="ignore", divide="ignore"):
        known = surface.mean > 0.0
        mean = np.where(known, surface.mean, np.nan)
        return np.log(mean), surface.sd / mean


def grounds_of(
    floor: Floor,
    surface: Surface | None,
    cells: CellChange | None,
    unread: set[str],
    barred: set[str] | frozenset[str] = frozenset(),
    barred_cells: tuple[NDArray[np.bool_], NDArray[np.bool_]] | None = None,
) -> Grounds:
    """Sort the ground of a floor: where it fell, where it rose, and where nobody can tell.

    Between cell centres the standardised change is interpolated, as the zones' probability is.

    Parameters
    ----------
    floor : Floor
    surface : Surface or None
        Either of the two: its cells.
    cells : CellChange or None
    unread : set of str
        Ids of rooms that a round did not read: nothing is said of them.
    barred : set of str
        Ids of rooms whose readings are bounds that leave no change open: nobody can tell.
    barred_cells : tuple of arrays of shape (ny, nx), optional
        Cells that cannot be said to have fallen, and to have risen, by what bounds leave open.
    """
    fell: list[BaseGeometry] = []
    rose: list[BaseGeometry] = []
    unknown: list[BaseGeometry] = []
    doubtful: list[BaseGeometry] = []
    for index, room in enumerate(floor.rooms):
        if room.id in barred:
            doubtful.append(room.polygon)
            continue
        window = None
        if surface is not None and cells is not None and room.id not in unread:
            window = room_window(surface.raster, index, room.polygon)
        if window is None or cells is None:
            unknown.append(room.polygon)
            continue
        with np.errstate(invalid="ignore"):
            z = window.take(cells.log_ratio) / window.take(cells.sd)
        if barred_cells is not None:
            no_fall, no_rise = (
                window.take(one.astype(np.float64)) > 0.0 for one in barred_cells
            )  # fmt: skip
            z = np.where((no_fall & (z < 0.0)) | (no_rise & (z > 0.0)), 0.0, z)
        nothing = ~np.isfinite(z)
        if nothing.all():
            unknown.append(room.polygon)
            continue
        z, enough = np.where(nothing, 0.0, z), quantile(cells.degrees_of_freedom)
        dark = area_above(window, nothing.astype(np.float64), 0.5, room.polygon)
        down = polygonal(area_above(window, -z, enough, room.polygon).difference(dark))
        up = polygonal(area_above(window, z, enough, room.polygon).difference(dark))
        rest = polygonal(room.polygon.difference(shapely.union_all([dark, down, up])))
        for whole, part in ((unknown, dark), (fell, down), (rose, up), (doubtful, rest)):
            whole.append(part)
    return Grounds(
        *(polygonal(shapely.union_all(parts)) for parts in (fell, rose, doubtful, unknown))
    )


def without_rooms(cells: CellChange, surface: Surface, floor: Floor, rooms: set[str]) -> CellChange:
    """Return the change with nothing in the cells of some rooms (ids): it would be painted."""
    barred = [index for index, room in enumerate(floor.rooms) if room.id in rooms]
    kept = ~np.isin(surface.raster.room_index, barred)

    def bare(values: Floats) -> Floats:
        return np.where(kept, values, np.nan)

    return CellChange(
        bare(cells.log_ratio), bare(cells.sd), bare(cells.low), bare(cells.high),
        bare(cells.probability_fell), cells.degrees_of_freedom,
    )  # fmt: skip


def probability_fell(log_ratio: float, sd: float) -> float:
    """Return the probability that a ratio is below 1, its logarithm being normal.

    Examples
    --------
    >>> round(probability_fell(-1.96, 1.0), 3)
    0.975
    """
    return 0.5 * math.erfc(log_ratio / sd / math.sqrt(2.0))
