"""The kriging system and its dense back end: laws, per-reading error, blocks and threads."""

from __future__ import annotations

import threading
import tracemalloc
import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from threadpoolctl import threadpool_info, threadpool_limits

from hgmap.errors import EstimateError
from hgmap.field.kriging import krige
from hgmap.field.models import Model, correlation
from hgmap.field.straight import (
    Kernel,
    solve_system,
    squared_length,
    triangular_product,
)

Floats = NDArray[np.float64]

EVERY: tuple[Model, ...] = ("spherical", "exponential", "gaussian", "matern")
PARAMETERS: dict[str, Any] = {"nugget": 0.2, "psill": 0.9, "range_": 11.0}


def survey(n: int = 30, seed: int = 3) -> tuple[Floats, Floats, Floats]:
    random = np.random.default_rng(seed)
    xy = random.uniform((0, 0), (30, 20), (n, 2))
    return (
        xy,
        np.sin(xy[:, 0] / 5) + random.normal(0, 0.3, n),
        random.uniform((-2, -2), (32, 22), (50, 2)),
    )


def whole_system(
    xy: Floats, values: Floats, targets: Floats, error: Floats, *, model: Model, shared: bool
) -> tuple[Floats, Floats]:
    """Ordinary kriging of every reading, none merged, by one large solve.

    Cressie (1993), Statistics for Spatial Data, section 3.2. ``shared`` gives readings at one
    place the same nugget, else each has its own.
    """
    nugget, psill, range_ = PARAMETERS["nugget"], PARAMETERS["psill"], PARAMETERS["range_"]
    n = len(xy)
    together = cdist(xy, xy) == 0 if shared else np.eye(n) > 0
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = psill * correlation(cdist(xy, xy), model=model, range_=range_)
    system[:n, :n] += nugget * together + np.diag(error)
    system[n, n] = 0
    right = np.ones((n + 1, len(targets)))
    right[:n] = psill * correlation(cdist(xy, targets), model=model, range_=range_)
    right[:n] += nugget * (cdist(xy, targets) == 0) * shared
    solution = np.linalg.solve(system, right)
    return values @ solution[:n], nugget + psill - (solution * right).sum(axis=0)


@pytest.mark.parametrize("model", EVERY)
@pytest.mark.parametrize("exact", [True, False])
def test_readings_at_one_place_count_as_all_of_them_would_in_one_large_system(
    model: Model, exact: bool
) -> None:
    xy, values, targets = survey()
    random = np.random.default_rng(4)
    rows = np.r_[np.arange(30), 3, 3, 8, 11, 11, 11]
    xy, values = xy[rows], values[rows] + random.normal(0, 0.2, len(rows))
    error = random.uniform(0.01, 0.5, len(rows))
    targets = np.vstack([targets, xy[:12]])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        mean, variance = krige(
            xy, values, targets, model=model, exact=exact, error_variance=error, **PARAMETERS
        )
    right_mean, right_variance = whole_system(xy, values, targets, error, model=model, shared=exact)
    assert mean == pytest.approx(right_mean, abs=1e-9)
    assert variance == pytest.approx(right_variance, abs=1e-9)


@pytest.mark.parametrize("exact", [True, False])
def test_one_error_for_all_is_the_same_as_a_list_of_it(exact: bool) -> None:
    xy, values, targets = survey()
    one = krige(
        xy, values, targets, model="exponential", exact=exact, error_variance=0.3, **PARAMETERS
    )
    each = krige(
        xy, values, targets, model="exponential", exact=exact,
        error_variance=np.full(30, 0.3), **PARAMETERS,
    )  # fmt: skip
    assert one[0].tolist() == each[0].tolist()
    assert one[1].tolist() == each[1].tolist()


def test_an_error_of_all_readings_is_a_nugget_that_the_variance_leaves_out() -> None:
    xy, values, targets = survey()
    with_error = krige(
        xy, values, targets, model="matern", error_variance=0.5,
        **PARAMETERS | {"nugget": 0.0},
    )  # fmt: skip
    with_nugget = krige(
        xy, values, targets, model="matern", exact=False, **PARAMETERS | {"nugget": 0.5}
    )
    assert with_error[0] == pytest.approx(with_nugget[0], abs=1e-10)
    assert with_error[1] == pytest.approx(with_nugget[1] - 0.5, abs=1e-10)


