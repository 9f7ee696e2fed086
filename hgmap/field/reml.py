"""Restricted maximum likelihood for a covariance with a nugget and an unknown constant mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.spatial.distance import cdist

from hgmap.errors import EstimateError
from hgmap.field.models import Model, correlation

Floats = NDArray[np.float64]

LARGEST_NUGGET_SHARE: Final = 0.95
RANGES_TRIED: Final = 9
SHARES_TRIED: Final = (0.0, 0.02, 0.1, 0.3, 0.6, 0.9)


@dataclass(frozen=True)
class RemlFit:
    """The best parameters within bounds; ``at_bound`` names those that ended at one."""

    nugget: float
    psill: float
    range_m: float
    log_likelihood: float
    at_bound: tuple[str, ...]


def restricted_log_likelihood(
    distance: Floats, values: Floats, *, model: Model, range_m: float, nugget_share: float
) -> tuple[float, float]:
    """Return the restricted log-likelihood, sill profiled out, and that sill.

    With R = (1 - s) rho(h) + s I, s the nugget's share of the sill, and n readings:

    -2 l = (n - 1) (log(2 pi sill) + 1) + log |R| + log(1' R⁻¹ 1),
    sill = (z - m)' R⁻¹ (z - m) / (n - 1),  m the generalised least-squares mean

    (Patterson and Thompson 1971, Biometrika 58; Stein 1999, Interpolation of Spatial Data,
    section 6.4).
    """
    matrix = (1.0 - nugget_share) * correlation(distance, model=model, range_=range_m)
    matrix[np.diag_indices(len(values))] = 1.0 + 1e-12
    try:
        factor = cho_factor(matrix, lower=True, overwrite_a=True)
    except np.linalg.LinAlgError:
        return -np.inf, np.nan
    solved = cho_solve(factor, np.column_stack([np.ones(len(values)), values]))
    weight, mean_weighted = solved[:, 0].sum(), solved[:, 1].sum()
    freedom = len(values) - 1
    sill = float((values @ solved[:, 1] - mean_weighted**2 / weight) / freedom)
    if not sill > 0:
        return -np.inf, np.nan
    log_determinant = 2.0 * float(np.log(np.diag(factor[0])).sum())
    twice = freedom * (np.log(2.0 * np.pi * sill) + 1.0) + log_determinant + np.log(weight)
    return -0.5 * float(twice), sill


def fit_reml(
    xy: Floats, values: Floats, *, model: Model, range_bounds_m: tuple[float, float]
) -> RemlFit:
    """Maximise the restricted likelihood over range and nugget share: a grid, then its best cell.

    Raises
    ------
    EstimateError
        If the readings do not differ, or no parameter pair gives a likelihood.
    """
    if np.ptp(values) <= 1e-12 * max(1.0, float(np.abs(values).max())):
        raise EstimateError("the readings do not differ")
    distance = cdist(xy, xy)
    low, high = np.log(range_bounds_m[0]), np.log(range_bounds_m[1])

    def cost(parameters: Floats) -> float:
        likelihood, _ = restricted_log_likelihood(
            distance,
            values,
            model=model,
            range_m=float(np.exp(parameters[0])),
            nugget_share=float(parameters[1]),
        )
        return -likelihood if np.isfinite(likelihood) else 1e300

    grid = [
        np.array([log_range, share])
        for log_range in np.linspace(low, high, RANGES_TRIED)
        for share in SHARES_TRIED
    ]
    start = min(grid, key=cost)
    found = minimize(
        cost,
        start,
        method="Nelder-Mead",
        bounds=[(low, high), (0.0, LARGEST_NUGGET_SHARE)],
        options={"xatol": 1e-3, "fatol": 1e-4, "maxiter": 120},
    )
    log_range, share = (float(value) for value in found.x)
    likelihood, sill = restricted_log_likelihood(
        distance, values, model=model, range_m=float(np.exp(log_range)), nugget_share=share
    )
    if not np.isfinite(likelihood):
        raise EstimateError("no range and nugget fit the readings")
    at_bound = tuple(
        name
        for name, there in (
            ("range at its lower bound", log_range - low < 1e-2),
            ("range at its upper bound", high - log_range < 1e-2),
            ("nugget at its upper bound", share > LARGEST_NUGGET_SHARE - 1e-2),
        )
        if there
    )
    return RemlFit(share * sill, (1.0 - share) * sill, float(np.exp(log_range)), likelihood,
                   at_bound)  # fmt: skip
