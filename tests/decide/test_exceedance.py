"""Probability above a level, and the standardised excess behind it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.exceedance import (
    exceedance_probability,
    excess_at,
    standardised_excess,
    working_level,
)
from hgmap.errors import LevelError
from hgmap.field.surface import Surface


def test_the_normal_by_its_table() -> None:
    # any table of the normal distribution: 1.644854 leaves 5 %, 1.281552 leaves 10 %
    found = exceedance_probability([1.644854, -1.644854, 1.281552, 0.0], 1.0, 0.0)
    assert found == pytest.approx([0.95, 0.05, 0.90, 0.50], abs=1e-6)


def test_students_t_by_its_table() -> None:
    # any table of Student's t: one-sided 95 % points 2.919986 (2), 1.894579 (7), 1.729133 (19)
    for freedom, point in ((2, 2.919986), (7, 1.894579), (19, 1.729133)):
        found = exceedance_probability([point], 1.0, 0.0, degrees_of_freedom=freedom)
        assert found[0] == pytest.approx(0.95, abs=1e-6)
        assert excess_at(0.95, freedom) == pytest.approx(point, abs=1e-6)
        assert excess_at(0.05, freedom) == pytest.approx(-point, abs=1e-6)


def test_very_many_degrees_of_freedom_are_the_normal() -> None:
    assert excess_at(0.95, 10**9) == pytest.approx(1.6448536, abs=1e-6)


numbers = st.floats(-50, 50)
spreads = st.one_of(st.just(0.0), st.floats(1e-6, 20))


@given(numbers, spreads, numbers, st.one_of(st.none(), st.integers(1, 60)))
def test_a_probability_lies_between_0_and_1_and_never_warns(
    mean: float, sd: float, level: float, freedom: int | None
) -> None:
    found = float(exceedance_probability(mean, sd, level, degrees_of_freedom=freedom))
    assert 0 <= found <= 1
    if abs(mean - level) > 1e-9 * max(sd, 1e-3):
        assert (found > 0.5) == (mean > level) or found == pytest.approx(0.5)


@given(numbers, st.floats(0.01, 20), numbers, st.integers(1, 60))
def test_few_readings_never_give_more_confidence_than_the_normal(
    mean: float, sd: float, level: float, freedom: int
) -> None:
    normal = float(exceedance_probability(mean, sd, level))
    student = float(exceedance_probability(mean, sd, level, degrees_of_freedom=freedom))
    assert abs(student - 0.5) <= abs(normal - 0.5) + 1e-9


@given(numbers, numbers, st.floats(0.01, 20), st.integers(1, 60))
def test_a_higher_level_is_exceeded_less_often(
    low: float, high: float, sd: float, freedom: int
) -> None:
    low, high = sorted((low, high))
    above = exceedance_probability(0.0, sd, np.array([low, high]), degrees_of_freedom=freedom)  # type: ignore[arg-type]
    assert above[0] >= above[1]


@pytest.mark.parametrize(("mean", "expected"), [(1.0, 1.0), (-1.0, 0.0), (0.0, 0.5)])
def test_without_spread_the_answer_is_known(mean: float, expected: float) -> None:
    assert exceedance_probability(mean, 0.0, 0.0) == expected


def test_outside_the_floor_there_is_no_probability() -> None:
    assert np.isnan(exceedance_probability([np.nan], [np.nan], 0.0)[0])


def test_the_standardised_excess_is_cut() -> None:
    found = standardised_excess([5.0, -5.0, 0.0, 1.0], [0.0, 1e-9, 0.0, 2.0], 0.0)
    assert found.tolist() == [1000, -1000, 0, 0.5]


@given(st.floats(0.01, 0.99), st.integers(2, 60))
def test_the_excess_at_a_probability_is_its_inverse(probability: float, freedom: int) -> None:
    z = excess_at(probability, freedom)
    found = exceedance_probability(z, 1.0, 0.0, degrees_of_freedom=freedom)
    assert float(found) == pytest.approx(probability, abs=1e-9)


def test_a_level_enters_on_the_scale_of_the_surface(
    make_floor: Callable[..., Any], lay: Callable[..., Surface]
) -> None:
    surface = lay(make_floor([(0, 0, 4, 3)]), lambda x, y: 0.0)
    assert working_level(surface, 2.5) == pytest.approx(np.log(2.5))


@pytest.mark.parametrize("level", [0.0, -1.0, np.nan])
def test_a_level_that_is_not_above_0_is_refused(
    make_floor: Callable[..., Any], lay: Callable[..., Surface], level: float
) -> None:
    with pytest.raises(LevelError, match="cannot be used; give one above 0"):
        working_level(lay(make_floor([(0, 0, 4, 3)]), lambda x, y: 0.0), level)
