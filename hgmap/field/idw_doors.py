"""Inverse distance weighting over the lengths of walks: round walls and through doors."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.field.paths import Walks
from hgmap.field.points import Progress
from hgmap.field.sight import Stand
from hgmap.field.workers import work_through

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLOCK_BYTES: Final = 4 * 2**20
"""Of the distances between the readings and a block of targets."""


def distance_weights(distance: Floats, power: float) -> Floats:
    """Return distance ** -power relative to the nearest of each row, shape (m, n).

    Where distances are 0, those readings have it all; a row that no reading reaches is all ones.
    """
    nearest = distance.min(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        # relative to the nearest reading, so that no power overflows
        weight = (nearest / distance) ** power
    weight[np.isnan(weight)] = 1.0
    return np.asarray(weight)


def average(
    distance: Floats, readings: Floats, power: float, trust: Floats | None = None
) -> Floats:
    """Return the mean of the readings weighted by distance ** -power, a row of distances each.

    Rows without a finite distance are NaN. Where distances are 0, it is the mean of those
    readings.

    Parameters
    ----------
    distance : array of shape (m, n)
        inf where no way leads; its memory is not kept.
    readings : array of shape (n,)
    trust : array of shape (n,), optional
        What each reading's weight is multiplied by, from 1e-280 to 1; 1 where not given.
    """
    weight = distance_weights(distance, power)
    if trust is not None:
        weight *= trust
    estimate = np.asarray(weight @ readings / weight.sum(axis=1))
    estimate[np.isinf(distance.min(axis=1))] = np.nan
    return estimate


def idw_through_doors(
    walks: Walks,
    xy: Floats,
    values: Floats,
    room: Ints | None,
    targets: Floats,
    target_room: Ints | None,
    *,
    power: float,
    progress: Progress | None = None,
    trust: Floats | None = None,
) -> Floats:
    r"""Average the readings, each weighted by the length of the walk to it, to a power.

    .. math:: z(x) = \sum_i d_i^{-p} z_i \Big/ \sum_i d_i^{-p}

    (Isaaks and Srivastava 1989, An Introduction to Applied Geostatistics, ch. 11), with
    :math:`d_i` the length of the shortest walk (:mod:`hgmap.field.paths`).

    Parameters
    ----------
    walks : Walks
        Of the floor.
    xy : array of shape (n, 2), m
    values : array of shape (n,)
    room, target_room : arrays of shape (n,) and (m,), optional
        Positions in ``floor.rooms``; found from the plan where not given.
    targets : array of shape (m, 2), m
    power : float
        Above 0.
    progress : callable, optional
        Called with (done, all) after each block of targets.
    trust : array of shape (n,), optional
        As in :func:`average`.

    Returns
    -------
    array of shape (m,)
        In the unit of ``values``; NaN where no reading can be walked to.

    Raises
    ------
    EstimateError
        If a coordinate is not finite, or a room is not given for every place.
    """
    reach = walks.reach(xy, room)
    to = walks.stand(targets, target_room)
    estimate = np.empty(len(to.xy))
    size = max(1, BLOCK_BYTES // (8 * len(values)))
    jobs = [slice(at, min(at + size, len(estimate))) for at in range(0, len(estimate), size)]

    def work(job: slice) -> None:
        distance = reach.to(Stand(to.xy[job], to.triangle[job]))
        estimate[job] = average(distance, values, power, trust)

    work_through(work, jobs, [job.stop - job.start for job in jobs], progress)
    return estimate


def leave_one_out_through_doors(
    walks: Walks,
    xy: Floats,
    values: Floats,
    room: Ints | None,
    *,
    power: float,
    trust: Floats | None = None,
) -> Floats:
    """Leave each reading out in turn; return observed minus predicted, shape (n,).

    NaN for a reading that no other can be walked to from. Parameters as in
    :func:`idw_through_doors`.
    """
    distance = walks.distances(xy, room, xy, room)
    np.fill_diagonal(distance, np.inf)
    return values - average(distance, values, power, trust)
