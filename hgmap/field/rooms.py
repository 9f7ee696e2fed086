"""What the estimate says of whole rooms: averages with their error, and the highest anywhere.

The average of the field over a room, on the working scale, is block kriging with the joint
covariance of its cells (Journel and Huijbregts 1978, Mining Geostatistics, section V.A). On the log
scale that is the geometric mean; the mean concentration, which a person breathes in, and the
highest concentration anywhere come from conditional simulation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.branch import READING_SD
from hgmap.field.points import Check, never
from hgmap.field.simulate import Draws

if TYPE_CHECKING:
    from hgmap.field.cell_estimate import CellEstimate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_LOG: Final = 300.0

QUANTILES: Final = (0.025, 0.1587, 0.5, 0.8413, 0.975)
"""95 % interval, one standard error either way, and the middle."""

MOST_EXACT: Final = 200
"""On floors of more rooms than this the variance of their averages is that of the draws (a
standard deviation good to 4 %): the exact one costs a solve for each room and candidate."""


@dataclass(frozen=True)
class RoomFigures:
    """Figures of every room of a floor, in the order of ``floor.rooms``; NaN where unknown.

    All of them allow for the error that the readings share (a calibration), as the map does.

    Attributes
    ----------
    average, average_se : arrays of shape (rooms,)
        Mean concentration over the room (middle of the draws) and its standard error (half of what
        two draws of three span; computing unit). With few readings the draws have such long tails
        that their own mean and standard deviation need not exist.
    low, high : arrays of shape (rooms,)
        95 % interval of the mean concentration.
    centre, centre_se : arrays of shape (rooms,)
        Average on the working scale and its standard error: of the logarithms where the scale is
        log (their exponential is the geometric mean), of the concentration where it is linear.
    highest : array of shape (rooms, draws)
        Highest concentration anywhere in the room, of the noise-free field, in each draw.
    """

    average: Floats
    average_se: Floats
    low: Floats
    high: Floats
    centre: Floats
    centre_se: Floats
    highest: Floats

    def probability_anywhere_above(self, concentration: float) -> Floats:
        """Return the share of the draws in which some place of each room is above a level.

        Parameters
        ----------
        concentration : float
            Computing unit.
        """
        above = (self.highest > concentration).mean(axis=1)
        return np.asarray(np.where(np.isnan(self.average), np.nan, above))


def room_figures(
    made: CellEstimate,
    rooms: int,
    *,
    log: bool,
    seed: int = 0,
    error: Floats | None = None,
    check: Check = never,
) -> RoomFigures:
    """Average an estimate over each room, and look for the highest in each draw of it.

    Parameters
    ----------
    made : CellEstimate
    rooms : int
        How many rooms the floor has.
    log : bool
        Whether the working scale is the logarithm.
    seed : int
        Of the simulation.
    error : array of shape (rooms,), optional
        Standard deviation of the measured error that the readings of each room share (working
        scale; :func:`hgmap.field.measured.error_by_room`).
    check : callable, optional
        Called now and then; raising inside it cancels.
    """
    error = np.zeros(rooms) if error is None else error
    draws = made.draws(seed=seed, check=check)
    centre, variance = _centres(made, rooms, draws, check)
    check()
    count = draws.fields.shape[1]
    shared = np.asarray(READING_SD * np.random.default_rng([seed, 1]).normal(size=count))
    drift = np.random.default_rng([seed, 2]).normal(size=count)
    average, highest = _each_room(made, draws, rooms, shared, np.outer(error, drift), log=log)
    own = READING_SD if log else READING_SD * np.abs(centre)
    low, below, middle, above, high = np.quantile(average, QUANTILES, axis=1)
    return RoomFigures(
        average=middle,
        average_se=(above - below) / 2.0,
        low=low,
        high=high,
        centre=centre,
        centre_se=np.sqrt(variance + own**2 + error**2),
        highest=highest,
    )


def _centres(made: CellEstimate, rooms: int, draws: Draws, check: Check) -> tuple[Floats, Floats]:
    """Average over the cells of each room that a reading reaches: mean and error variance."""
    known = np.asarray(made.target_trend.any(axis=1))
    cell = np.flatnonzero(known)
    room = made.graph.room[cell]
    count = np.bincount(room, minlength=rooms)
    weights = sp.csr_array((1.0 / count[room], (room, cell)), shape=(rooms, len(known)))
    if rooms > MOST_EXACT:
        mean = weights[:, cell] @ made.mean[cell]
        variance = _variance_of_draws(draws, made.graph.room[draws.cells], rooms)
        mean[count == 0] = np.nan
        return mean, variance
    mean, covariance = made.averages(weights, check)
    variance = np.diag(covariance).copy()
    mean[count == 0] = variance[count == 0] = np.nan
    return mean, variance


def _variance_of_draws(draws: Draws, room: Ints, rooms: int) -> Floats:
    """Return the variance of each room's average over the draws; NaN where none was drawn."""
    known = np.asarray(np.isfinite(draws.fields).all(axis=1))
    count = np.bincount(room[known], minlength=rooms)
    total = sp.csr_array(
        (np.ones(int(known.sum())), (room[known], np.flatnonzero(known))),
        shape=(rooms, len(draws.cells)),
    )
    filled = np.where(known[:, None], draws.fields, 0.0)
    average = np.asarray(total @ filled) / np.maximum(count, 1)[:, None]
    return np.where(count > 0, average.var(axis=1, ddof=1), np.nan)


def _each_room(
    made: CellEstimate, draws: Draws, rooms: int, shared: Floats, drift: Floats, *, log: bool
) -> tuple[Floats, Floats]:
    """Return mean and highest concentration of each room in each draw, shape (rooms, draws)."""
    count = draws.fields.shape[1]
    average, highest = np.full((rooms, count), np.nan), np.full((rooms, count), np.nan)
    room = made.graph.room[draws.cells]
    for index in np.unique(room):
        field = np.asarray(draws.fields[room == index])
        field = np.asarray(field[np.isfinite(field).all(axis=1)])
        if field.size:
            # a draw with very few readings may be beyond any number
            field = np.asarray(
                np.exp(np.clip(field + shared + drift[index], -MOST_LOG, MOST_LOG))
                if log
                else field * (1.0 + shared) + drift[index]
            )
            average[index] = field.mean(axis=0)
            highest[index] = field.max(axis=0)
    return average, highest
