"""Inverse distance weighting: its laws, and what it says to bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.chebyshev import ellipse_parameters, lay_axis
from hgmap.field.grid import Grid
from hgmap.field.idw import ELLIPSE, NODES, choose_side, idw, idw_grid

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


GX, GY = np.linspace(0.05, 29.95, 110), np.linspace(0.1, 19.9, 80)
CELLS = np.column_stack([np.tile(GX, 80), np.repeat(GY, 110)])


@pytest.fixture
def floor() -> tuple[Floats, Floats]:
    """60 readings, a third of them at the centre of a cell, two of these at one place."""
    random = np.random.default_rng(2)
    xy = random.uniform((0, 0), (30, 20), (60, 2))
    xy[:20] = CELLS[random.choice(len(CELLS), 20, replace=False)]
    xy[1] = xy[0]
    return xy, random.normal(3, 1, 60)


@pytest.mark.parametrize("power", [0.25, 1.0, 1.7, 2.0, 3.0, 4.0, 6.0, 8.0, 8.5, 30.0])
@pytest.mark.parametrize("side", [9, 16, 40])
def test_a_grid_gives_the_numbers_of_the_plain_loop(
    floor: tuple[Floats, Floats], monkeypatch: pytest.MonkeyPatch, power: float, side: int
) -> None:
    xy, values = floor
    plain = idw(xy, values, CELLS, power=power)
    monkeypatch.setattr("hgmap.field.idw.choose_side", lambda places, grid: side)
    assert idw_grid(xy, values, GX, GY, power=power) == pytest.approx(plain, rel=1e-9)


def test_a_grid_has_tiles_where_they_pay_and_none_where_they_do_not() -> None:
    random = np.random.default_rng(2)
    places = random.random((300, 2))
    fine, coarse = np.linspace(0, 1, 800), np.linspace(0, 1, 5)
    eye = np.eye(2)
    assert choose_side(places, Grid(fine, fine, np.ones((800, 800), bool), eye)) > 0
    assert choose_side(places, Grid(coarse, coarse, np.ones((5, 5), bool), eye)) == 0
    assert choose_side(places[:2], Grid(fine, fine, np.ones((800, 800), bool), eye)) == 0


@pytest.mark.parametrize("power", [1.0, 2.0, 4.0, 8.0])
def test_no_weight_at_the_edge_of_far_errs_by_a_billionth(power: float) -> None:
    axis = lay_axis(np.linspace(-1, 1, 25), NODES)
    inner = np.linspace(-1, 1, 25)
    for angle in np.linspace(0, np.pi / 4, 7):
        far = np.outer(np.geomspace(1, 20, 400), [np.cos(angle), np.sin(angle)])
        least = ELLIPSE[0] + ELLIPSE[1] * power
        edge = far[ellipse_parameters(far, axis, axis, np.eye(2)) >= least][:1]

        def weights(x: Floats, y: Floats, at: Floats = edge) -> Floats:
            return np.hypot(*np.meshgrid(x - at[0, 0], y - at[0, 1])) ** -power

        interpolated = axis.basis @ weights(axis.nodes, axis.nodes) @ axis.basis.T
        assert interpolated == pytest.approx(weights(inner, inner), rel=1e-9)


@pytest.mark.parametrize("shape", [(1, 1), (1, 60), (60, 1)])
def test_a_grid_of_one_row_or_one_column_is_a_grid(
    floor: tuple[Floats, Floats], monkeypatch: pytest.MonkeyPatch, shape: tuple[int, int]
) -> None:
    ny, nx = shape
    x, y = GX[:nx], GY[:ny]
    plain = idw(*floor, np.column_stack([np.tile(x, ny), np.repeat(y, nx)]))
    monkeypatch.setattr("hgmap.field.idw.choose_side", lambda places, grid: 16)
    assert idw_grid(*floor, x, y) == pytest.approx(plain, rel=1e-9)


def test_only_the_inside_cells_of_a_grid_are_estimated(
    floor: tuple[Floats, Floats], monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = np.random.default_rng(5).random((80, 110)) < 0.3
    calls: list[tuple[int, int]] = []
    monkeypatch.setattr("hgmap.field.idw.choose_side", lambda places, grid: 16)
    estimate = idw_grid(
        *floor, GX, GY, inside, progress=lambda done, all_: calls.append((done, all_))
    )
    assert estimate == pytest.approx(idw(*floor, CELLS[inside.ravel()]), rel=1e-9)
    assert calls == sorted(calls)
    assert calls[-1] == (inside.sum(), inside.sum())


@given(surveys(), st.floats(0.25, 8), st.floats(1e-60, 1e60))
def test_no_unit_of_length_overflows_on_a_grid(
    survey: tuple[Floats, Floats, Floats], power: float, unit: float
) -> None:
    xy, values, targets = survey
    x, y = np.unique(targets[:, 0]), np.unique(targets[:, 1])
    plain = idw_grid(xy, values, x, y, power=power)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hgmap.field.idw.choose_side", lambda places, grid: 16)
        scaled = idw_grid(xy * unit, values, x * unit, y * unit, power=power)
    assert scaled == pytest.approx(plain, rel=1e-8, abs=1e-8)
    assert (scaled >= values.min()).all()
    assert (scaled <= values.max()).all()


def test_a_grid_of_no_readings_or_with_a_bad_power_is_refused() -> None:
    with pytest.raises(EstimateError, match="no reading to estimate from"):
        idw_grid(np.empty((0, 2)), [], [0.0], [0.0])
    with pytest.raises(EstimateError, match="power of -1 cannot be used"):
        idw_grid([(0, 0)], [1.0], [0.0], [0.0], power=-1)
    with pytest.raises(EstimateError, match="gx does not ascend"):
        idw_grid([(0, 0)], [1.0], [1.0, 0.0], [0.0])


XY = [(0.0, 0.0), (4.0, 0.0), (0.0, 3.0), (0.0, 3.0)]
VALUES = [1.0, 2.0, 4.0, 10.0]


def test_a_reading_with_twice_the_variance_counts_half() -> None:
    # as often as its share: the first twice, the second once
    found = idw(XY[:2], VALUES[:2], [(1.5, 1.0)], error_variance=[0.2, 0.4])
    doubled = idw([XY[0], *XY[:2]], [VALUES[0], *VALUES[:2]], [(1.5, 1.0)])
    assert found == pytest.approx(doubled, rel=1e-12)


def test_where_readings_stand_the_estimate_is_their_mean_weighted_by_their_variances() -> None:
    found = idw(XY, VALUES, [(0, 3), (4, 0)], error_variance=[1.0, 1e300, 1.0, 2.0])
    assert found == pytest.approx([(2 * 4.0 + 10.0) / 3, 2.0], rel=1e-12)


@given(surveys(), POWERS, st.floats(1e-300, 1e300))
def test_one_variance_for_all_readings_changes_nothing(
    survey: tuple[Floats, Floats, Floats], power: float, variance: float
) -> None:
    xy, values, targets = survey
    plain = idw(xy, values, targets, power=power).tolist()
    for given_ in (variance, np.full(len(xy), variance)):
        assert idw(xy, values, targets, power=power, error_variance=given_).tolist() == plain


@pytest.mark.parametrize(
    ("variance", "text"),
    [
        ([1.0, 2.0], r"error_variance has shape \(2,\)"),
        ([[1.0]] * 4, "error_variance has shape"),
        ([1.0, np.nan, 1.0, 1.0], "error_variance row 1 .* not a finite number"),
        ([1.0, 1.0, 0.0, 1.0], "error_variance row 2 .* is 0; give variances above 0"),
        ([1.0, 1.0, 1.0, -1.0], "error_variance row 3 .* is negative"),
        (0.0, "error_variance row 0"),
        ("much", "not an array of numbers"),
    ],
)
def test_an_error_variance_that_cannot_be_is_refused(variance: object, text: str) -> None:
    with pytest.raises(EstimateError, match=text) as caught:
        idw(XY, VALUES, [(1, 1)], error_variance=variance)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)
