"""Floor against breathing height."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from hgmap.decide.origin_heights import NORMAL_95, height_ratios
from hgmap.decide.origin_words import height_words

Make = Callable[..., Any]


@pytest.fixture
def ratio_of(survey: Make, make_reading: Make, make_floor: Make) -> Callable[..., Any]:
    def made(*pairs: tuple[float, str, float, str], apart: float = 0.1) -> Any:
        floor = make_floor([(0, 0, 20, 5)])
        readings = []
        for k, (low, low_sign, high, high_sign) in enumerate(pairs):
            x = 1.0 + 3.0 * k
            readings.append(make_reading(f"L{k}", "r0", (x, 2.0), low, low_sign, height_m=0.05))
            readings.append(make_reading(f"H{k}", "r0", (x + apart, 2.0), high, high_sign))
        return height_ratios(survey(floor, readings))

    return made


def test_one_pair_has_the_stated_errors_of_both(ratio_of: Make) -> None:
    # Bartlesville: 185 at the floor, 56 at 1 m, ratio 3.3 (ATSDR health consultation 2001)
    (one,) = ratio_of((185.0, "", 56.0, ""))
    reach = math.exp(NORMAL_95 * math.hypot(0.1, 0.1))
    assert one.ratio == pytest.approx(3.3036, abs=1e-4)
    assert one.low == pytest.approx(3.3036 / reach, rel=1e-4)
    assert one.high == pytest.approx(3.3036 * reach, rel=1e-4)
    assert one.readings == ("L0", "H0")
    assert "near a source at the floor" in height_words(one)


def test_three_pairs_have_the_interval_of_their_scatter(ratio_of: Make) -> None:
    (one,) = ratio_of((1.0, "", 1.0, ""), (2.0, "", 1.0, ""), (4.0, "", 1.0, ""))
    # logarithms 0, ln 2, 2 ln 2: mean ln 2, sd ln 2; t(0.975, 2) = 4.302653 (table of Student's t)
    reach = 4.302653 * math.log(2) / math.sqrt(3)
    assert one.ratio == pytest.approx(2.0)
    assert one.high == pytest.approx(2.0 * math.exp(reach), rel=1e-5)
    assert "tells neither way" in height_words(one)


def test_less_at_the_floor_points_away_from_it(ratio_of: Make) -> None:
    (one,) = ratio_of((1.0, "", 4.0, ""))
    assert one.high < 1.0
    assert "lower at the floor" in height_words(one)


def test_bounds_stay_bounds(ratio_of: Make) -> None:
    (saturated,) = ratio_of((50.0, ">", 5.0, ""))
    assert saturated.ratio is None
    assert saturated.high is None
    assert 7.0 < saturated.low < 10.0
    (both,) = ratio_of((50.0, ">", 50.0, ">"))
    assert (both.low, both.ratio, both.high) == (None, None, None)
    (missed,) = ratio_of((0.9, "<", 9.0, ""))
    assert missed.low is None
    assert 0.1 < missed.high < 0.14


def test_places_more_than_half_a_metre_apart_are_no_pair(ratio_of: Make) -> None:
    assert ratio_of((3.0, "", 1.0, ""), apart=0.6) == ()


def test_a_pair_does_not_reach_through_a_wall(
    survey: Make, make_reading: Make, make_floor: Make
) -> None:
    floor = make_floor([(0, 0, 5, 5), (5, 0, 10, 5)])
    readings = [
        make_reading("low", "r0", (4.9, 2.0), 9.0, height_m=0.05),
        make_reading("high", "r1", (5.1, 2.0), 1.0),
    ]
    assert height_ratios(survey(floor, readings)) == ()