def test_no_error_is_the_same_as_none_given() -> None:
    xy, values, targets = survey()
    for exact in (True, False):
        plain = krige(xy, values, targets, model="spherical", exact=exact, **PARAMETERS)
        zero = krige(
            xy, values, targets, model="spherical", exact=exact, error_variance=0, **PARAMETERS
        )
        assert zero[0] == pytest.approx(plain[0], abs=1e-12)
        assert zero[1] == pytest.approx(plain[1], abs=1e-12)


def test_a_reading_with_an_error_is_smoothed_and_one_without_is_met() -> None:
    xy, values, _ = survey()
    error = np.where(np.arange(30) < 5, 0.0, 0.4)
    mean, variance = krige(xy, values, xy, model="exponential", error_variance=error, **PARAMETERS)
    assert mean[:5].tolist() == values[:5].tolist()
    assert variance[:5].tolist() == [0.0] * 5
    assert (np.abs(mean[5:] - values[5:]) > 1e-4).all()
    assert ((variance[5:] > 0.05) & (variance[5:] < 0.4)).all()


def test_a_reading_without_error_leaves_no_weight_to_others_at_its_place() -> None:
    xy = [(0, 0), (0, 0), (9, 0), (9, 0), (9, 0)]
    mean, _ = krige(
        xy, [1.0, 100.0, 4.0, 6.0, 500.0], [(0, 0), (9, 0)], model="exponential",
        error_variance=[0, 2, 0, 0, 3], **PARAMETERS,
    )  # fmt: skip
    assert mean == pytest.approx([1.0, 5.0], abs=1e-9)


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (-0.1, r"error_variance row 0 .* is negative; give variances of 0 or more"),
        ([0.1, -1, 0.1], r"error_variance row 1 \(counted from 0\) is negative"),
        ([0.1, 0.1], r"error_variance has shape \(2,\)"),
        ([0.1, np.nan, 0.1], "error_variance row 1 .* is not a finite number"),
        (np.inf, "error_variance row 0"),
        ("large", "error_variance is not an array of numbers"),
    ],
)
def test_errors_that_cannot_be_used_are_refused(error: Any, message: str) -> None:
    with pytest.raises(EstimateError, match=message):
        krige(
            [(0, 0), (1, 0), (2, 0)], [1.0, 2.0, 3.0], [(1, 1)], model="exponential",
            error_variance=error, **PARAMETERS,
        )  # fmt: skip


def test_a_matern_model_of_smoothness_one_half_is_the_exponential_one() -> None:
    xy, values, targets = survey()
    rough = krige(xy, values, targets, model="matern", smoothness=0.5, **PARAMETERS)
    exponential = krige(xy, values, targets, model="exponential", **PARAMETERS)
    assert rough[0] == pytest.approx(exponential[0], abs=1e-12)
    assert rough[1] == pytest.approx(exponential[1], abs=1e-12)


def test_a_matern_model_without_a_smoothness_has_that_of_a_field_in_the_plane() -> None:
    xy, values, targets = survey()
    usual = krige(xy, values, targets, model="matern", **PARAMETERS)
    one = krige(xy, values, targets, model="matern", smoothness=1.0, **PARAMETERS)
    assert usual[0].tolist() == one[0].tolist()


def test_a_smoothness_is_refused_where_the_model_has_none_or_it_has_no_model() -> None:
    with pytest.raises(EstimateError, match=r"the gaussian model has no smoothness; leave it out"):
        krige([(0, 0)], [1.0], [(1, 1)], model="gaussian", smoothness=1.5, **PARAMETERS)
    with pytest.raises(EstimateError, match=r"smoothness is 0; give a number from 0.1 to 20"):
        krige([(0, 0)], [1.0], [(1, 1)], model="matern", smoothness=0, **PARAMETERS)


@given(st.integers(1, 400), st.integers(1, 20))
def test_a_product_by_panels_is_the_product(n: int, m: int) -> None:
    random = np.random.default_rng(n)
    lower, right = np.tril(random.normal(size=(n, n))), random.normal(size=(n, m))
    product = lower @ right
    assert triangular_product(lower, right) == pytest.approx(product, abs=1e-10)
    assert squared_length(lower, right) == pytest.approx((product**2).sum(axis=0), rel=1e-10)


