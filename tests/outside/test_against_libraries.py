"""The same estimates by independent libraries and by plain linear algebra, to 1e-8."""

from __future__ import annotations

from typing import Any

import gstools  # type: ignore[import-untyped]
import numpy as np
import pytest
from numpy.typing import NDArray
from pykrige.ok import OrdinaryKriging
from scipy.spatial.distance import cdist
from sklearn.neighbors import KNeighborsRegressor  # type: ignore[import-untyped]

from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.field.models import MODELS, Model
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]

NUGGET, PSILL, RANGE = 0.2, 0.9, 11.0


@pytest.fixture(scope="module")
def survey() -> tuple[Floats, Floats, Floats]:
    """40 invented readings on a floor of 30 x 20 m, and 60 places between them."""
    random = np.random.default_rng(20260302)
    xy = random.uniform((0, 0), (30, 20), (40, 2))
    values = np.sin(xy[:, 0] / 5) + 0.1 * xy[:, 1] + random.normal(0, 0.3, 40)
    return xy, values, random.uniform((-2, -2), (32, 22), (60, 2))


def gstools_model(model: Model) -> Any:
    """As the docstring of ``krige`` translates the three models."""
    return {
        "spherical": lambda: gstools.Spherical(2, var=PSILL, len_scale=RANGE, nugget=NUGGET),
        "exponential": lambda: gstools.Exponential(
            2, var=PSILL, len_scale=RANGE / 3, nugget=NUGGET
        ),
        "gaussian": lambda: gstools.Gaussian(
            2, var=PSILL, len_scale=RANGE / 3**0.5, rescale=1, nugget=NUGGET
        ),
    }[model]()


@pytest.mark.parametrize("model", MODELS)
def test_gstools_agrees(survey: tuple[Floats, Floats, Floats], model: Model) -> None:
    xy, values, targets = survey
    other = gstools.krige.Ordinary(gstools_model(model), xy.T, values, exact=False)
    their_mean, their_variance = other(targets.T)
    mean, variance = krige(
        xy, values, targets, model=model, nugget=NUGGET, psill=PSILL, range_=RANGE, exact=False
    )
    assert mean == pytest.approx(their_mean, abs=1e-8)
    assert variance == pytest.approx(their_variance, abs=1e-8)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("exact", [True, False])
def test_pykrige_called_as_the_docstring_says_agrees(
    survey: tuple[Floats, Floats, Floats], model: Model, exact: bool
) -> None:
    xy, values, targets = survey
    targets = np.vstack([targets, xy[:5]])
    range_ = RANGE * 7 / (4 * 3**0.5) if model == "gaussian" else RANGE
    other = OrdinaryKriging(
        *xy.T,
        values,
        variogram_model=model,
        variogram_parameters={"psill": PSILL, "range": range_, "nugget": NUGGET},
        exact_values=exact,
    )
    their_mean, their_variance = other.execute("points", *targets.T, backend="loop")
    mean, variance = krige(
        xy, values, targets, model=model, nugget=NUGGET, psill=PSILL, range_=RANGE, exact=exact
    )
    assert mean == pytest.approx(np.asarray(their_mean), abs=1e-8)
    assert variance == pytest.approx(np.asarray(their_variance), abs=1e-8)


@pytest.mark.parametrize("model", MODELS)
def test_plain_linear_algebra_agrees(survey: tuple[Floats, Floats, Floats], model: Model) -> None:
    # Cressie (1993), Statistics for Spatial Data, section 3.2: the system of semivariances
    xy, values, targets = survey
    n = len(xy)
    variogram = Variogram(model, NUGGET, PSILL, RANGE)
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = variogram.gamma(cdist(xy, xy))
    system[n, n] = 0
    right = np.vstack([variogram.gamma(cdist(xy, targets)), np.ones(len(targets))])
    solution = np.linalg.solve(system, right)
    mean, variance = krige(
        xy, values, targets, model=model, nugget=NUGGET, psill=PSILL, range_=RANGE
    )
    assert mean == pytest.approx(values @ solution[:n], abs=1e-8)
    assert variance == pytest.approx((solution * right).sum(axis=0), abs=1e-8)


@pytest.mark.parametrize("power", [0.5, 1.0, 2.0, 3.5])
def test_weighted_neighbours_of_scikit_learn_agree(
    survey: tuple[Floats, Floats, Floats], power: float
) -> None:
    xy, values, targets = survey
    other = KNeighborsRegressor(len(xy), weights=lambda d: d**-power, algorithm="brute")
    other.fit(xy, values)
    assert idw(xy, values, targets, power=power) == pytest.approx(other.predict(targets), abs=1e-8)
