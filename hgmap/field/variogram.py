"""Variogram: the empirical one, a bounded fit, and what is used where none can be fitted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial.distance import cdist, pdist

from hgmap.errors import EstimateError
from hgmap.field.models import Model, correlation
from hgmap.field.reml import fit_reml

Floats = NDArray[np.float64]

FEWEST_TO_FIT: Final = 8
"""With fewer places than this nothing is fitted and the default parameters are used."""

MOST_TO_PAIR: Final = 3000
"""The empirical variogram of more places than this is taken over an even sample of them."""

MOST_FOR_LIKELIHOOD: Final = 400
AT_LONGEST: Final = "range at its upper bound"

SMALLEST_LOG_SD: Final = float(np.log(2.0))
"""Default parameters never claim less spread than a geometric sd of 2 (common practice, no
source): a few readings that happen to agree do not prove an even room."""


@dataclass(frozen=True)
class Variogram:
    """A variogram model and where its parameters come from.

    Attributes
    ----------
    nugget, psill : float
        Nugget and partial sill (working-scale unit squared).
    range_m : float
        Practical range (m).
    origin : {"fitted", "default", "given"}
        Where the parameters come from.
    note : str
        Why the default was used, or which bound the fit ended at.
    """

    model: Model
    nugget: float
    psill: float
    range_m: float
    origin: Literal["fitted", "default", "given"] = "given"
    note: str = ""

    @property
    def sill(self) -> float:
        """Nugget plus partial sill."""
        return self.nugget + self.psill

    def covariance(self, a: Floats, b: Floats) -> Floats:
        """Return the covariance of the noise-free field between points, shape (len(a), len(b))."""
        return self.psill * correlation(cdist(a, b), model=self.model, range_=self.range_m)

    def gamma(self, h: Floats) -> Floats:
        """Return the semivariance at distances ``h`` (m); zero at distance zero."""
        rho = correlation(h, model=self.model, range_=self.range_m)
        return np.where(h > 0, self.nugget + self.psill * (1.0 - rho), 0.0)


@dataclass(frozen=True)
class AveragedFit:
    """What is left of many candidates, weighed: no single variogram made the map.

    Attributes
    ----------
    nugget, psill : float
        Means over the candidates, by weight (working-scale unit squared).
    range_m : float
        Geometric mean over the candidates, by weight (m): practical range along straight lines;
        through the doors the correlation there is 0.14.
    candidates : int
        How many pairs of range and nugget carry weight.
    model : str
        Correlation model, or "through doors".
    origin, note
        As for :class:`Variogram`.
    """

    nugget: float
    psill: float
    range_m: float
    candidates: int
    model: Model | Literal["through doors"]
    origin: Literal["fitted", "default", "given"] = "fitted"
    note: str = ""


@dataclass(frozen=True)
class EmpiricalVariogram:
    """Mean distance (m), semivariance and number of pairs per bin; empty bins left out."""

    distance_m: Floats
    gamma: Floats
    pairs: NDArray[np.int64]


def empirical_variogram(
    xy: Floats, values: Floats, *, bins: int = 15, cutoff_m: float | None = None
) -> EmpiricalVariogram:
    """Average squared differences of pairs by distance (Matheron's estimator).

    Parameters
    ----------
    xy : array of shape (n, 2), m
    values : array of shape (n,)
    bins : int
        Bins of equal width; a bin holds its upper edge, not its lower one.
    cutoff_m : float, optional
        Largest distance; a third of the diagonal of the bounding box where not given.

    References
    ----------
    Matheron (1962); Cressie (1993), Statistics for Spatial Data, eq. 2.4.2.
    """
    if len(xy) > MOST_TO_PAIR:
        keep = np.linspace(0, len(xy) - 1, MOST_TO_PAIR).astype(int)
        xy, values = xy[keep], values[keep]
    if cutoff_m is None:
        cutoff_m = float(np.hypot(*np.ptp(xy, axis=0))) / 3.0
    h = pdist(xy)
    squared = pdist(values[:, None], "sqeuclidean")
    use = (h > 0) & (h <= cutoff_m)
    if not use.any():
        return EmpiricalVariogram(np.empty(0), np.empty(0), np.empty(0, dtype=np.int64))
    h, squared = h[use], squared[use]
    place = np.minimum(np.ceil(h / (cutoff_m / bins)).astype(int) - 1, bins - 1)
    count = np.bincount(place, minlength=bins)
    full = count > 0
    distance = np.bincount(place, weights=h, minlength=bins)[full] / count[full]
    gamma = np.bincount(place, weights=squared, minlength=bins)[full] / (2.0 * count[full])
    return EmpiricalVariogram(distance, gamma, count[full])


def fit_variogram(
    empirical: EmpiricalVariogram, *, model: Model, range_bounds_m: tuple[float, float]
) -> Variogram:
    """Fit a model by weighted least squares, weights pairs / distance², within bounds.

    The start is tried at several ranges, and the best end is kept. The fit is made in scaled
    variables, so that a site in kilometres fits as well as one in metres. ``note`` names the
    bounds that the fit ended at.

    Raises
    ------
    EstimateError
        If there are fewer than three bins.
    """
    if len(empirical.gamma) < 3:
        raise EstimateError("fewer than three distance bins hold pairs")
    length, height = float(empirical.distance_m.max()), float(empirical.gamma.max())
    if height <= 0:
        raise EstimateError("the readings do not differ")
    h, gamma = empirical.distance_m / length, empirical.gamma / height
    weight = np.sqrt(empirical.pairs / h**2)
    low, high = range_bounds_m[0] / length, range_bounds_m[1] / length

    def residuals(parameters: Floats) -> Floats:
        nugget, psill, range_ = parameters
        rho = correlation(h, model=model, range_=float(range_))
        return np.asarray(weight * (nugget + psill * (1.0 - rho) - gamma))

    lower, upper = np.array([0.0, 0.0, low]), np.array([2.0, 5.0, high])
    best = min(
        (
            least_squares(
                residuals, [0.2, 0.7, start], bounds=(lower, upper), xtol=1e-12, ftol=1e-12,
                gtol=1e-12, max_nfev=400,
            )
            for start in np.geomspace(low * 1.5, high / 1.5, 5)
        ),
        key=lambda result: result.cost,
    )  # fmt: skip
    nugget, psill, range_ = (float(value) for value in best.x)
    bounds = [
        f"{name} at its {side} bound"
        for name, value, edge, side in (
            ("psill", psill, 0.0, "lower"),
            ("psill", psill, 5.0, "upper"),
            ("range", range_, low, "lower"),
            ("range", range_, high, "upper"),
        )
        if abs(value - edge) <= 1e-3 * max(edge, 1e-3 if name == "psill" else edge)
    ]
    return Variogram(
        model, nugget * height, psill * height, range_ * length, "fitted", "; ".join(bounds)
    )


def default_variogram(xy: Floats, values: Floats, *, log: bool, note: str) -> Variogram:
    """Return stated parameters for readings too few, or too odd, to fit.

    Sill: the sample variance, but on the log scale never less than that of a geometric sd of 2, and
    on the linear scale never less than the square of the mean;
    nugget: a tenth of it; practical range: a third of the diagonal of the readings' bounding box.
    Common practice, no source.
    """
    sill = float(np.var(values, ddof=1)) if len(values) > 1 else 0.0
    if log:
        sill = max(sill, SMALLEST_LOG_SD**2)
    else:
        sill = max(sill, float(np.abs(values).mean()) ** 2, 1e-12)
    diagonal = float(np.hypot(*np.ptp(xy, axis=0)))
    return Variogram("exponential", 0.1 * sill, 0.9 * sill, max(diagonal / 3.0, 1e-6), "default",
                     note)  # fmt: skip


def choose_variogram(
    xy: Floats, values: Floats, *, log: bool, model: Model = "exponential"
) -> Variogram:
    """Fit a variogram, or say why not and return the default one.

    Up to 400 places by restricted maximum likelihood, above that by weighted least squares on the
    empirical variogram. The range lies between a hundredth of the diagonal of the readings'
    bounding box and the whole of it. A range that ends at the upper bound stays there, and
    ``note`` says so: the readings rise or fall over the whole floor, and only the slope of the
    variogram is known. Fewer than eight places, readings that do not differ, or any other bound:
    default parameters, with the reason in ``note``.
    """
    if len(values) < FEWEST_TO_FIT:
        return default_variogram(
            xy, values, log=log,
            note=f"{len(values)} places are fewer than {FEWEST_TO_FIT}: nothing fitted",
        )  # fmt: skip
    diagonal = float(np.hypot(*np.ptp(xy, axis=0)))
    bounds = (0.01 * diagonal, diagonal)
    try:
        fitted = (
            _by_likelihood(xy, values, model, bounds)
            if len(values) <= MOST_FOR_LIKELIHOOD
            else fit_variogram(
                empirical_variogram(xy, values, cutoff_m=diagonal / 2.0),
                model=model,
                range_bounds_m=bounds,
            )
        )
    except EstimateError as error:
        return default_variogram(xy, values, log=log, note=f"not fitted: {error}")
    if fitted.note == AT_LONGEST:
        return replace(fitted, note=f"{AT_LONGEST}: a trend over the whole floor")
    if fitted.note:
        return default_variogram(xy, values, log=log, note=f"fit not used: {fitted.note}")
    return fitted


def _by_likelihood(
    xy: Floats, values: Floats, model: Model, bounds: tuple[float, float]
) -> Variogram:
    fit = fit_reml(xy, values, model=model, range_bounds_m=bounds)
    note = "; ".join(fit.at_bound)
    return Variogram(model, fit.nugget, fit.psill, fit.range_m, "fitted", note)
