"""Ordinary kriging over straight-line distance: the system, solved once, and its dense back end.

Places are in ranges here: turned, stretched and divided by the range, so that a distance of 1 is
the range in every direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.spatial.distance import cdist
from threadpoolctl import threadpool_limits

from hgmap.errors import EstimateError
from hgmap.field.models import Model, correlate
from hgmap.field.points import Progress
from hgmap.field.workers import work_through

Floats = NDArray[np.float64]

SMALLEST_RECIPROCAL_CONDITION: Final = 1e-13
"""Below this a solution in double precision keeps fewer than about three digits."""

AT_A_READING: Final = 1e-9
"""Targets closer to a reading than this share of the extent of the readings are at it."""

PANEL_ROWS: Final = 128
"""Rows of a triangular product taken at once: it wastes 128 / n of the work, and numpy's product
runs beside other threads, which scipy's triangular one does not."""

FEW_READINGS: Final = 1500
"""Up to here a factor is quicker with one BLAS thread than with the starting of two."""


@dataclass(frozen=True)
class Kernel:
    """A covariance model without its range, for places given in ranges.

    Attributes
    ----------
    nugget, psill : float
        Nugget and partial sill (unit of the values, squared).
    """

    model: Model
    nugget: float
    psill: float
    smoothness: float

    def between(self, a: Floats, b: Floats) -> Floats:
        """Return the covariance without nugget between places, shape (len(a), len(b))."""
        return self.at(cdist(a, b))

    def at(self, distance: Floats) -> Floats:
        """Return the covariance without nugget at distances (ranges), in their memory."""
        correlate(distance, model=self.model, smoothness=self.smoothness)
        if self.psill != 1.0:
            distance *= self.psill
        return distance


@dataclass(frozen=True)
class System:
    r"""The ordinary kriging system of a set of readings, solved in its covariance form.

    With K the covariance of the readings (nugget and error variance on the diagonal), c(x) that
    between them and place x, L L' = K, u = K⁻¹ 1 and s = 1' K⁻¹ 1 (Cressie 1993, Statistics for
    Spatial Data, section 3.2):

    * mean(x) = β + α' c(x), with β = u' z / s and α = K⁻¹ (z - β 1);
    * variance(x) = C(0) - \|L⁻¹ c(x)\|² + (1 - u' c(x))² / s.

    Attributes
    ----------
    xy : array of shape (n, 2)
        Places, in ranges.
    values, error_variance : arrays of shape (n,)
    inverse_factor : array of shape (n, n)
        L⁻¹, lower triangular, row by row.
    pair : array of shape (2, n)
        α and u.
    beta, ones : float
        β and s.
    at_reading : float
        Distance (ranges) within which a target is at a reading; below 0 where the nugget is
        measurement error and no target is.
    """

    xy: Floats
    values: Floats
    error_variance: Floats
    kernel: Kernel
    inverse_factor: Floats
    pair: Floats
    beta: float
    ones: float
    at_reading: float

    @property
    def sill(self) -> float:
        """Variance of the field at one place, nugget included."""
        return self.kernel.nugget + self.kernel.psill


def solve_system(
    xy: Floats, values: Floats, error_variance: Floats, kernel: Kernel, *, at_reading: float
) -> System:
    """Factor the covariance of the readings once.

    Raises
    ------
    EstimateError
        If its solution would be made of rounding errors.
    """
    with threadpool_limits(1 if len(xy) <= FEW_READINGS else None, user_api="blas"):
        covariance = kernel.between(xy, xy)
        covariance[np.diag_indices(len(xy))] = kernel.psill + kernel.nugget + error_variance
        norm = float(np.abs(covariance).sum(axis=0).max())
        # a symmetric matrix is its own transpose: handed over so, LAPACK need not copy it
        factor, failed = lapack.dpotrf(covariance.T, lower=1, clean=1, overwrite_a=1)
        reciprocal = 0.0 if failed else float(lapack.dpocon(factor, norm, uplo="L")[0])
        if not reciprocal >= SMALLEST_RECIPROCAL_CONDITION:
            raise EstimateError(
                f"the kriging system of this {kernel.model} model with nugget "
                f"{kernel.nugget:g} has no stable solution",
                todo="give a larger nugget (a hundredth of the psill) or a shorter range",
            )
        solved, _ = lapack.dpotrs(factor, np.column_stack([np.ones(len(xy)), values]), lower=1)
        u = solved[:, 0]
        ones = float(u.sum())
        beta = float(solved[:, 1].sum()) / ones
        # solved again for the difference: a large mean would leave its rounding errors in alpha
        alpha, _ = lapack.dpotrs(factor, values - beta, lower=1)
        inverse, _ = lapack.dtrtri(factor, lower=1, overwrite_c=1)
    return System(
        xy=xy,
        values=values,
        error_variance=error_variance,
        kernel=kernel,
        inverse_factor=np.ascontiguousarray(inverse),
        pair=np.stack([alpha.reshape(-1), u]),
        beta=beta,
        ones=ones,
        at_reading=at_reading,
    )


