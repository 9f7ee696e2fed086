"""Variogram models: one function of distance each; everything else follows from it.

The range is the practical range of every model: the correlation there is exp(-3) = 0.0498, but
for the spherical one, which reaches zero at it. So the Matern model of smoothness 0.5 is the
exponential one, and with growing smoothness it goes over into the Gaussian one.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special
from scipy.optimize import brentq

from hgmap.errors import EstimateError

Model = Literal["spherical", "exponential", "gaussian", "matern"]

MODELS: Final[tuple[Model, ...]] = ("spherical", "exponential", "gaussian")
"""The models that a range alone describes; ``"matern"`` needs a smoothness as well."""

USUAL_SMOOTHNESS: Final = 1.0
"""Smoothness of a Matern model where none is given: that of a field spreading in the plane
(Whittle 1954, Biometrika 41)."""

SMOOTHNESS_BOUNDS: Final = (0.1, 20.0)
"""Below, the model is a nugget; above, it cannot be told from the Gaussian one."""


def correlation(
    h: NDArray[np.float64], *, model: Model, range_: float, smoothness: float = USUAL_SMOOTHNESS
) -> NDArray[np.float64]:
    """Return the correlation at distances ``h`` (same unit as ``range_``; shape kept).

    ``smoothness`` is that of the Matern model; the others take no notice of it.

    Examples
    --------
    >>> h = np.array([0.0, 4.0])
    >>> correlation(h, model="matern", range_=4.0, smoothness=1.5).round(4).tolist()
    [1.0, 0.0498]
    """
    u = np.abs(np.asarray(h, dtype=np.float64)) / range_
    shape = u.shape
    flat = np.atleast_1d(u)
    correlate(flat, model=model, smoothness=smoothness)
    return flat.reshape(shape)


def correlate(u: NDArray[np.float64], *, model: Model, smoothness: float) -> None:
    """Turn distances over the range into correlations, in place: the arrays are large."""
    if model == "spherical":
        np.minimum(u, 1.0, out=u)
        half_cube = u * u
        half_cube *= 0.5
        half_cube -= 1.5
        u *= half_cube
        u += 1.0
    elif model == "exponential":
        u *= -3.0
        np.exp(u, out=u)
    elif model == "gaussian":
        np.multiply(u, u, out=u)
        u *= -3.0
        np.exp(u, out=u)
    elif model == "matern":
        u *= matern_scale(smoothness)
        np.minimum(u, 700.0, out=u)  # exp(-700) is nothing, and an infinity would make it NaN
        _matern(u, smoothness)
    else:
        raise unknown_model(model)


@lru_cache(maxsize=64)
def matern_scale(smoothness: float) -> float:
    r"""Return the argument s of the Matern function where it has fallen to exp(-3).

    So :math:`\kappa = s / range`, and what is called the range where
    :math:`\kappa = \sqrt{8 \nu} / range` (Lindgren, Rue and Lindstrom 2011) is
    :math:`\sqrt{8 \nu} / s` times ours.

    Examples
    --------
    >>> matern_scale(0.5)
    3.0
    >>> round(matern_scale(1.5), 3)
    4.749
    """
    check_smoothness(smoothness)
    if smoothness == 0.5:
        return 3.0

    def above(s: float) -> float:
        value = np.array([s])
        _matern(value, smoothness)
        return float(value[0] - np.exp(-3.0))

    return float(brentq(above, 1e-3, 60.0, xtol=1e-14, rtol=1e-14))


def check_smoothness(smoothness: float) -> None:
    """Refuse a smoothness that no Matern model has, or that would change nothing."""
    low, high = SMOOTHNESS_BOUNDS
    if not low <= smoothness <= high:
        raise EstimateError(
            f"smoothness is {smoothness}", todo=f"give a number from {low:g} to {high:g}"
        )


def unknown_model(model: str) -> EstimateError:
    """Return the complaint about a model that does not exist."""
    return EstimateError(
        f"model {model!r} is not known", todo=f"use one of {', '.join(MODELS)}, matern"
    )


def _matern(s: NDArray[np.float64], smoothness: float) -> None:
    r"""Turn s into :math:`2^{1-\nu} s^\nu K_\nu(s) / \Gamma(\nu)`, in place.

    Rasmussen and Williams (2006), Gaussian Processes for Machine Learning, eq. 4.14 to 4.17;
    closed forms where the smoothness has one.
    """
    if smoothness in (0.5, 1.5, 2.5):
        decay = np.exp(-s)
        if smoothness == 0.5:
            s[...] = 1.0
        elif smoothness == 1.5:
            s += 1.0
        else:
            s *= 1.0 + s / 3.0
            s += 1.0
        s *= decay
        return
    # at the smallest arguments K overflows although the product has long been 1
    near = s < (1e-8 if smoothness > 1.5 else 1e-100)
    s[near] = 1.0
    bessel = special.k1(s) if smoothness == 1.0 else special.kv(smoothness, s)
    if smoothness != 1.0:
        np.power(s, smoothness, out=s)
        s *= 2.0 ** (1.0 - smoothness) / special.gamma(smoothness)
    s *= bessel
    s[near] = 1.0
