"""Leave-one-out scores equal leaving each reading out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.field.models import MODELS, Model
from hgmap.field.validate import leave_one_out_idw, leave_one_out_kriging
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]


@st.composite
def surveys(draw: st.DrawFn) -> tuple[Floats, Floats]:
    steps = st.integers(0, 40)
    places = draw(st.lists(st.tuples(steps, steps), min_size=2, max_size=10, unique=True))
    values = draw(st.lists(st.floats(-9, 9), min_size=len(places), max_size=len(places)))
    return np.array(places) / 2, np.array(values)


@given(surveys(), st.sampled_from(MODELS), st.floats(0.05, 2), st.floats(0.1, 3), st.floats(1, 30))
def test_kriging_scores_equal_brute_force(
    survey: tuple[Floats, Floats], model: Model, nugget: float, psill: float, range_m: float
) -> None:
    xy, values = survey
    scores = leave_one_out_kriging(xy, values, Variogram(model, nugget, psill, range_m))
    residuals, variances = [], []
    for row in range(len(xy)):
        others = np.arange(len(xy)) != row
        mean, variance = krige(
            xy[others], values[others], xy[row : row + 1],
            model=model, nugget=nugget, psill=psill, range_=range_m,
        )  # fmt: skip
        residuals.append(values[row] - mean[0])
        variances.append(variance[0])
    error, variance = np.array(residuals), np.array(variances)
    assert scores.n == len(xy)
    assert scores.residuals == pytest.approx(error, abs=1e-7)
    assert scores.mean_error == pytest.approx(error.mean(), abs=1e-7)
    assert scores.rmse == pytest.approx(np.sqrt((error**2).mean()), abs=1e-7)
    assert scores.mean_squared_standardised == pytest.approx(
        (error**2 / variance).mean(), rel=1e-6, abs=1e-7
    )
    inside = np.abs(error) / np.sqrt(variance)
    if np.abs(inside - 1.959964).min() > 1e-4:
        assert scores.coverage_95 == pytest.approx((inside <= 1.959964).mean())


@given(surveys(), st.floats(0.5, 6))
def test_idw_scores_equal_brute_force(survey: tuple[Floats, Floats], power: float) -> None:
    xy, values = survey
    scores = leave_one_out_idw(xy, values, power=power)
    for row in range(len(xy)):
        others = np.arange(len(xy)) != row
        estimate = idw(xy[others], values[others], xy[row : row + 1], power=power)
        assert scores.residuals[row] == pytest.approx(values[row] - estimate[0], abs=1e-9)
    assert scores.mean_squared_standardised is None
    assert scores.coverage_95 is None


def test_an_honest_model_scores_near_one_and_covers_95_percent() -> None:
    random = np.random.default_rng(7)
    model = Variogram("exponential", 0.2, 1.0, 10.0)
    scores = []
    for _ in range(20):
        xy = random.uniform(0, 30, (60, 2))
        covariance = model.covariance(xy, xy) + model.nugget * np.eye(60)
        values = np.linalg.cholesky(covariance) @ random.normal(size=60)
        scores.append(leave_one_out_kriging(xy, values, model))
    squares = [one.mean_squared_standardised for one in scores]
    covered = [one.coverage_95 for one in scores]
    assert np.mean(np.array(squares, dtype=float)) == pytest.approx(1.0, abs=0.1)
    assert np.mean(np.array(covered, dtype=float)) == pytest.approx(0.95, abs=0.02)


def test_a_singular_covariance_is_refused() -> None:
    xy = np.array([(0.0, 0), (0, 0), (1, 1)])
    with pytest.raises(EstimateError, match="singular; give a nugget above 0"):
        leave_one_out_kriging(xy, np.arange(3.0), Variogram("exponential", 0.0, 1.0, 5.0))
