"""Inverse distance weighting: its laws, and what it says to bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.idw import idw

Floats = NDArray[np.float64]


@st.composite
def surveys(draw: st.DrawFn) -> tuple[Floats, Floats, Floats]:
    """Readings on a quarter-metre lattice, so that a shift of the frame is exact, and targets."""
    steps = st.integers(0, 80)
    places = draw(st.lists(st.tuples(steps, steps), min_size=1, max_size=12, unique=True))
    targets = draw(st.lists(st.tuples(steps, steps), min_size=1, max_size=6))
    values = draw(st.lists(st.floats(-100, 100), min_size=len(places), max_size=len(places)))
    return np.array(places) / 4, np.array(values), np.array(targets) / 4 + 0.0625


POWERS = st.floats(0.25, 12)


@given(surveys(), POWERS)
def test_an_estimate_lies_between_the_least_and_the_greatest_reading(
    survey: tuple[Floats, Floats, Floats], power: float
) -> None:
    xy, values, targets = survey
    estimate = idw(xy, values, targets, power=power)
    assert (estimate >= values.min() - 1e-9).all()
    assert (estimate <= values.max() + 1e-9).all()


@given(surveys(), POWERS)
def test_a_shift_of_the_frame_by_a_thousand_kilometres_changes_nothing(
    survey: tuple[Floats, Floats, Floats], power: float
) -> None:
    xy, values, targets = survey
    shifted = idw(xy + 1e6, values, targets + 1e6, power=power)
    assert shifted == pytest.approx(idw(xy, values, targets, power=power), abs=1e-9)


@given(surveys(), POWERS, st.randoms())
def test_the_order_of_the_readings_does_not_matter(
    survey: tuple[Floats, Floats, Floats], power: float, random: object
) -> None:
    xy, values, targets = survey
    order = list(range(len(xy)))
    random.shuffle(order)  # type: ignore[attr-defined]
    assert idw(xy[order], values[order], targets, power=power) == pytest.approx(
        idw(xy, values, targets, power=power), abs=1e-9
    )


@given(surveys(), POWERS, st.floats(-1000, 1000))
def test_the_unit_of_the_readings_passes_through(
    survey: tuple[Floats, Floats, Floats], power: float, factor: float
) -> None:
    xy, values, targets = survey
    assert idw(xy, factor * values, targets, power=power) == pytest.approx(
        factor * idw(xy, values, targets, power=power), rel=1e-9, abs=1e-7
    )


@given(surveys(), POWERS)
def test_at_a_reading_the_estimate_is_that_reading(
    survey: tuple[Floats, Floats, Floats], power: float
) -> None:
    xy, values, _ = survey
    assert idw(xy, values, xy, power=power).tolist() == values.tolist()


def test_readings_at_one_place_are_averaged_there() -> None:
    estimate = idw([(0, 0), (0, 0), (5, 0)], [1.0, 3.0, 9.0], [(0, 0)])
    assert estimate[0] == 2.0


@pytest.mark.parametrize("power", [1e-3, 2, 500, 1e6])
def test_no_power_overflows(power: float) -> None:
    estimate = idw(
        [(0, 0), (1, 0), (1e4, 0)], [1.0, 2.0, 3.0], [(0.4, 0), (1e-200, 0)], power=power
    )
    assert np.isfinite(estimate).all()
    if power >= 500:
        assert estimate == pytest.approx([1.0, 1.0])


def test_blocks_give_the_same_as_one_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(1)
    xy, values, targets = random.random((9, 2)), random.random(9), random.random((50, 2))
    whole = idw(xy, values, targets)
    monkeypatch.setattr("hgmap.field.idw.BLOCK_BYTES", 8 * 9 * 7)
    calls: list[tuple[int, int]] = []
    pieces = idw(xy, values, targets, progress=lambda done, all_: calls.append((done, all_)))
    assert pieces == pytest.approx(whole, rel=1e-14)
    assert calls == [(min(7 * k, 50), 50) for k in range(1, 9)]


def test_a_progress_call_that_raises_stops_the_work() -> None:
    def stop(done: int, all_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        idw([(0, 0)], [1.0], [(1, 1)], progress=stop)


def test_no_target_gives_no_estimate() -> None:
    assert idw([(0, 0)], [1.0], np.empty((0, 2))).shape == (0,)


@pytest.mark.parametrize("power", [0, -1, np.nan, np.inf])
def test_a_power_that_is_not_above_0_is_refused(power: float) -> None:
    with pytest.raises(EstimateError, match=r"power of .* cannot be used; give one above 0"):
        idw([(0, 0)], [1.0], [(1, 1)], power=power)


def test_no_reading_is_refused() -> None:
    with pytest.raises(EstimateError, match="no reading"):
        idw(np.empty((0, 2)), [], [(1, 1)])
