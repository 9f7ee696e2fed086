"""The kriging error's covariance between any two places."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.kriging import krige
from hgmap.field.models import MODELS
from hgmap.field.posterior import Posterior
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]


@st.composite
def cases(draw: st.DrawFn) -> tuple[Floats, Variogram, Floats]:
    steps = st.integers(0, 40)
    places = draw(st.lists(st.tuples(steps, steps), min_size=2, max_size=10, unique=True))
    targets = draw(st.lists(st.tuples(steps, steps), min_size=2, max_size=6))
    variogram = Variogram(
        draw(st.sampled_from(MODELS)),
        draw(st.floats(0.05, 2)),
        draw(st.floats(0.1, 3)),
        draw(st.floats(1, 30)),
    )
    return np.array(places) / 2, variogram, np.array(targets) / 2 + 0.125


@given(cases())
def test_the_variance_is_that_of_kriging_less_the_nugget(
    case: tuple[Floats, Variogram, Floats],
) -> None:
    xy, variogram, targets = case
    targets = np.vstack([targets, xy])
    _, variance = krige(
        xy, np.zeros(len(xy)), targets, exact=False,
        model=variogram.model, nugget=variogram.nugget, psill=variogram.psill,
        range_=variogram.range_m,
    )  # fmt: skip
    noise_free = variance - variogram.nugget
    assert Posterior(xy, variogram).variance(targets) == pytest.approx(noise_free, abs=1e-7)


@given(cases())
def test_the_covariance_is_symmetric_and_holds_the_variance(
    case: tuple[Floats, Variogram, Floats],
) -> None:
    xy, variogram, targets = case
    posterior = Posterior(xy, variogram)
    covariance = posterior.covariance(targets, targets)
    assert covariance == pytest.approx(covariance.T, abs=1e-9)
    assert np.diag(covariance) == pytest.approx(posterior.variance(targets), abs=1e-9)
    assert np.linalg.eigvalsh(covariance).min() > -1e-8


@given(cases())
def test_one_more_reading_lowers_the_variance_as_the_update_says(
    case: tuple[Floats, Variogram, Floats],
) -> None:
    # conditioning a normal on one more reading: v - c² / (v_p + nugget)
    xy, variogram, targets = case
    place = np.array([[-1.3, 2.7]])
    posterior = Posterior(xy, variogram)
    covariance = posterior.covariance(targets, place)[:, 0]
    updated = posterior.variance(targets) - covariance**2 / (
        posterior.variance(place)[0] + variogram.nugget
    )
    after = Posterior(np.vstack([xy, place]), variogram).variance(targets)
    assert after == pytest.approx(updated, abs=1e-7)


def test_repeated_places_without_nugget_are_refused() -> None:
    with pytest.raises(EstimateError, match="singular; give a nugget above 0"):
        Posterior(np.array([(1.0, 1), (1, 1)]), Variogram("exponential", 0.0, 1.0, 5.0))
