"""The limit of the mean: which method, and when there is none."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.clearance.bootstrap import bca_limits
from hgmap.decide.clearance.censored import KaplanMeier, kaplan_meier
from hgmap.decide.clearance.distribution import shape_of
from hgmap.decide.clearance.judge import judge
from hgmap.decide.clearance.land import land_h, land_ucl
from hgmap.decide.clearance.rules import find_rule
from hgmap.decide.clearance.sample import CannotTell
from hgmap.decide.clearance.statistics import room_statistics
from hgmap.decide.clearance.ucl import bca_ucl, chebyshev_ucl, student_t_ucl, ucl95
from hgmap.decide.clearance.ucl_others import by_every_method
from hgmap.errors import EstimateError

NORMAL_SCORES = np.array([-1.5, -1.0, -0.66, -0.4, -0.13, 0.13, 0.4, 0.66, 1.0, 1.5])

numbers = st.floats(0.01, 50.0)
samples = st.lists(st.tuples(numbers, st.booleans()), min_size=3, max_size=20).map(
    lambda rows: ([one for one, _ in rows], [seen for _, seen in rows])
)


def test_few_readings_have_no_limit_and_under_eight_it_is_flagged() -> None:
    for n in (0, 1, 2):
        found = ucl95([0.5, 0.7][:n], [True] * n)
        assert found.value is None
        assert "of the 3 readings" in found.why
    assert "take it as a hint" in ucl95([0.4, 0.5, 0.7], [True] * 3).why
    assert "hint" not in ucl95(1.0 + 0.2 * NORMAL_SCORES, [True] * 10).why


def test_without_detects_or_without_scatter_there_is_no_limit() -> None:
    assert ucl95([0.1] * 9, [False] * 9).value is None
    assert "nothing was detected" in ucl95([0.1] * 9, [False] * 9).why
    assert ucl95([0.1] * 9, [True] * 2 + [False] * 7).value is None
    same = ucl95([0.3] * 9, [True] * 9)
    assert same.value is None
    assert "same number" in same.why


def test_a_plain_normal_set_gets_student_or_the_higher_land() -> None:
    values = np.concatenate([1.0 + 0.2 * NORMAL_SCORES, [0.25]])  # low tail: not lognormal
    found = ucl95(values, [True] * 11)
    assert found.method == "Student t"
    assert found.distribution == "normal"
    assert found.value == student_t_ucl(values)
    both = 1.0 + 0.2 * NORMAL_SCORES
    assert ucl95(both, [True] * 10).value == max(student_t_ucl(both), land_ucl(both))


def test_a_wide_lognormal_set_gets_land_with_a_warning() -> None:
    values = np.exp(1.5 * NORMAL_SCORES)
    found = ucl95(values, [True] * 10)
    assert (found.method, found.distribution) == ("Land's H", "lognormal")
    assert "far too high" in found.why


def test_neither_gets_chebyshev_and_the_bootstrap_only_for_many_even_readings() -> None:
    few = [0.1] * 6 + [5.0] * 4
    assert ucl95(few, [True] * 10).method == "Chebyshev (mean, sd)"
    assert ucl95(few, [True] * 10).value == chebyshev_ucl(few)
    skewed = [0.1] * 36 + [5.0] * 4
    assert ucl95(skewed, [True] * 40).method == "Chebyshev (mean, sd)"
    even = [0.5, 0.51] * 10 + [1.0, 1.01] * 10
    found = ucl95(even, [True] * 40)
    assert found.method == "BCa bootstrap"
    assert found.value == bca_ucl(even)


def test_non_detects_get_the_kaplan_meier_mean_and_say_which_limit() -> None:
    even = 1.0 + 0.2 * NORMAL_SCORES
    assert ucl95([*even, 0.6], [True] * 10 + [False]).method == "Kaplan-Meier mean, Student t"
    skewed = np.exp(0.8 * NORMAL_SCORES)
    found = ucl95([*skewed, 0.3], [True] * 10 + [False])
    assert found.method == "Kaplan-Meier mean, Chebyshev"
    wide = np.exp(2.0 * NORMAL_SCORES)
    assert ucl95([*wide, 0.3], [True] * 10 + [False]).method.endswith("97.5 %")
    km = kaplan_meier([*skewed, 0.3], [True] * 10 + [False])
    assert isinstance(km, KaplanMeier)
    assert found.value == pytest.approx(km.mean + 19**0.5 * km.small_sample_error())


def test_a_scatter_without_end_is_said_not_raised() -> None:
    found = ucl95([1e-90, 1.0, 1e90], [True] * 3)
    assert found.value is None
    assert "no end" in found.why
    assert land_ucl([1e-90, 1.0, 1e90]) == float("inf")


def test_land_asks_for_three_values_and_a_scatter() -> None:
    for s, n in ((0.5, 2), (0.0, 9), (float("nan"), 9)):
        with pytest.raises(EstimateError, match="three values and a scatter"):
            land_h(s, n)
    with pytest.raises(EstimateError):
        land_ucl([1.0, 1.0, 1.0])
    with pytest.raises(EstimateError, match="two values"):
        student_t_ucl([1.0])


def test_land_for_a_small_scatter_is_the_normal_quantile_of_many_readings() -> None:
    # s -> 0: the logarithms are the values, and H -> t * sqrt((n - 1) / n)
    assert land_h(1e-4, 20) == pytest.approx(1.729133 * (19 / 20) ** 0.5, abs=2e-4)


def test_the_bootstrap_of_equal_readings_cannot_tell() -> None:
    assert isinstance(bca_limits([2.0, 2.0, 2.0], [0.95]), CannotTell)
    assert isinstance(bca_limits([2.0], [0.95]), CannotTell)


def test_more_readings_than_the_test_takes_are_neither() -> None:
    assert shape_of(np.linspace(1.0, 2.0, 5001)).name == "neither"


@given(samples)
def test_the_limit_is_never_below_the_mean(sample: tuple[list[float], list[bool]]) -> None:
    values, detect = sample
    found = ucl95(values, detect)
    if found.value is not None:
        km = kaplan_meier(values, detect)
        assert isinstance(km, KaplanMeier)
        assert found.value >= km.mean * (1 - 1e-12)
        assert found.method
    else:
        assert found.method == ""
    assert found.why


@given(samples, st.sampled_from([0.001, 0.5, 1024.0]))
def test_another_unit_gives_the_same_limit(
    sample: tuple[list[float], list[bool]], factor: float
) -> None:
    values, detect = sample
    first, second = ucl95(values, detect), ucl95([factor * one for one in values], detect)
    assert second.method == first.method
    if first.value is not None:
        assert second.value == pytest.approx(factor * first.value, rel=1e-7)


@given(samples, st.randoms(use_true_random=False))
def test_the_order_of_the_readings_does_not_matter(
    sample: tuple[list[float], list[bool]], random: object
) -> None:
    rows = list(zip(*sample, strict=True))
    random.shuffle(rows)  # type: ignore[attr-defined]
    assert ucl95([one for one, _ in rows], [seen for _, seen in rows]) == ucl95(*sample)


def hot_rooms(n: int, hot: float, surveys: int) -> tuple[float, float]:
    """Return how often the limit, and the rule, were below the mean of invented rooms."""
    draw = np.random.default_rng(1)
    mean = (1.0 + 4.0 * hot) * np.exp(0.3**2 / 2.0)
    rule = find_rule("ucl-below")
    short = met = 0
    for _ in range(surveys):
        places = np.where(draw.random(n) < hot, 5.0, 1.0) * np.exp(0.3 * draw.standard_normal(n))
        room = room_statistics("room", places, [True] * n, mean)
        short += room.ucl.value is None or room.ucl.value < mean
        met += judge(rule, room, mean).outcome == "meets"
    return short / surveys, met / surveys


def test_the_rule_holds_where_a_tenth_is_hot_though_the_limit_alone_does_not() -> None:
    assert hot_rooms(10, 0.0, 200)[0] <= 0.09
    short, met = hot_rooms(8, 0.1, 200)
    assert 0.25 <= short <= 0.42
    assert met < 0.05


def test_a_land_limit_below_the_mean_is_put_aside() -> None:
    values = np.exp(2.5 * np.random.default_rng(41).standard_normal(300))
    assert land_ucl(values) < values.mean()
    found = ucl95(values, [True] * 300)
    assert found.method == "Chebyshev (mean, sd)"
    assert found.value == chebyshev_ucl(values)
    assert found.why == "Land's H fell below the mean"


@given(st.lists(st.floats(1e-6, 1e6), max_size=40))
def test_every_method_gives_a_number_or_none_whatever_the_readings(values: list[float]) -> None:
    for limit in by_every_method(values).values():
        assert limit is None or math.isfinite(limit)


def test_no_limit_by_method_without_a_scatter() -> None:
    assert by_every_method([0.2] * 9) == by_every_method([0.1, 0.2]) == {}
