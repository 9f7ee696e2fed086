"""The door of the numerics: what is refused, and how readings at one place are merged."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import CoincidentReadingsWarning, EstimateError
from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.field.points import as_points, as_values, merge_and_warn, merge_coincident

GOOD = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (3.0, 2.0)]
VALUES = [1.0, 2.0, 3.0, 4.0]
TARGET = [(0.5, 0.5)]


def krige_it(xy: Any, values: Any, targets: Any) -> Any:
    return krige(xy, values, targets, model="exponential", nugget=0.1, psill=1.0, range_=5.0)


@pytest.fixture(params=[idw, krige_it], ids=["idw", "krige"])
def estimate(request: pytest.FixtureRequest) -> Callable[..., Any]:
    function: Callable[..., Any] = request.param
    return function


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_value_that_is_not_finite_is_named_by_its_row(
    estimate: Callable[..., Any], bad: float
) -> None:
    with pytest.raises(EstimateError, match=r"values row 2 \(counted from 0\) is not a finite"):
        estimate(GOOD, [1.0, 2.0, bad, 4.0], TARGET)


@pytest.mark.parametrize(
    "bad", [(np.nan, 0), (0, np.inf), (np.inf, -np.inf), (np.nan, np.nan), (-np.inf, np.nan)]
)
def test_a_place_that_is_not_finite_is_named_by_its_row(
    estimate: Callable[..., Any], bad: tuple[float, float]
) -> None:
    with pytest.raises(EstimateError, match=r"^xy row 1 .*, and 1 more; hold or mend"):
        estimate([GOOD[0], bad, GOOD[2], bad], VALUES, TARGET)
    with pytest.raises(EstimateError, match=r"^targets row 0 .*not a finite number; hold"):
        estimate(GOOD, VALUES, [bad])


@pytest.mark.parametrize(
    ("xy", "values", "targets", "message"),
    [
        ([1.0, 2.0], VALUES, TARGET, r"xy has shape \(2,\); give an array of shape \(n, 2\)"),
        (np.zeros((4, 3)), VALUES, TARGET, r"xy has shape \(4, 3\)"),
        ([], [], TARGET, r"xy has shape \(0,\)"),
        (np.empty((0, 2)), [], TARGET, "no reading to estimate from"),
        (GOOD, VALUES[:3], TARGET, r"values has shape \(3,\); give one value for each of the 4"),
        (GOOD, [VALUES], TARGET, r"values has shape \(1, 4\)"),
        (GOOD, 7.0, TARGET, r"values has shape \(\)"),
        (GOOD, VALUES, (0.5, 0.5), r"targets has shape \(2,\)"),
        (GOOD, ["a", "b", "c", "d"], TARGET, "values is not an array of numbers"),
        ([(0, 0), (1,)], VALUES, TARGET, "xy is not an array of numbers"),
        (GOOD, [1.0, None, 2.0, 3.0], TARGET, "values row 1"),
    ],
)
def test_arrays_that_do_not_fit_are_refused_in_one_line(
    estimate: Callable[..., Any], xy: Any, values: Any, targets: Any, message: str
) -> None:
    with pytest.raises(EstimateError, match=message) as caught:
        estimate(xy, values, targets)
    assert "\n" not in str(caught.value)


def test_large_finite_coordinates_are_finite() -> None:
    assert as_points([(1e308, 1e308)]).tolist() == [[1e308, 1e308]]


def test_integers_and_booleans_become_numbers() -> None:
    assert as_values([True, 2], 2).dtype == np.float64
    assert as_points([(1, 2)]).dtype == np.float64


def test_readings_at_one_place_are_named_in_a_warning_and_averaged() -> None:
    xy = [(0, 0), (2, 0), (0, 0), (0, 3), (2, 0), (0, 0)]
    values = [1.0, 10.0, 2.0, 7.0, 20.0, 6.0]
    with pytest.warns(
        CoincidentReadingsWarning,
        match=r"readings at one place were averaged \(rows 0, 2, 5; 1, 4\)",
    ):
        merged = merge_and_warn(as_points(xy), as_values(values, 6))
    assert sorted(map(tuple, merged.xy)) == [(0, 0), (0, 3), (2, 0)]
    assert dict(zip(map(tuple, merged.xy), merged.values, strict=True)) == {
        (0, 0): 3.0,
        (2, 0): 15.0,
        (0, 3): 7.0,
    }
    assert [merged.values[place] for place in merged.group] == [3, 15, 3, 7, 15, 3]


def test_kriging_merges_and_warns_at_the_callers_line() -> None:
    with pytest.warns(CoincidentReadingsWarning, match="rows 1, 3") as caught:
        mean, _ = krige_it([*GOOD[:3], GOOD[1]], VALUES, [GOOD[1]])
    assert caught[0].filename.endswith("test_points.py")
    once, _ = krige_it(GOOD[:3], [1.0, 3.0, 3.0], [GOOD[1]])
    assert mean == pytest.approx(once)


def test_many_shared_places_are_counted_not_listed() -> None:
    xy = np.repeat(np.arange(10.0)[:, None] * [1, 0], 2, axis=0)
    with pytest.warns(CoincidentReadingsWarning, match=r"rows 0, 1; 2, 3; 4, 5; and 7 more"):
        merge_and_warn(xy, np.arange(20.0))


def test_places_a_millimetre_apart_are_two_places() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        merged = merge_and_warn(np.array([(0, 0), (0.001, 0), (40, 30)]), np.arange(3.0))
    assert len(merged.values) == 3


def test_a_chain_of_near_steps_is_one_place() -> None:
    xy = np.array([(0.0, 0), (0.04, 0), (0.08, 0), (9, 9)])
    merged = merge_coincident(xy, np.array([1.0, 2.0, 6.0, 5.0]), tolerance=0.05)
    assert merged.group.tolist() == [0, 0, 0, 1]
    assert merged.values == pytest.approx([3, 5])
    assert merged.xy == pytest.approx(np.array([(0.04, 0), (9, 9)]))


@given(
    st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=20), st.data()
)
def test_merging_keeps_the_sum_and_the_centre(
    places: list[tuple[int, int]], data: st.DataObject
) -> None:
    values = np.array(
        data.draw(st.lists(st.floats(-9, 9), min_size=len(places), max_size=len(places)))
    )
    xy = np.array(places, dtype=float)
    merged = merge_coincident(xy, values, tolerance=1e-6)
    size = np.bincount(merged.group)
    assert len(merged.values) == len(set(places))
    assert (merged.values * size).sum() == pytest.approx(values.sum(), abs=1e-9)
    assert size @ merged.xy == pytest.approx(xy.sum(axis=0))
    assert merged.xy[merged.group] == pytest.approx(xy)
    rows = [row for group in merged.repeated for row in group]
    assert sorted(rows) == [i for i, place in enumerate(places) if places.count(place) > 1]
