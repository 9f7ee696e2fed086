"""Control points: places known in two frames, and the conformal fit that takes one to the other."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import PlanError

MIRRORED_BETTER: Final = 5.0
"""A fit that is so many times worse than the mirrored one is of points that were mirrored. Ours."""

STANDS_OUT: Final = 3.0
"""A point stands out where the others agree so many times better without it. Ours, no source."""


@dataclass(frozen=True)
class ConformalFit:
    """A turn, a scale and a shift; no shear, and nothing mirrored.

    Attributes
    ----------
    scale : float
        Units of the target for one of the source.
    turn_deg : float
        Counter-clockwise, from the axes of the source to those of the target.
    source_centre, target_centre : (x, y)
        The means of the control points; each is taken to the other.
    residuals : array of shape (n, 2)
        Where each point was said to be, less where the fit has it (units of the target).
    mirrored_rmse : float
        Root mean square residual of the best fit with the source mirrored.
    """

    scale: float
    turn_deg: float
    source_centre: tuple[float, float]
    target_centre: tuple[float, float]
    residuals: NDArray[np.float64] = field(repr=False)
    mirrored_rmse: float

    @property
    def rmse(self) -> float:
        """Root of the mean squared length of the residuals: sqrt(sum (dx² + dy²) / n)."""
        return float(math.sqrt(np.mean(np.sum(self.residuals**2, axis=1))))

    @property
    def freedom(self) -> int:
        """Degrees of freedom: two numbers a point, less four parameters."""
        return 2 * len(self.residuals) - 4

    def forward(self, source: ArrayLike) -> NDArray[np.float64]:
        """Return places of the target for places of the source, shape (n, 2)."""
        w = self._factor
        moved = w * _complex(np.asarray(source, float) - self.source_centre)
        return _pairs(moved) + self.target_centre

    def inverse(self, target: ArrayLike) -> NDArray[np.float64]:
        """Return places of the source for places of the target, shape (n, 2)."""
        moved = _complex(np.asarray(target, float) - self.target_centre) / self._factor
        return _pairs(moved) + self.source_centre

    @property
    def _factor(self) -> complex:
        turn = math.radians(self.turn_deg)
        return self.scale * complex(math.cos(turn), math.sin(turn))


def fit_conformal(source: ArrayLike, target: ArrayLike, *, where: str = "") -> ConformalFit:
    """Fit a turn, a scale and a shift by least squares; exact for two points.

    With both sets centred on their means and written as complex numbers z and t, the sum of
    |t - w z|² is least at w = sum(conj(z) t) / sum(|z|²): the two-dimensional conformal coordinate
    transformation of surveying (Ghilani and Wolf, Adjustment Computations, chapter 18; from
    memory), solved in closed form. Centring keeps its precision far from the origin.

    Parameters
    ----------
    source, target : array of shape (n, 2)
        The same points in both frames, n of them, two or more.
    where : str
        Named in complaints.

    Raises
    ------
    PlanError
        If there are fewer than two points, a number is not finite, or all points are one.

    Examples
    --------
    >>> fit = fit_conformal([(0, 0), (1, 0)], [(5, 5), (5, 7)])
    >>> round(fit.scale, 9), round(fit.turn_deg, 9), round(fit.rmse, 9)
    (2.0, 90.0, 0.0)
    """
    here, there = np.asarray(source, float), np.asarray(target, float)
    if here.ndim != 2 or here.shape[1] != 2 or here.shape != there.shape or len(here) < 2:
        raise PlanError("two control points are needed", where=where, todo="give another point")
    if not (np.isfinite(here).all() and np.isfinite(there).all()):
        raise PlanError("a control point is no place", where=where, todo="write finite numbers")
    centre, onto = here.mean(axis=0), there.mean(axis=0)
    z, t = _complex(here - centre), _complex(there - onto)
    spread, reach = float(np.sum(np.abs(z) ** 2)), float(np.sum(np.abs(t) ** 2))
    # what rounding alone leaves of points that are one
    least = (1e-12 * max(1.0, float(np.abs(here).max()))) ** 2
    furthest = (1e-12 * max(1.0, float(np.abs(there).max()))) ** 2
    if not (spread > least and reach > furthest):
        raise PlanError(
            "the control points are one place", where=where, todo="choose points far apart"
        )
    w = complex(np.sum(np.conj(z) * t)) / spread
    mirrored = complex(np.sum(z * t)) / spread
    return ConformalFit(
        abs(w),
        math.degrees(math.atan2(w.imag, w.real)),
        (float(centre[0]), float(centre[1])),
        (float(onto[0]), float(onto[1])),
        _pairs(t - w * z),
        float(math.sqrt(np.mean(np.abs(t - mirrored * np.conj(z)) ** 2))),
    )


def looks_mirrored(fit: ConformalFit) -> bool:
    """Tell whether the points of a fit fit far better with one frame mirrored.

    Two points always fit both ways: nothing is told of them.
    """
    return fit.freedom > 0 and fit.rmse > MIRRORED_BETTER * fit.mirrored_rmse + 1e-9


def point_that_stands_out(source: ArrayLike, target: ArrayLike, *, least: float) -> int | None:
    """Return which point the others contradict; None where there is none.

    Each point is left out in turn: of four points or more, the others then agree about three
    times better if it was that one. Three points contradict each other alike.

    Parameters
    ----------
    source, target : array of shape (n, 2)
    least : float
        A root mean square residual below this (units of the target) is nobody's mistake.
    """
    here, there = np.asarray(source, float), np.asarray(target, float)
    whole = fit_conformal(here, there)
    if len(here) < 4 or whole.rmse <= least:
        return None
    without = [_rmse_without(here, there, n) for n in range(len(here))]
    best = int(np.argmin(without))
    others = sorted(without)[1]
    clear = without[best] * STANDS_OUT < whole.rmse and without[best] * STANDS_OUT < others
    return best if clear else None


def _rmse_without(here: NDArray[np.float64], there: NDArray[np.float64], n: int) -> float:
    try:
        return fit_conformal(np.delete(here, n, 0), np.delete(there, n, 0)).rmse
    except PlanError:  # the others are one place
        return math.inf


def _complex(pairs: NDArray[np.float64]) -> NDArray[np.complex128]:
    made: NDArray[np.complex128] = pairs[:, 0] + 1j * pairs[:, 1]
    return made


def _pairs(numbers: NDArray[np.complex128]) -> NDArray[np.float64]:
    return np.column_stack([numbers.real, numbers.imag])
