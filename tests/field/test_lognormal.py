"""Ordinary kriging of logs: what holds between the median, the mean and the kriging of logs."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.errors import CoincidentReadingsWarning, EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.kriging import krige
from hgmap.field.lognormal import lognormal_kriging
from hgmap.field.models import correlation

Floats = NDArray[np.float64]


class Survey(NamedTuple):
    xy: Floats
    values: Floats
    targets: Floats
    parameters: dict[str, Any]


@st.composite
def surveys(draw: st.DrawFn, *, fewest: int = 1) -> Survey:
    steps = st.integers(0, 40)
    places = draw(st.lists(st.tuples(steps, steps), min_size=fewest, max_size=10, unique=True))
    targets = draw(st.lists(st.tuples(steps, steps), min_size=1, max_size=5))
    values = draw(st.lists(st.floats(0.01, 500), min_size=len(places), max_size=len(places)))
    parameters = {
        "model": draw(st.sampled_from(["spherical", "exponential", "gaussian"])),
        "nugget": draw(st.floats(0.05, 1)),
        "psill": draw(st.floats(0.1, 2)),
        "range_": draw(st.floats(1, 30)),
    }
    return Survey(np.array(places) / 2, np.array(values), np.array(targets) / 2 + 0.125, parameters)


@given(surveys(), st.booleans())
def test_the_logs_are_those_of_ordinary_kriging_and_the_median_their_exponential(
    one: Survey, exact: bool
) -> None:
    targets = np.vstack([one.targets, one.xy])
    made = lognormal_kriging(one.xy, one.values, targets, exact=exact, **one.parameters)
    mean, variance = krige(one.xy, np.log(one.values), targets, exact=exact, **one.parameters)
    assert (made.log_mean == mean).all()
    assert (made.log_variance == variance).all()
    assert made.median == pytest.approx(np.exp(mean))


@given(surveys())
def test_the_multiplier_is_that_of_the_system_of_semivariances(one: Survey) -> None:
    # Cressie (1993), Statistics for Spatial Data, section 3.2, solved as one plain system
    nugget, psill = one.parameters["nugget"], one.parameters["psill"]

    def gamma(h: Floats) -> Floats:
        rho = correlation(h, model=one.parameters["model"], range_=one.parameters["range_"])
        return np.where(h > 0, nugget + psill * (1 - rho), 0.0)

    n = len(one.xy)
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = gamma(cdist(one.xy, one.xy))
    system[n, n] = 0
    right = np.vstack([gamma(cdist(one.xy, one.targets)), np.ones(len(one.targets))])
    made = lognormal_kriging(one.xy, one.values, one.targets, **one.parameters)
    assert made.lagrange_multiplier == pytest.approx(np.linalg.solve(system, right)[n], abs=1e-8)


@given(surveys(fewest=2), st.booleans(), st.sampled_from([0.0, 0.3]))
def test_the_mean_is_above_the_median_by_half_of_what_the_estimate_does_not_vary(
    one: Survey, exact: bool, error: float
) -> None:
    # log(mean / median) = (sill - variance of Y*) / 2; the weights are the estimates of units
    errors = np.where(np.arange(len(one.xy)) % 2, error, 0.0)  # every other reading has one
    targets = np.vstack([one.targets, one.xy])
    options = one.parameters | {"exact": exact, "error_variance": errors}
    made = lognormal_kriging(one.xy, one.values, targets, **options)
    weights = np.array([krige(one.xy, unit, targets, **options)[0] for unit in np.eye(len(one.xy))])
    model, range_ = one.parameters["model"], one.parameters["range_"]
    nugget, psill = one.parameters["nugget"], one.parameters["psill"]
    between = psill * correlation(cdist(one.xy, one.xy), model=model, range_=range_)
    between += np.diag(nugget + errors)
    varies = np.einsum("it,ij,jt->t", weights, between, weights)
    half = (nugget + psill - varies) / 2
    assert np.log(made.mean / made.median) == pytest.approx(half, abs=1e-7)
    assert (made.mean >= made.median * (1 - 1e-9))[half >= 0].all()


def test_far_outside_a_smooth_field_the_mean_may_fall_below_the_median() -> None:
    # as the docstring says: there the estimate itself varies more than the field
    made = lognormal_kriging(
        [(0, 0), (1, 0), (2, 0)], [1.0, 2.0, 4.0], [(4, 0), (1.5, 0)],
        model="gaussian", nugget=1e-3, psill=1.0, range_=10.0,
    )  # fmt: skip
    assert made.mean[0] < made.median[0]
    assert made.mean[1] > made.median[1]


@given(surveys())
def test_at_a_reading_median_and_mean_are_that_reading(one: Survey) -> None:
    made = lognormal_kriging(one.xy, one.values, one.xy, **one.parameters)
    assert made.median == pytest.approx(one.values)
    assert made.mean == pytest.approx(one.values)
    assert (made.lagrange_multiplier == 0).all()


@given(surveys(), st.floats(0.001, 1000))
def test_the_unit_of_concentration_passes_through(one: Survey, factor: float) -> None:
    made = lognormal_kriging(one.xy, one.values, one.targets, **one.parameters)
    other = lognormal_kriging(one.xy, factor * one.values, one.targets, **one.parameters)
    assert other.median == pytest.approx(factor * made.median, rel=1e-6)
    assert other.mean == pytest.approx(factor * made.mean, rel=1e-6)


def test_one_reading_is_median_and_mean_everywhere() -> None:
    made = lognormal_kriging(
        [(3, 4)], [5.0], [(0, 0), (30, 0)],
        model="exponential", nugget=0.1, psill=0.8, range_=15,
    )  # fmt: skip
    assert made.median == pytest.approx([5, 5])
    assert made.mean == pytest.approx([5, 5])


def test_the_mean_is_right_on_average_over_fields_of_the_variogram() -> None:
    # 40 000 fields of known log mean at six readings and one target: E Z* = E Z (Cressie 1993)
    random = np.random.default_rng(8)
    xy = random.uniform(0, 10, (6, 2))
    everywhere = np.vstack([xy, [(5.0, 5.0)]])
    covariance = 0.1 * np.eye(7) + 0.4 * correlation(
        cdist(everywhere, everywhere), model="exponential", range_=12.0
    )
    logs = random.multivariate_normal(np.full(7, 0.3), covariance, 40_000)
    parameters: dict[str, Any] = {"model": "exponential", "nugget": 0.1, "psill": 0.4,
                                  "range_": 12.0}  # fmt: skip
    weights = np.array([krige(xy, unit, [(5, 5)], **parameters)[0][0] for unit in np.eye(6)])
    one = lognormal_kriging(xy, np.exp(logs[0, :6]), [(5, 5)], **parameters)
    assert one.log_mean[0] == pytest.approx(logs[0, :6] @ weights)
    means = np.exp(logs[:, :6] @ weights) * one.mean[0] / one.median[0]
    assert means.mean() == pytest.approx(np.exp(0.3 + 0.5 / 2), rel=0.01)
    assert np.exp(logs[:, 6]).mean() == pytest.approx(np.exp(0.3 + 0.5 / 2), rel=0.015)


def test_error_direction_and_blocks_reach_the_kriging(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(2)
    xy, values, targets = random.random((9, 2)), 1 + random.random(9), random.random((50, 2))
    options: dict[str, Any] = {
        "model": "matern", "nugget": 0.1, "psill": 1.0, "range_": 0.8, "smoothness": 1.5,
        "error_variance": random.random(9), "anisotropy": Anisotropy(ratio=0.4, angle_deg=30),
    }  # fmt: skip
    calls: list[int] = []
    whole = lognormal_kriging(
        xy, values, targets, progress=lambda done, _: calls.append(done), **options
    )
    assert calls == [50]
    mean, variance = krige(xy, np.log(values), targets, **options)
    assert (whole.log_mean == mean).all()
    assert (whole.log_variance == variance).all()
    monkeypatch.setattr("hgmap.field.lognormal.BLOCK_BYTES", 8 * 10 * 7)
    pieces = lognormal_kriging(xy, values, targets, **options)
    assert pieces.mean == pytest.approx(whole.mean, rel=1e-12)
    assert pieces.lagrange_multiplier == pytest.approx(whole.lagrange_multiplier, abs=1e-14)


def test_readings_at_one_place_stand_as_their_geometric_mean() -> None:
    with pytest.warns(CoincidentReadingsWarning, match="rows 0, 1") as caught:
        made = lognormal_kriging(
            [(0, 0), (0, 0), (5, 0)], [1.0, 4.0, 3.0], [(0, 0)],
            model="spherical", nugget=0.1, psill=1, range_=5,
        )  # fmt: skip
    assert made.median[0] == pytest.approx(2.0)
    assert caught[0].filename.endswith("test_lognormal.py")


@pytest.mark.parametrize("bad", [0.0, -1.0])
def test_a_concentration_that_has_no_log_is_named_by_its_row(bad: float) -> None:
    with pytest.raises(EstimateError, match=r"values row 1 \(counted from 0\) is 0 or below"):
        lognormal_kriging([(0, 0), (1, 0)], [1.0, bad], [(0, 1)],
                          model="spherical", nugget=0, psill=1, range_=5)  # fmt: skip
