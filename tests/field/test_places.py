"""Readings as an estimate takes them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.field.places import merge_places

XY = np.array([(0.0, 0.0), (0.01, 0.0), (3.0, 0.0)])
ROOM = np.zeros(3, dtype=np.int64)


def test_replicates_become_one_place_with_a_smaller_error() -> None:
    places = merge_places(XY, np.array([1.0, 1.1, 2.0]), ROOM, tolerance_m=0.05, reading_sd=0.1)
    assert places.values == pytest.approx([1.05, 2.0])
    assert places.count.tolist() == [2, 1]
    assert places.error_weight[1] == pytest.approx(1.0)
    assert 0.5 < places.error_weight[0] < 1.0


def test_replicates_that_disagree_weigh_less_than_those_that_agree() -> None:
    def weight(second: float) -> float:
        values = np.array([1.0, second, 2.0])
        return float(
            merge_places(XY, values, ROOM, tolerance_m=0.05, reading_sd=0.1).error_weight[0]
        )

    assert weight(1.0) < weight(1.1) < weight(2.0)
    assert weight(2.0) > 1.0


def test_an_interval_is_never_merged() -> None:
    values = np.array([1.0, 1.0, 2.0])
    bounds = (np.array([-3.0, 1.0, 2.0]), values)
    places = merge_places(XY, values, ROOM, tolerance_m=0.05, reading_sd=0.1, bounds=bounds)
    assert len(places.values) == 3
    assert places.intervals is not None
    assert places.intervals.which.tolist() == [0]
    assert places.intervals.lower.tolist() == [-3.0]


def test_readings_on_both_sides_of_a_thin_wall_stay_apart() -> None:
    room = np.array([0, 1, 1])
    places = merge_places(XY, np.ones(3), room, tolerance_m=0.05, reading_sd=0.1)
    assert places.room.tolist() == [0, 1, 1]


@given(st.integers(1, 30))
def test_half_of_the_nugget_stays_however_many_replicates_there_are(count: int) -> None:
    places = merge_places(
        np.zeros((count, 2)), np.ones(count), np.zeros(count, dtype=np.int64),
        tolerance_m=0.01, reading_sd=None,
    )  # fmt: skip
    assert places.error_weight[0] == pytest.approx(0.5 + 0.5 / count)
