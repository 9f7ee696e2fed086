"""Non-detects: what can be said, and what cannot."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.clearance.censored import (
    KaplanMeier,
    LognormalFit,
    RegressionOnOrder,
    kaplan_meier,
    lognormal_likelihood,
    robust_ros,
)
from hgmap.decide.clearance.sample import CannotTell
from hgmap.errors import EstimateError

Sample = tuple[list[float], list[bool]]

# coarse numbers, so that ties between detects and limits are common
numbers = st.integers(1, 40).map(lambda one: one / 8)
samples = st.lists(st.tuples(numbers, st.booleans()), min_size=1, max_size=25).map(
    lambda rows: ([one for one, _ in rows], [seen for _, seen in rows])
)
with_a_detect = samples.filter(lambda sample: any(sample[1]))


def km(sample: Sample) -> KaplanMeier:
    found = kaplan_meier(*sample)
    assert isinstance(found, KaplanMeier)
    return found


@pytest.mark.parametrize("method", [kaplan_meier, robust_ros, lognormal_likelihood])
def test_a_room_where_nothing_was_detected_has_no_estimate(method: object) -> None:
    assert callable(method)
    found = method([0.1, 0.2, 0.1], [False] * 3)
    assert isinstance(found, CannotTell)
    assert "nothing was detected" in found.reason
    assert isinstance(method([], []), CannotTell)


@pytest.mark.parametrize("method", [robust_ros, lognormal_likelihood])
def test_one_detect_or_detects_all_alike_draw_no_line(method: object) -> None:
    assert callable(method)
    for values, detect in (([0.1, 0.3], [False, True]), ([0.1, 0.3, 0.3], [False, True, True])):
        found = method(values, detect)
        assert isinstance(found, CannotTell)
        assert "one number" in found.reason


def test_one_detect_still_has_a_kaplan_meier_mean_and_no_median() -> None:
    found = km(([0.1, 0.1, 0.1, 0.5], [False, False, False, True]))
    assert found.mean == pytest.approx(0.2)
    assert found.median is None
    assert found.below == pytest.approx(0.75)


def test_what_lies_below_the_lowest_detect_goes_to_its_own_limits_or_to_the_lowest() -> None:
    values, detect = [1.0, 3.0, 4.0, 8.0], [False, False, True, True]
    assert km((values, detect)).mean == pytest.approx((1 + 3 + 4 + 8) / 4)
    lowest = kaplan_meier(values, detect, below="lowest limit")
    assert isinstance(lowest, KaplanMeier)
    assert lowest.mean == pytest.approx((1 + 1 + 4 + 8) / 4)


@pytest.mark.parametrize("method", [kaplan_meier, robust_ros, lognormal_likelihood])
@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf"), 1e101])
def test_a_value_that_is_no_number_above_zero_is_one_line(method: object, bad: float) -> None:
    assert callable(method)
    with pytest.raises(EstimateError, match=r"value 2 is .*; write a reading") as caught:
        method([1.0, bad], [True, True])
    assert "\n" not in str(caught.value)


def test_values_and_flags_have_to_be_as_many() -> None:
    with pytest.raises(EstimateError, match="one flag for each value"):
        kaplan_meier([1.0, 2.0], [True])


@given(st.lists(numbers, min_size=2, max_size=25))
def test_with_nothing_censored_kaplan_meier_is_the_ordinary_sample(values: list[float]) -> None:
    found = km((values, [True] * len(values)))
    assert found.mean == pytest.approx(np.mean(values))
    assert found.median == pytest.approx(np.median(values))
    assert found.sd == pytest.approx(np.std(values), abs=1e-9)
    error = np.std(values, ddof=1) / np.sqrt(len(values))
    assert found.small_sample_error() == pytest.approx(error, abs=1e-9)
    assert found.below == pytest.approx(0.0, abs=1e-12)


@given(st.lists(numbers, min_size=3, max_size=25).filter(lambda v: len(set(v)) > 1))
def test_with_nothing_censored_the_other_two_are_the_ordinary_sample(values: list[float]) -> None:
    detect = [True] * len(values)
    ros, fit = robust_ros(values, detect), lognormal_likelihood(values, detect)
    assert isinstance(ros, RegressionOnOrder)
    assert isinstance(fit, LognormalFit)
    assert ros.mean == pytest.approx(np.mean(values))
    assert fit.log_mean == pytest.approx(np.mean(np.log(values)), abs=1e-6)
    assert fit.log_sd == pytest.approx(np.std(np.log(values)), rel=1e-5)


@given(with_a_detect)
def test_the_masses_add_up_and_the_mean_lies_between_zero_and_full_substitution(
    sample: Sample,
) -> None:
    found = km(sample)
    values, detect = np.array(sample[0]), np.array(sample[1])
    assert found.masses.sum() == pytest.approx(1.0)
    assert (found.masses >= 0.0).all()
    # a limit above every detect says nothing, so full substitution reaches to the highest detect
    full = np.where(detect, values, np.minimum(values, values[detect].max()))
    assert np.where(detect, values, 0.0).mean() <= found.mean + 1e-12
    assert found.mean <= full.mean() + 1e-12


@given(with_a_detect, st.floats(0.01, 0.99))
def test_a_non_detect_below_everything_never_raises_the_mean(sample: Sample, part: float) -> None:
    values, detect = sample
    more = [*values, part * min(values)], [*detect, False]
    assert km(more).mean <= km(sample).mean + 1e-12


@given(with_a_detect, st.randoms(use_true_random=False))
def test_the_order_of_the_readings_does_not_matter(sample: Sample, random: object) -> None:
    rows = list(zip(*sample, strict=True))
    random.shuffle(rows)  # type: ignore[attr-defined]
    other = [one for one, _ in rows], [seen for _, seen in rows]
    assert km(other).mean == km(sample).mean
    first, second = robust_ros(*sample), robust_ros(*other)
    assert isinstance(first, CannotTell) == isinstance(second, CannotTell)
    if isinstance(first, RegressionOnOrder) and isinstance(second, RegressionOnOrder):
        assert second.mean == first.mean


@given(with_a_detect, st.sampled_from([0.001, 0.5, 3.0, 1000.0]))
def test_another_unit_gives_the_same_estimates(sample: Sample, factor: float) -> None:
    values, detect = sample
    other = [factor * one for one in values]
    assert km((other, detect)).mean == pytest.approx(factor * km(sample).mean)
    assert km((other, detect)).standard_error == pytest.approx(
        factor * km(sample).standard_error, abs=1e-12
    )
    for method in (robust_ros, lognormal_likelihood):
        first, second = method(values, detect), method(other, detect)
        if not isinstance(first, CannotTell):
            assert not isinstance(second, CannotTell)
            assert second.mean == pytest.approx(factor * first.mean, rel=1e-4)
