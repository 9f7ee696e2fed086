"""The statistics of one room."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.clearance.statistics import as_written, room_statistics
from hgmap.errors import EstimateError


class Written:
    """As much of a reading as is looked at."""

    def __init__(self, concentration: float | None, qualifier: str) -> None:
        self.id, self.concentration, self.qualifier = "R7", concentration, qualifier


def test_every_qualifier_counts_so_that_a_room_never_looks_cleaner() -> None:
    rows: list[Any] = [Written(1.0, ""), Written(2.0, "<"), Written(3.0, ">"), Written(4.0, "to"),
                       Written(5.0, "up to"), Written(6.0, "~")]  # fmt: skip
    found = as_written(rows)
    assert found.values == (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
    assert found.is_detect == (True, False, True, True, True, True)
    assert found.is_saturated == (False, False, True, False, False, False)


def test_a_reading_without_a_concentration_is_one_line() -> None:
    rows: list[Any] = [Written(None, "")]
    with pytest.raises(EstimateError, match="reading R7: a reading without a concentration"):
        as_written(rows)


def test_a_plain_room_has_every_figure() -> None:
    values = [0.2, 0.3, 0.25, 0.5, 0.4, 0.35, 0.28, 0.45]
    room = room_statistics("kitchen", values, [True] * 8, 1.0)
    assert (room.n, room.detects, room.minimum, room.maximum) == (8, 8, 0.2, 0.5)
    assert room.mean.value == pytest.approx(sum(values) / 8)
    assert room.mean.method == "arithmetic mean"
    assert room.median.value == pytest.approx(0.325)
    assert room.percentile95.value is not None
    assert room.ucl.value is not None
    assert room.utl.value is not None
    assert room.mean.value < room.ucl.value < room.utl.value
    assert room.exceedance is not None
    assert room.exceedance.method.startswith("lognormal")


def test_a_room_without_readings_has_none_and_says_so() -> None:
    room = room_statistics("attic", [], [], 1.0)
    assert (room.n, room.minimum, room.least_mean) == (0, None, None)
    for figure in (room.mean, room.median, room.utl, room.percentile95):
        assert (figure.value, figure.why) == (None, "there is no reading")
    assert room.ucl.value is None
    assert room.exceedance_why == "there is no reading"


def test_a_room_where_nothing_was_detected_keeps_its_limits_apart_from_its_lowest() -> None:
    room = room_statistics("hall", [0.1, 0.3], [False, False], 1.0)
    assert (room.minimum, room.maximum) == (None, None)
    assert (room.lowest_limit, room.highest_limit) == (0.1, 0.3)
    assert room.mean.value is None
    assert "nothing was detected" in room.mean.why
    assert room.least_mean == 0.0
    assert room.exceedance is not None
    assert room.exceedance.upper == pytest.approx(1 - 0.05**0.5)


def test_a_saturated_reading_takes_away_mean_limit_and_share() -> None:
    room = room_statistics(
        "bath", [0.2, 0.3, 50.0], [True] * 3, 1.0, is_saturated=[False, False, True]
    )
    assert (room.saturated, room.highest_saturated) == (1, 50.0)
    assert room.least_mean == pytest.approx(50.5 / 3)
    for figure in (room.mean, room.median, room.utl):
        assert figure.value is None
        assert "saturated" in figure.why
    assert room.ucl.value is None
    assert room.exceedance is None


def test_the_mean_is_taken_by_the_method_asked_for() -> None:
    values, detect = [0.1, 0.2, 0.3, 0.5, 0.9], [False, True, True, True, True]
    km = room_statistics("hall", values, detect, 1.0)
    ros = room_statistics("hall", values, detect, 1.0, mean_method="robust ROS")
    assert (km.mean.method, ros.mean.method) == ("Kaplan-Meier", "robust ROS")
    assert km.mean.value == pytest.approx(0.4)
    assert ros.mean.value is not None
    assert ros.mean.value < 0.4
    mostly = room_statistics("hall", [0.1, 0.1, 0.9], [False, False, True], 1.0)
    assert mostly.median.value is None
    assert "half of the readings" in mostly.median.why


@pytest.mark.parametrize("level", [0.0, -0.5, float("nan")])
def test_a_level_of_zero_or_below_is_refused(level: float) -> None:
    with pytest.raises(EstimateError, match="level above zero"):
        room_statistics("hall", [0.1], [True], level)


def test_a_non_detect_cannot_be_saturated() -> None:
    with pytest.raises(EstimateError, match="none on a non-detect"):
        room_statistics("hall", [0.1], [False], 1.0, is_saturated=[True])
    with pytest.raises(EstimateError, match="one flag of saturation"):
        room_statistics("hall", [0.1], [True], 1.0, is_saturated=[True, False])


@given(st.lists(st.tuples(st.floats(0.01, 9.0), st.booleans(), st.floats(0.0, 1.0)), min_size=2,
                max_size=30))  # fmt: skip
def test_no_air_below_the_detection_limits_has_a_higher_mean_or_scatter_than_the_bound(
    given_room: list[tuple[float, bool, float]],
) -> None:
    values, detect = [one[0] for one in given_room], [one[1] for one in given_room]
    room = room_statistics("kitchen", values, detect, 1.0)
    air = [value if seen else share * value for value, seen, share in given_room]
    assert room.worst_mean is not None
    assert room.worst_sd is not None
    assert np.mean(air) <= room.worst_mean + 1e-9
    assert np.std(air, ddof=1) <= room.worst_sd + 1e-9


def test_a_saturated_reading_has_no_bound() -> None:
    room = room_statistics("kitchen", [0.2, 0.3], [True, True], 1.0, is_saturated=[False, True])
    assert (room.worst_mean, room.worst_sd) == (None, None)
