"""Variogram models, the empirical one, and what is used where none can be fitted."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.models import MODELS, Model, correlation
from hgmap.field.variogram import (
    FEWEST_TO_FIT,
    MOST_FOR_LIKELIHOOD,
    MOST_TO_PAIR,
    EmpiricalVariogram,
    Variogram,
    choose_variogram,
    default_variogram,
    empirical_variogram,
    fit_variogram,
)

Floats = NDArray[np.float64]


def field_of(model: Variogram, n: int, seed: int, *, side_m: float = 30.0) -> tuple[Floats, Floats]:
    """Invented readings with this variogram."""
    random = np.random.default_rng(seed)
    xy = random.uniform(0, side_m, (n, 2))
    covariance = model.covariance(xy, xy) + (model.nugget + 1e-9) * np.eye(n)
    return xy, np.linalg.cholesky(covariance) @ random.normal(size=n)


@pytest.mark.parametrize("model", MODELS)
@given(st.floats(0.01, 1e6), st.lists(st.floats(0, 1e7), min_size=1, max_size=20))
def test_a_correlation_falls_from_one_to_zero(
    model: Model, range_: float, distances: list[float]
) -> None:
    h = np.sort(np.array([0.0, *distances]))
    rho = correlation(h, model=model, range_=range_)
    assert rho[0] == 1
    assert ((rho >= 0) & (rho <= 1)).all()
    assert (np.diff(rho) <= 0).all()
    assert correlation(-h, model=model, range_=range_).tolist() == rho.tolist()


@pytest.mark.parametrize("model", MODELS)
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=2, max_size=12,
                unique=True))  # fmt: skip
def test_a_covariance_of_places_is_positive_definite(
    model: Model, places: list[tuple[int, int]]
) -> None:
    xy = np.array(places, dtype=float)
    covariance = Variogram(model, 0.0, 1.0, 9.0).covariance(xy, xy)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9


def test_an_unknown_model_is_refused() -> None:
    with pytest.raises(EstimateError, match="model 'linear' is not known; use one of spherical"):
        correlation(np.zeros(1), model="linear", range_=1.0)  # type: ignore[arg-type]


def test_the_semivariance_and_the_covariance_add_to_the_sill() -> None:
    model = Variogram("exponential", 0.3, 1.2, 8.0)
    a, b = np.array([(0.0, 0.0)]), np.array([(3.0, 4.0), (0.0, 0.1), (0.0, 0.0)])
    h = np.array([5.0, 0.1, 0.0])
    gamma = model.gamma(h)
    assert gamma[2] == 0
    assert gamma[:2] + model.covariance(a, b)[0, :2] == pytest.approx(model.sill)


def test_the_empirical_variogram_of_four_readings_by_hand() -> None:
    # at (0, 0), (1, 0), (2, 0), (2, 2); bins (0, 1], (1, 2]; sqrt 8 and sqrt 5 lie beyond
    xy = np.array([(0.0, 0), (1, 0), (2, 0), (2, 2)])
    empirical = empirical_variogram(xy, np.array([1.0, 3.0, 4.0, 8.0]), bins=2, cutoff_m=2.0)
    assert empirical.pairs.tolist() == [2, 2]
    assert empirical.distance_m.tolist() == [1, 2]
    assert empirical.gamma.tolist() == [(4 + 1) / 4, (9 + 16) / 4]


def test_readings_at_one_place_make_no_bin() -> None:
    empirical = empirical_variogram(np.ones((5, 2)), np.arange(5.0))
    assert len(empirical.gamma) == len(empirical.pairs) == 0


@given(st.integers(0, 1000), st.integers(2, 30), st.floats(0.1, 100))
def test_every_pair_within_the_cutoff_is_counted_once(seed: int, n: int, cutoff_m: float) -> None:
    random = np.random.default_rng(seed)
    xy, values = random.uniform(0, 50, (n, 2)), random.normal(size=n)
    empirical = empirical_variogram(xy, values, bins=7, cutoff_m=cutoff_m)
    h = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))[np.triu_indices(n, 1)]
    assert empirical.pairs.sum() == (h <= cutoff_m).sum()
    assert (empirical.distance_m <= cutoff_m).all()
    assert (empirical.gamma >= 0).all()


def test_very_many_places_are_thinned_and_still_answer() -> None:
    random = np.random.default_rng(3)
    xy, values = random.random((MOST_TO_PAIR + 500, 2)), random.normal(size=MOST_TO_PAIR + 500)
    empirical = empirical_variogram(xy, values)
    assert empirical.pairs.sum() < MOST_TO_PAIR**2 / 2
    assert empirical.gamma == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("scale_m", [1e-3, 1.0, 1e5])
def test_a_fit_finds_the_model_that_made_the_bins(model: Model, scale_m: float) -> None:
    truth = Variogram(model, 0.3, 1.7, 9.0 * scale_m)
    h = np.linspace(0.5, 20, 15) * scale_m
    bins = EmpiricalVariogram(h, truth.gamma(h), np.full(15, 100))
    fitted = fit_variogram(bins, model=model, range_bounds_m=(0.3 * scale_m, 60 * scale_m))
    assert fitted.note == ""
    assert fitted.origin == "fitted"
    assert (fitted.nugget, fitted.psill) == pytest.approx((0.3, 1.7), rel=1e-4)
    assert fitted.range_m == pytest.approx(9 * scale_m, rel=1e-4)


def test_a_fit_says_which_bound_it_ended_at() -> None:
    h = np.linspace(1, 20, 15)
    flat = EmpiricalVariogram(h, np.ones(15), np.full(15, 50))
    rising = EmpiricalVariogram(h, h, np.full(15, 50))
    assert fit_variogram(flat, model="exponential", range_bounds_m=(0.5, 40.0)).note != ""
    rose = fit_variogram(rising, model="spherical", range_bounds_m=(0.5, 40.0))
    assert "range at its upper bound" in rose.note


@pytest.mark.parametrize(
    ("gamma", "message"), [([1.0, 2.0], "fewer than three"), ([0.0] * 5, "do not differ")]
)
def test_bins_that_cannot_be_fitted_are_refused(gamma: list[float], message: str) -> None:
    bins = EmpiricalVariogram(
        np.arange(1.0, len(gamma) + 1), np.array(gamma), np.full(len(gamma), 9)
    )
    with pytest.raises(EstimateError, match=message):
        fit_variogram(bins, model="spherical", range_bounds_m=(0.1, 10))


def test_the_default_is_what_its_docstring_says() -> None:
    xy = np.array([(0.0, 0), (30, 0), (30, 40)])
    values = np.array([0.0, 3.0, 6.0])
    model = default_variogram(xy, values, log=True, note="why")
    assert (model.model, model.origin, model.note) == ("exponential", "default", "why")
    assert model.sill == pytest.approx(9.0)
    assert model.nugget == pytest.approx(0.9)
    assert model.range_m == pytest.approx(50 / 3)


@given(st.lists(st.floats(0, 1e4), min_size=1, max_size=7), st.booleans())
def test_the_default_never_claims_certainty(values: list[float], log: bool) -> None:
    array = np.array(values)
    xy = np.column_stack([np.arange(len(array)), np.zeros(len(array))]).astype(float)
    model = default_variogram(xy, array, log=log, note="")
    assert model.psill > 0
    assert model.nugget > 0
    assert model.range_m > 0
    if log:
        assert model.sill >= np.log(2) ** 2 - 1e-12


@pytest.mark.parametrize("n", range(1, FEWEST_TO_FIT))
def test_few_places_are_not_fitted(n: int) -> None:
    xy, values = field_of(Variogram("exponential", 0.1, 1, 9), n, 1)
    chosen = choose_variogram(xy, values, log=True)
    assert chosen.origin == "default"
    assert f"{n} places are fewer than {FEWEST_TO_FIT}" in chosen.note


@pytest.mark.parametrize("value", [0.0, 0.1, -7.3, 1e6])
@pytest.mark.parametrize("n", [8, 30])
def test_readings_that_are_all_equal_are_not_fitted(value: float, n: int) -> None:
    xy, _ = field_of(Variogram("exponential", 0.1, 1, 9), n, 1)
    chosen = choose_variogram(xy, np.full(n, value), log=True)
    assert chosen.origin == "default"
    assert "do not differ" in chosen.note
    assert chosen.sill == pytest.approx(np.log(2) ** 2)


def test_readings_without_structure_are_not_fitted() -> None:
    values = np.random.default_rng(5).normal(size=150)
    xy, _ = field_of(Variogram("exponential", 0.1, 1, 9), 150, 5)
    chosen = choose_variogram(xy, values, log=True)
    assert chosen.origin == "default" or chosen.nugget > 0.8 * chosen.sill


@pytest.mark.parametrize("n", [60, MOST_FOR_LIKELIHOOD + 1])
def test_a_fitted_variogram_is_near_the_one_that_made_the_readings(n: int) -> None:
    # the ratio sill / range is what readings on one floor can tell of an exponential model
    truth = Variogram("exponential", 0.1, 1.0, 12.0)
    found = [choose_variogram(*field_of(truth, n, seed), log=True) for seed in range(6)]
    ratios = [f.psill / f.range_m for f in found if f.origin == "fitted"]
    assert len(ratios) >= 4
    assert np.exp(np.mean(np.log(ratios))) == pytest.approx(1 / 12, rel=0.5)


@given(
    st.integers(0, 10_000),
    st.sampled_from([3, 7, 8, 9, 14, 25]),
    st.sampled_from(["random", "line", "clusters", "lattice", "three values", "outlier"]),
    st.sampled_from(MODELS),
)
def test_whatever_the_readings_a_usable_variogram_comes_back(
    seed: int, n: int, kind: str, model: Model
) -> None:
    random = np.random.default_rng(seed)
    xy, values = random.uniform(0, 40, (n, 2)), random.normal(size=n)
    if kind == "line":
        xy[:, 1] = 3.0
    elif kind == "clusters":
        xy = xy.round(-1) + random.normal(0, 0.01, (n, 2))
    elif kind == "lattice":
        xy = np.column_stack([np.arange(n) % 5, np.arange(n) // 5]).astype(float)
    elif kind == "three values":
        values = values.round()
    elif kind == "outlier":
        values = np.where(np.arange(n) == 0, 20.0, 0.0)
    chosen: Any = choose_variogram(xy, values, log=True, model=model)
    assert np.isfinite([chosen.nugget, chosen.psill, chosen.range_m]).all()
    assert chosen.nugget >= 0
    assert chosen.psill > 0
    assert chosen.range_m > 0
    assert chosen.origin in ("fitted", "default")
    assert chosen.origin == "fitted" or chosen.note