def test_the_factor_is_that_of_the_covariance() -> None:
    xy, values, _ = survey()
    error = np.linspace(0, 0.3, 30)
    kernel = Kernel("exponential", 0.1, 2.0, 1.0)
    system = solve_system(xy / 9, values, error, kernel, at_reading=0.0)
    covariance = 2.0 * correlation(cdist(xy, xy), model="exponential", range_=9.0)
    covariance += np.diag(0.1 + error)
    inverse = system.inverse_factor.T @ system.inverse_factor
    assert inverse @ covariance == pytest.approx(np.eye(30), abs=1e-12)
    assert np.triu(system.inverse_factor, 1).any() is np.False_
    # the mean by generalised least squares, and residual weights that add up to nothing
    ones = np.ones(30)
    assert system.beta == pytest.approx(ones @ inverse @ values / (ones @ inverse @ ones))
    assert system.pair[0].sum() == pytest.approx(0.0, abs=1e-10)


def test_a_large_mean_costs_no_digits() -> None:
    xy, values, targets = survey()
    mean, _ = krige(xy, values, targets, model="exponential", **PARAMETERS)
    high, _ = krige(xy, values + 2.0**20, targets, model="exponential", **PARAMETERS)
    assert high - 2.0**20 == pytest.approx(mean, abs=1e-8)


def test_one_extreme_outlier_moves_the_map_in_proportion_and_nothing_breaks() -> None:
    xy, values, targets = survey()
    plain, spread = krige(xy, values, targets, model="exponential", **PARAMETERS)

    def moved(by: float) -> Floats:
        high = values.copy()
        high[4] += by
        mean, variance = krige(xy, high, targets, model="exponential", **PARAMETERS)
        assert variance == pytest.approx(spread, abs=1e-12)
        return mean - plain

    assert moved(1e9) / 1e9 == pytest.approx(moved(1.0), abs=1e-6)


def test_a_range_far_below_the_spacing_leaves_the_mean_of_all() -> None:
    xy, values, targets = survey()
    for range_ in (1e-6, 1e-300, 5e-324):
        mean, variance = krige(
            xy, values, targets, model="exponential", nugget=0, psill=2.0, range_=range_
        )
        assert mean == pytest.approx(values.mean())
        assert variance == pytest.approx(2.0 * (1 + 1 / 30))  # sill (1 + 1 / n)


def test_a_range_far_beyond_the_floor_is_refused_without_a_nugget() -> None:
    xy, values, targets = survey()
    with pytest.raises(EstimateError, match="no stable solution"):
        krige(xy, values, targets, model="exponential", nugget=0, psill=1, range_=1e300)


@pytest.mark.parametrize("model", EVERY)
def test_one_thread_and_two_give_the_same_to_the_last_bit(model: Model) -> None:
    xy, values, _ = survey()
    targets = np.random.default_rng(5).uniform(0, 30, (30_000, 2))
    with threadpool_limits(1, user_api="blas"):
        one = krige(xy, values, targets, model=model, **PARAMETERS)
    with threadpool_limits(2, user_api="blas"):
        two = krige(xy, values, targets, model=model, **PARAMETERS)
    assert one[0].tolist() == two[0].tolist()
    assert one[1].tolist() == two[1].tolist()


def test_a_cancelled_estimate_leaves_no_thread_and_no_setting_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class CancelledError(Exception):
        pass

    monkeypatch.setattr("hgmap.field.kriging.BLOCK_BYTES", 2**14)
    xy, values, _ = survey()
    targets = np.random.default_rng(5).uniform(0, 30, (20_000, 2))
    calls: list[int] = []

    def stop(done: int, all_: int) -> None:
        calls.append(done)
        if done > all_ / 2:
            raise CancelledError

    before = [one["num_threads"] for one in threadpool_info()]
    threads = threading.active_count()
    with pytest.raises(CancelledError):
        krige(xy, values, targets, model="spherical", progress=stop, **PARAMETERS)
    assert calls == sorted(calls)
    assert calls[-1] < 0.6 * len(targets)
    assert threading.active_count() == threads
    assert [one["num_threads"] for one in threadpool_info()] == before


def test_memory_is_that_of_the_blocks_not_of_all_covariances() -> None:
    xy, values, _ = survey(300)
    targets = np.random.default_rng(5).uniform(0, 30, (100_000, 2))
    tracemalloc.start()
    krige(xy, values, targets, model="exponential", **PARAMETERS)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # all covariances at once would be 240 MB
    assert peak < 40e6
