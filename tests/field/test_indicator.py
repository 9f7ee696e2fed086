"""Indicator kriging: what holds for any readings and threshold."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import CoincidentReadingsWarning, EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.indicator import indicator_probability
from hgmap.field.kriging import krige

Floats = NDArray[np.float64]
MODEL: dict[str, Any] = {"model": "spherical", "nugget": 0.05, "psill": 0.15, "range_": 8.0}


@st.composite
def surveys(draw: st.DrawFn) -> tuple[Floats, Floats, Floats]:
    steps = st.integers(0, 40)
    places = draw(st.lists(st.tuples(steps, steps), min_size=2, max_size=10, unique=True))
    targets = draw(st.lists(st.tuples(steps, steps), min_size=1, max_size=5))
    values = draw(st.lists(st.integers(0, 9), min_size=len(places), max_size=len(places)))
    return np.array(places) / 2, np.array(values, float), np.array(targets) / 2 + 0.125


@given(surveys(), st.integers(-1, 10), st.booleans())
def test_it_is_kriging_of_ones_and_zeros_held_between_them(
    one: tuple[Floats, Floats, Floats], threshold: int, exact: bool
) -> None:
    xy, values, targets = one
    targets = np.vstack([targets, xy])
    options = MODEL | {"exact": exact, "anisotropy": Anisotropy(ratio=0.5, angle_deg=70)}
    calls: list[int] = []
    made = indicator_probability(
        xy, values, targets, threshold, progress=lambda done, _: calls.append(done), **options
    )
    raw, variance = krige(xy, [float(z > threshold) for z in values], targets, **options)
    assert (made.raw == raw).all()
    assert (made.variance == variance).all()
    assert made.probability.tolist() == [min(max(p, 0.0), 1.0) for p in raw]
    assert calls == [len(targets)]


@given(surveys(), st.integers(-1, 10))
def test_above_and_not_above_add_up_to_one(
    one: tuple[Floats, Floats, Floats], threshold: int
) -> None:
    xy, values, targets = one
    above = indicator_probability(xy, values, targets, threshold, **MODEL)
    below = indicator_probability(xy, -values, targets, -threshold - 0.5, **MODEL)
    assert above.raw + below.raw == pytest.approx(1.0)
    assert above.probability + below.probability == pytest.approx(1.0)


@given(surveys())
def test_the_ones_and_zeros_alone_count(one: tuple[Floats, Floats, Floats]) -> None:
    xy, values, targets = one
    plain = indicator_probability(xy, values, targets, 4.5, **MODEL)
    stretched = indicator_probability(xy, np.exp(values), targets, np.exp(4.5), **MODEL)
    assert (plain.raw == stretched.raw).all()


def test_a_reading_at_the_threshold_is_not_above_it() -> None:
    made = indicator_probability([(0, 0), (4, 0)], [3.0, 3.5], [(0, 0), (4, 0)], 3.0, **MODEL)
    assert made.probability.tolist() == [0.0, 1.0]


def test_no_reading_above_gives_zero_everywhere() -> None:
    made = indicator_probability([(0, 0), (4, 0)], [1.0, 2.9], [(1, 1), (90, 0)], 3.0, **MODEL)
    assert made.probability.tolist() == [0.0, 0.0]


def test_readings_behind_others_take_the_raw_value_out_of_bounds() -> None:
    # the far readings are screened by the near one and weigh below 0
    xy = [(1, 0), (2, 0), (2, 0.5), (2, -0.5)]
    smooth = MODEL | {"model": "gaussian", "nugget": 1e-3}
    behind = indicator_probability(xy, [0.0, 9, 9, 9], [(0, 0)], 3.0, **smooth)
    assert behind.raw[0] < 0
    assert behind.probability[0] == 0
    before = indicator_probability(xy, [9.0, 0, 0, 0], [(0, 0)], 3.0, **smooth)
    assert before.raw[0] > 1
    assert before.probability[0] == 1


def test_readings_at_one_place_count_as_their_share_above() -> None:
    with pytest.warns(CoincidentReadingsWarning, match="rows 0, 2") as caught:
        made = indicator_probability(
            [(0, 0), (5, 0), (0, 0)], [1.0, 1.0, 9.0], [(0, 0)], 3.0, **MODEL
        )
    assert made.probability.tolist() == [0.5]
    assert caught[0].filename.endswith("test_indicator.py")


@pytest.mark.parametrize("threshold", [np.nan, np.inf])
def test_a_threshold_that_is_no_number_is_refused(threshold: float) -> None:
    with pytest.raises(EstimateError, match=f"threshold is {threshold}; give a finite number"):
        indicator_probability([(0, 0), (4, 0)], [1.0, 2.0], [(1, 1)], threshold, **MODEL)


def test_a_reading_that_is_no_number_is_not_taken_for_one_below() -> None:
    with pytest.raises(EstimateError, match="values row 1"):
        indicator_probability([(0, 0), (4, 0)], [1.0, np.nan], [(1, 1)], 3.0, **MODEL)