def estimate_points(
    system: System,
    targets: Floats,
    *,
    block_bytes: int,
    progress: Progress | None = None,
) -> tuple[Floats, Floats]:
    """Estimate at any places (in ranges), a block of at most ``block_bytes`` a thread at a time.

    Returns
    -------
    mean, variance : arrays of shape (m,)
    """
    count = len(targets)
    mean, variance = np.empty(count), np.empty(count)
    size = max(1, block_bytes // (8 * (len(system.xy) + 1)))
    jobs = [slice(start, min(start + size, count)) for start in range(0, count, size)]

    def work(job: slice) -> None:
        mean[job], variance[job] = _estimate_block(system, targets[job])

    work_through(work, jobs, [job.stop - job.start for job in jobs], progress)
    return mean, variance


def _estimate_block(system: System, targets: Floats) -> tuple[Floats, Floats]:
    covariance, reading, target = _covariance_with(system, targets)
    dual = system.pair @ covariance
    explained = squared_length(system.inverse_factor, covariance)
    mean = system.beta + dual[0]
    variance = np.maximum(system.sill - explained + (1.0 - dual[1]) ** 2 / system.ones, 0.0)
    known = system.error_variance[reading] == 0
    mean[target[known]], variance[target[known]] = system.values[reading[known]], 0.0
    return mean, variance


def lagrange_multipliers(system: System, targets: Floats, *, block_bytes: int) -> Floats:
    r"""Return the Lagrange multiplier of ordinary kriging at places (in ranges), shape (m,).

    It is that of the system of semivariances, :math:`\sum_j w_j \gamma_{ij} + m = \gamma_{i0}`:
    m = (1 - u' c(x)) / s in the words of :class:`System`. At a reading without error it is 0.
    """
    multiplier = np.empty(len(targets))
    size = max(1, block_bytes // (8 * (len(system.xy) + 1)))
    for start in range(0, len(targets), size):
        block = slice(start, start + size)
        covariance, reading, target = _covariance_with(system, targets[block])
        part = (1.0 - system.pair[1] @ covariance) / system.ones
        part[target[system.error_variance[reading] == 0]] = 0.0
        multiplier[block] = part
    return multiplier


def _covariance_with(
    system: System, targets: Floats
) -> tuple[Floats, NDArray[np.intp], NDArray[np.intp]]:
    """Return the covariance of the readings with targets, and which are at which."""
    covariance = cdist(system.xy, targets)
    reading, target = _at_readings(system, covariance)
    system.kernel.at(covariance)
    # the nugget is a feature of the field: at a reading's own place it is shared with the reading
    covariance[reading, target] = system.sill
    return covariance, reading, target


def _at_readings(system: System, distance: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    if system.at_reading < 0 or distance.size == 0 or distance.min() > system.at_reading:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    reading, target = np.nonzero(distance <= system.at_reading)
    return reading, target


def triangular_product(lower: Floats, right: Floats) -> Floats:
    """Return ``lower @ right``, leaving most of the upper triangle of zeros out."""
    product = np.empty((len(lower), right.shape[1]))
    for first in range(0, len(lower), PANEL_ROWS):
        last = min(first + PANEL_ROWS, len(lower))
        np.matmul(lower[first:last, :last], right[:last], out=product[first:last])
    return product


def squared_length(lower: Floats, right: Floats) -> Floats:
    """Return the squared length of every column of ``lower @ right``, shape (columns,)."""
    total = np.zeros(right.shape[1])
    for first in range(0, len(lower), PANEL_ROWS):
        last = min(first + PANEL_ROWS, len(lower))
        panel = lower[first:last, :last] @ right[:last]
        total += np.einsum("ij,ij->j", panel, panel)
    return total
