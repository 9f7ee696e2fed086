"""Ordinary kriging: the laws that hold for any readings, and what it says to bad input."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.kriging import krige

Floats = NDArray[np.float64]


class Survey(NamedTuple):
    xy: Floats
    values: Floats
    targets: Floats
    parameters: dict[str, Any]


@st.composite
def surveys(draw: st.DrawFn, *, nugget: bool | None = None, fewest: int = 1) -> Survey:
    """Readings on a quarter-metre lattice, so that a shift of the frame is exact, and targets."""
    steps = st.integers(0, 60)
    places = draw(st.lists(st.tuples(steps, steps), min_size=fewest, max_size=12, unique=True))
    targets = draw(st.lists(st.tuples(steps, steps), min_size=1, max_size=6))
    values = draw(st.lists(st.floats(-50, 50), min_size=len(places), max_size=len(places)))
    # without a nugget the Gaussian model has no stable solution for near places
    with_nugget = draw(st.booleans()) if nugget is None else nugget
    model = draw(
        st.sampled_from(["spherical", "exponential"] + (["gaussian"] if with_nugget else []))
    )
    parameters = {
        "model": model,
        "nugget": draw(st.floats(0.05, 2)) if with_nugget else 0.0,
        "psill": draw(st.floats(0.1, 4)),
        "range_": draw(st.floats(0.5, 40)),
    }
    return Survey(
        np.array(places) / 4, np.array(values), np.array(targets) / 4 + 0.0625, parameters
    )


@given(surveys(), st.booleans())
def test_a_shift_of_the_frame_by_a_thousand_kilometres_changes_nothing(
    one: Survey, exact: bool
) -> None:
    here = krige(one.xy, one.values, one.targets, exact=exact, **one.parameters)
    there = krige(one.xy + 1e6, one.values, one.targets + 1e6, exact=exact, **one.parameters)
    assert there[0] == pytest.approx(here[0], abs=1e-6)
    assert there[1] == pytest.approx(here[1], abs=1e-6)


@given(surveys(), st.randoms())
def test_the_order_of_the_readings_does_not_matter(one: Survey, random: Any) -> None:
    order = list(range(len(one.xy)))
    random.shuffle(order)
    first = krige(one.xy, one.values, one.targets, **one.parameters)
    second = krige(one.xy[order], one.values[order], one.targets, **one.parameters)
    assert second[0] == pytest.approx(first[0], abs=1e-7)
    assert second[1] == pytest.approx(first[1], abs=1e-7)


@given(surveys(), st.floats(0.001, 1000))
def test_the_unit_of_the_readings_passes_through(one: Survey, factor: float) -> None:
    parameters = one.parameters | {
        "nugget": one.parameters["nugget"] * factor**2,
        "psill": one.parameters["psill"] * factor**2,
    }
    mean, variance = krige(one.xy, one.values, one.targets, **one.parameters)
    scaled_mean, scaled_variance = krige(one.xy, factor * one.values, one.targets, **parameters)
    assert scaled_mean / factor == pytest.approx(mean, abs=1e-7)
    assert scaled_variance / factor**2 == pytest.approx(variance, abs=1e-7)


@given(surveys(), st.floats(0.01, 1000))
def test_the_unit_of_length_passes_through(one: Survey, factor: float) -> None:
    parameters = one.parameters | {"range_": one.parameters["range_"] * factor}
    here = krige(one.xy, one.values, one.targets, **one.parameters)
    scaled = krige(one.xy * factor, one.values, one.targets * factor, **parameters)
    assert scaled[0] == pytest.approx(here[0], abs=1e-6)
    assert scaled[1] == pytest.approx(here[1], abs=1e-6)


@given(surveys(), st.booleans())
def test_the_variance_is_never_negative(one: Survey, exact: bool) -> None:
    targets = np.vstack([one.targets, one.xy])
    _, variance = krige(one.xy, one.values, targets, exact=exact, **one.parameters)
    assert (variance >= 0).all()
    if not exact:
        assert (variance >= one.parameters["nugget"] - 1e-9).all()


@given(surveys(), st.booleans())
def test_the_variance_stays_below_twice_the_sill(one: Survey, exact: bool) -> None:
    # one reading alone leaves 2 gamma; every further one can only lower it
    _, variance = krige(one.xy, one.values, one.targets, exact=exact, **one.parameters)
    sill = one.parameters["nugget"] + one.parameters["psill"]
    assert (variance <= 2 * sill + 1e-9).all()


@given(surveys())
def test_at_a_reading_the_exact_estimate_is_that_reading(one: Survey) -> None:
    mean, variance = krige(one.xy, one.values, one.xy, **one.parameters)
    assert mean == pytest.approx(one.values, abs=1e-7)
    assert variance == pytest.approx(0, abs=1e-7)


@given(surveys(nugget=False))
def test_without_a_nugget_both_modes_are_exact(one: Survey) -> None:
    mean, variance = krige(one.xy, one.values, one.xy, exact=False, **one.parameters)
    assert mean == pytest.approx(one.values, abs=1e-7)
    assert variance == pytest.approx(0, abs=1e-7)


@given(surveys(), st.floats(-50, 50), st.booleans())
def test_readings_that_are_all_equal_give_that_value_everywhere(
    one: Survey, value: float, exact: bool
) -> None:
    mean, variance = krige(
        one.xy, np.full(len(one.xy), value), one.targets, exact=exact, **one.parameters
    )
    assert mean == pytest.approx(value, abs=1e-7)
    assert (variance >= 0).all()


@given(surveys(fewest=2))
def test_one_more_reading_never_raises_the_variance(one: Survey) -> None:
    _, fewer = krige(one.xy[:-1], one.values[:-1], one.targets, **one.parameters)
    _, more = krige(one.xy, one.values, one.targets, **one.parameters)
    assert (more <= fewer + 1e-7).all()


@given(surveys(fewest=2))
def test_a_constant_added_to_the_readings_is_added_to_the_estimate(one: Survey) -> None:
    mean, variance = krige(one.xy, one.values, one.targets, **one.parameters)
    raised, same = krige(one.xy, one.values + 7, one.targets, **one.parameters)
    assert raised == pytest.approx(mean + 7, abs=1e-7)
    assert same == pytest.approx(variance, abs=1e-9)


@pytest.mark.parametrize("exact", [True, False])
def test_readings_on_one_line_are_enough(exact: bool) -> None:
    xy = [(float(x), 2.0) for x in range(6)]
    mean, variance = krige(
        xy, np.arange(6.0), [(2.5, 2), (2.5, 4), (2.5, 0)], exact=exact,
        model="exponential", nugget=0.1, psill=1, range_=9,
    )  # fmt: skip
    assert mean == pytest.approx(2.5)
    assert variance[1] == pytest.approx(variance[2])
    assert variance[0] < variance[1]


@pytest.mark.parametrize("exact", [True, False])
def test_one_place_gives_its_value_and_twice_the_semivariance(exact: bool) -> None:
    mean, variance = krige(
        [(3, 4)], [5.0], [(3, 4), (0, 0), (1e6, 0)], exact=exact,
        model="exponential", nugget=0.5, psill=2, range_=15,
    )  # fmt: skip
    assert mean.tolist() == [5, 5, 5]
    at_5_m = 2 * (0.5 + 2 * (1 - np.exp(-1)))
    assert variance == pytest.approx([0 if exact else 1.0, at_5_m, 5.0])


@pytest.mark.parametrize("exact", [True, False])
def test_two_places_close_to_one_place_are_continuous_with_it(exact: bool) -> None:
    parameters: dict[str, Any] = {"model": "spherical", "nugget": 0.0, "psill": 2, "range_": 15}
    one = krige([(0, 0)], [4.0], [(6, 0)], exact=exact, **parameters)
    two = krige([(0, 0), (1e-4, 0)], [4.0, 4.0], [(6, 0)], exact=exact, **parameters)
    assert two[0] == pytest.approx(one[0], abs=1e-4)
    assert two[1] == pytest.approx(one[1], abs=1e-4)


def test_a_target_a_hair_from_a_reading_is_at_the_reading() -> None:
    xy = np.array([(0.1, 0.2), (7.3, 4.1), (3.3, 9.7)]) + 5e5
    mean, variance = krige(
        xy, [1.0, 2.0, 3.0], xy + np.array([3e-10, 0]),
        model="exponential", nugget=0.0, psill=1, range_=9,
    )  # fmt: skip
    assert mean == pytest.approx([1, 2, 3], abs=1e-6)
    assert variance == pytest.approx(0, abs=1e-6)


def test_blocks_give_the_same_as_one_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(1)
    xy, values, targets = random.random((9, 2)), random.random(9), random.random((50, 2))
    parameters: dict[str, Any] = {"model": "spherical", "nugget": 0.1, "psill": 1, "range_": 1}
    whole = krige(xy, values, targets, **parameters)
    monkeypatch.setattr("hgmap.field.kriging.BLOCK_BYTES", 8 * 10 * 7)
    calls: list[tuple[int, int]] = []
    pieces = krige(
        xy, values, targets, progress=lambda done, all_: calls.append((done, all_)), **parameters
    )
    assert pieces[0] == pytest.approx(whole[0], rel=1e-12)
    assert pieces[1] == pytest.approx(whole[1], rel=1e-12)
    assert calls == [(min(7 * k, 50), 50) for k in range(1, 9)]


def test_no_target_gives_no_estimate() -> None:
    mean, variance = krige(
        [(0, 0), (1, 0)], [1.0, 2.0], np.empty((0, 2)),
        model="spherical", nugget=0, psill=1, range_=1,
    )  # fmt: skip
    assert mean.shape == variance.shape == (0,)


def test_a_gaussian_model_without_nugget_over_near_places_is_refused() -> None:
    x, y = np.meshgrid(np.arange(12.0), np.arange(12.0))
    xy = np.column_stack([x.ravel(), y.ravel()])
    with pytest.raises(EstimateError, match="no stable solution; give a larger nugget"):
        krige(xy, np.sin(xy[:, 0]), [(0.5, 0.5)], model="gaussian", nugget=0, psill=1, range_=20)


@pytest.mark.parametrize("spacing_m", [4.0, 2.0, 1.0, 0.5, 0.25, 0.1, 0.01])
def test_a_gaussian_model_without_nugget_is_right_or_refused(spacing_m: float) -> None:
    x, y = np.meshgrid(np.arange(5.0), np.arange(5.0))
    xy = np.column_stack([x.ravel(), y.ravel()]) * spacing_m
    values = 3 + np.sin(xy[:, 0] / 4) * np.cos(xy[:, 1] / 5)
    middle = [(1.5 * spacing_m, 2.5 * spacing_m)]

    def answer() -> tuple[Floats, Floats]:
        return krige(xy, values, middle, model="gaussian", nugget=0, psill=1, range_=10)

    if spacing_m < 0.8:
        with pytest.raises(EstimateError, match="no stable solution"):
            answer()
        return
    mean, variance = answer()
    truth = 3 + np.sin(middle[0][0] / 4) * np.cos(middle[0][1] / 5)
    assert mean[0] == pytest.approx(truth, abs=0.03)
    assert 0 <= variance[0] <= 0.1


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"model": "cubic"}, "model 'cubic' is not known; use one of spherical, exponential"),
        ({"nugget": -0.1}, "nugget is -0.1; give a number of 0 or more"),
        ({"psill": np.nan}, "psill is nan"),
        ({"psill": np.inf}, "psill is inf"),
        ({"nugget": 0, "psill": 0}, "nugget and psill are both 0"),
        ({"range_": 0}, "range_ is 0; give a number above 0"),
        ({"range_": -3}, "range_ is -3"),
        ({"range_": np.nan}, "range_ is nan"),
    ],
)
def test_parameters_that_cannot_be_used_are_refused(changed: dict[str, Any], message: str) -> None:
    good: dict[str, Any] = {"model": "spherical", "nugget": 0.1, "psill": 1, "range_": 5}
    with pytest.raises(EstimateError, match=message):
        krige([(0, 0), (1, 0)], [1.0, 2.0], [(2, 2)], **(good | changed))
