"""How well an estimate predicts the readings it was made from, each left out in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.spatial.distance import cdist
from scipy.special import ndtri

from hgmap.errors import EstimateError
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]

ROWS_AT_ONCE = 1000


@dataclass(frozen=True)
class Scores:
    """Leave-one-out scores on the working scale.

    Attributes
    ----------
    n : int
        Places left out in turn.
    mean_error, rmse : float
        Mean and root mean square of observed minus predicted.
    mean_squared_standardised : float or None
        Mean of (error / sd)², near 1 for an honest sd; None where the method has no sd.
    coverage_95 : float or None
        Share of readings inside their 95 % interval.
    residuals : array of shape (n,)
        Observed minus predicted.
    sd : array of shape (n,) or None
        That each prediction claims, the reading's own error in it; None where the method has none.
    which : array of shape (n,) or None
        Positions of the scored places among all; empty where none is predicted by others.
    """

    n: int
    mean_error: float
    rmse: float
    mean_squared_standardised: float | None
    coverage_95: float | None
    residuals: Floats
    sd: Floats | None = None
    which: NDArray[np.int64] | None = None


def leave_one_out_kriging(
    xy: Floats, values: Floats, variogram: Variogram, error_variance: Floats | None = None
) -> Scores:
    """Leave each reading out of ordinary kriging, without solving n systems.

    With P = C⁻¹ - C⁻¹ 1 (1' C⁻¹ 1)⁻¹ 1' C⁻¹ the error of reading i is (P z)_i / P_ii and its
    variance 1 / P_ii (Dubrule 1983, Mathematical Geology 15, written for covariances).
    ``error_variance`` (n,) is that of each reading's own error, beside the nugget.
    """
    covariance = variogram.covariance(xy, xy) + variogram.nugget * np.eye(len(xy))
    if error_variance is not None:
        covariance[np.diag_indices(len(xy))] += error_variance
    try:
        inverse = cho_solve(cho_factor(covariance, lower=True), np.eye(len(xy)))
    except np.linalg.LinAlgError:
        raise EstimateError(
            "the covariance of the readings is singular", todo="give a nugget above 0"
        ) from None
    column = inverse.sum(axis=1)
    projected = inverse - np.outer(column, column) / column.sum()
    diagonal = np.diag(projected)
    return scores_of(projected @ values / diagonal, np.sqrt(1.0 / diagonal))


def leave_one_out_idw(
    xy: Floats, values: Floats, *, power: float, trust: Floats | None = None
) -> Scores:
    """Leave each reading out of inverse distance weighting.

    ``trust`` (n,) is what each reading's weight is multiplied by.
    """
    predicted = np.empty(len(values))
    for start in range(0, len(values), ROWS_AT_ONCE):
        distance = cdist(xy[start : start + ROWS_AT_ONCE], xy)
        row = np.arange(len(distance))
        distance[row, start + row] = np.inf
        with np.errstate(invalid="ignore"):
            weight = (distance.min(axis=1, keepdims=True) / distance) ** power
        if trust is not None:
            weight = weight * trust
        weight[np.isnan(weight)] = 1.0  # two rooms have a reading at one place, the line between
        predicted[start : start + ROWS_AT_ONCE] = weight @ values / weight.sum(axis=1)
    return scores_of(values - predicted, None)


def scores_of(residuals: Floats, sd: Floats | None) -> Scores:
    """Score leave-one-out errors (observed minus predicted) against their sd."""
    known = np.isfinite(residuals)  # a reading that no other one predicts has no score
    residuals, sd = residuals[known], None if sd is None else sd[known]
    if not len(residuals):
        residuals, sd = np.zeros(1), None
    standardised = None if sd is None else residuals / sd
    limit = float(ndtri(0.975))
    return Scores(
        n=len(residuals),
        mean_error=float(residuals.mean()),
        rmse=float(np.sqrt(np.mean(residuals**2))),
        mean_squared_standardised=(
            None if standardised is None else float(np.mean(standardised**2))
        ),
        coverage_95=(
            None if standardised is None else float(np.mean(np.abs(standardised) <= limit))
        ),
        residuals=residuals,
        sd=sd,
        which=np.flatnonzero(known),
    )
