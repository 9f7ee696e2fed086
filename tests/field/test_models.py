"""The variogram models: published values, limits, and the convention of the range."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.gaussian_process.kernels import Matern  # type: ignore[import-untyped]

from hgmap.errors import EstimateError
from hgmap.field.models import MODELS, Model, correlation, matern_scale

# Rasmussen and Williams (2006), Gaussian Processes for Machine Learning, eq. 4.14 to 4.17 with
# l = 1, worked out from the printed formulas; the library comparison below is independent of them
H = np.array([0.1, 0.25, 0.5, 1, 1.5, 2, 3, 5])
MATERN = {
    0.5: (.90483742, .77880078, .60653066, .36787944, .22313016, .13533528, .04978707, .00673795),
    1.0: (.97419744, .89415807, .73191448, .44434252, .25329064, .13966747, .04017111, .00297476),
    1.5: (.98662456, .92938362, .78488765, .48335772, .26775661, .13973135, .03431324, .00167451),
    2.5: (.99175924, .95095992, .82864914, .52399411, .28316327, .13866022, .02772342, .00075093),
}  # fmt: skip


@pytest.mark.parametrize("smoothness", MATERN)
def test_the_matern_model_has_its_published_values(smoothness: float) -> None:
    range_ = matern_scale(smoothness) / np.sqrt(2 * smoothness)  # of l = 1
    got = correlation(H, model="matern", range_=range_, smoothness=smoothness)
    assert got == pytest.approx(MATERN[smoothness], abs=6e-9)


@pytest.mark.parametrize("smoothness", [0.2, 0.5, 0.8, 1.0, 1.3, 1.5, 2.0, 2.5, 3.7, 9.0])
def test_scikit_learn_has_the_same_matern_model(smoothness: float) -> None:
    # not at 0, where scikit-learn stands a rounding error off
    h = np.r_[1e-12, 1e-6, np.geomspace(1e-3, 60, 50)]
    scale = np.sqrt(2 * smoothness) * 7.0 / matern_scale(smoothness)
    other = Matern(length_scale=scale, nu=smoothness)(np.zeros((1, 1)), h[:, None])[0]
    got = correlation(h, model="matern", range_=7.0, smoothness=smoothness)
    assert got == pytest.approx(other, abs=1e-9)


@pytest.mark.parametrize("model", MODELS)
def test_a_correlation_starts_at_1_and_is_5_percent_or_nothing_at_the_range(model: Model) -> None:
    at = correlation(np.array([0.0, 8.0]), model=model, range_=8.0)
    assert at == pytest.approx([1.0, 0.0 if model == "spherical" else np.exp(-3.0)], abs=1e-15)


@given(st.floats(0.1, 20))
def test_the_range_of_a_matern_model_is_the_practical_one_whatever_its_smoothness(
    smoothness: float,
) -> None:
    at = correlation(np.array([0.0, 8.0]), model="matern", range_=8.0, smoothness=smoothness)
    assert at == pytest.approx([1.0, np.exp(-3.0)], rel=1e-9)


def test_the_matern_model_goes_from_the_exponential_to_the_gaussian_one() -> None:
    h = np.linspace(0, 12, 40)
    rough = correlation(h, model="matern", range_=6.0, smoothness=0.5)
    assert rough == pytest.approx(correlation(h, model="exponential", range_=6.0), abs=1e-15)
    gaussian = correlation(h, model="gaussian", range_=6.0)
    off = [
        np.abs(correlation(h, model="matern", range_=6.0, smoothness=nu) - gaussian).max()
        for nu in (2.5, 5.0, 10.0, 20.0)
    ]
    assert off == sorted(off, reverse=True)
    assert off[-1] < 0.02


@given(
    st.sampled_from([*MODELS, "matern"]),
    st.floats(0.1, 20),
    st.lists(st.floats(0, 1e12), min_size=2, max_size=20),
    st.floats(1e-6, 1e6),
)
def test_a_correlation_falls_from_1_to_0_and_is_never_anything_else(
    model: Model, smoothness: float, distances: list[float], range_: float
) -> None:
    got = correlation(
        np.sort(np.array(distances)), model=model, range_=range_, smoothness=smoothness
    )
    assert ((got >= 0) & (got <= 1 + 1e-12)).all()
    assert (np.diff(got) <= 1e-9).all()


def test_a_distance_of_infinity_correlates_nothing() -> None:
    h = np.array([np.inf])
    for model in (*MODELS, "matern"):
        for smoothness in (0.5, 1.0, 1.2, 2.5):
            got = correlation(h, model=model, range_=1.0, smoothness=smoothness)
            assert got == pytest.approx(0.0, abs=1e-200)


def test_the_shape_of_the_distances_is_kept_and_they_are_left_as_they_were() -> None:
    h = np.array([[1.0, 2.0, 3.0]])
    assert correlation(h, model="spherical", range_=2.0).shape == (1, 3)
    assert h.tolist() == [[1.0, 2.0, 3.0]]
    assert correlation(np.array(1.0), model="exponential", range_=2.0).shape == ()


@pytest.mark.parametrize("smoothness", [0, -1, 0.01, 21, np.nan, np.inf])
def test_a_smoothness_that_no_model_has_is_refused(smoothness: float) -> None:
    with pytest.raises(EstimateError, match=r"smoothness is .*; give a number from 0.1 to 20"):
        correlation(np.array([1.0]), model="matern", range_=1.0, smoothness=smoothness)
