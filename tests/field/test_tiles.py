"""The tiled back end gives the dense one's numbers, and those of another library."""

from __future__ import annotations

import threading
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from pykrige.ok import OrdinaryKriging

from hgmap.errors import EstimateError
from hgmap.field import tiles
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.chebyshev import ellipse_parameters, lay_axis
from hgmap.field.grid import Grid, lay_tiles
from hgmap.field.kriging import krige, krige_grid
from hgmap.field.models import MODELS, Model, correlation
from hgmap.field.straight import Kernel, solve_system

Floats = NDArray[np.float64]

NX, NY = 90, 70
GX, GY = np.linspace(0.05, 29.95, NX), np.linspace(0.1, 19.9, NY)
PLACES = np.column_stack([np.tile(GX, NY), np.repeat(GY, NX)])
SMOOTH: list[tuple[Model, float | None]] = [
    ("exponential", None), ("gaussian", None), ("matern", 0.3), ("matern", 0.5), ("matern", 1.0),
    ("matern", 1.5), ("matern", 2.5),
]  # fmt: skip


def survey(n: int = 80, seed: int = 3) -> tuple[Floats, Floats]:
    """Readings of which a third stand at the centre of a cell."""
    random = np.random.default_rng(seed)
    xy = random.uniform((0, 0), (30, 20), (n, 2))
    at = n // 3
    xy[:at] = PLACES[random.choice(len(PLACES), at, replace=False)]
    return xy, np.sin(xy[:, 0] / 5) + random.normal(0, 0.3, n)


@pytest.fixture
def use_tiles(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """Return a function that lays tiles of a given side, whatever they cost."""

    def use(side: int) -> None:
        monkeypatch.setattr(tiles, "choose_side", lambda system, grid: side)

    return use


@pytest.mark.parametrize("exact", [True, False])
@pytest.mark.parametrize(("model", "smoothness"), SMOOTH)
@pytest.mark.parametrize("nugget", [0.15, 0.02])
def test_tiles_give_the_numbers_of_the_dense_back_end(
    use_tiles: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
    model: Model,
    smoothness: float | None,
    exact: bool,
    nugget: float,
) -> None:
    xy, values = survey()
    parameters: dict[str, Any] = {
        "model": model, "smoothness": smoothness, "nugget": nugget, "psill": 1.3, "range_": 14.0,
        "exact": exact,
    }  # fmt: skip
    dense = krige(xy, values, PLACES, **parameters)
    monkeypatch.setattr(tiles, "estimate_points", only_at_readings(len(xy)))
    use_tiles(17)
    tiled = krige_grid(xy, values, GX, GY, **parameters)
    assert tiled[0] == pytest.approx(dense[0], abs=2e-9)
    assert tiled[1] == pytest.approx(dense[1], abs=2e-9)
    if exact:
        assert (tiled[1] == 0).sum() == len(xy) // 3


def only_at_readings(most: int) -> Callable[..., tuple[Floats, Floats]]:
    """Return the dense back end, refusing to do a whole grid in place of the tiles."""
    dense = tiles.estimate_points

    def estimate(system: Any, targets: Floats, **words: Any) -> tuple[Floats, Floats]:
        assert len(targets) <= most
        return dense(system, targets, **words)

    return estimate


@pytest.mark.parametrize("angle_deg", [0.0, 25.0, 90.0, 140.0])
@pytest.mark.parametrize("model", ["exponential", "gaussian"])
def test_tiles_know_directions(
    use_tiles: Callable[[int], None],
    monkeypatch: pytest.MonkeyPatch,
    model: Model,
    angle_deg: float,
) -> None:
    xy, values = survey()
    parameters: dict[str, Any] = {
        "model": model, "nugget": 0.1, "psill": 1.0, "range_": 25.0,
        "anisotropy": Anisotropy(0.3, angle_deg), "error_variance": 0.05,
    }  # fmt: skip
    dense = krige(xy, values, PLACES, **parameters)
    monkeypatch.setattr(tiles, "estimate_points", only_at_readings(len(xy)))
    use_tiles(11)
    tiled = krige_grid(xy, values, GX, GY, **parameters)
    assert tiled[0] == pytest.approx(dense[0], abs=3e-9)
    assert tiled[1] == pytest.approx(dense[1], abs=3e-9)


@pytest.mark.parametrize("exact", [True, False])
@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("side", [0, 20])
def test_pykrige_agrees_on_a_grid(
    use_tiles: Callable[[int], None], model: Model, exact: bool, side: int
) -> None:
    xy, values = survey()
    range_ = 12.0 * 7 / (4 * 3**0.5) if model == "gaussian" else 12.0
    other = OrdinaryKriging(
        *xy.T, values, variogram_model=model,
        variogram_parameters={"psill": 1.1, "range": range_, "nugget": 0.1}, exact_values=exact,
    )  # fmt: skip
    their_mean, their_variance = other.execute("grid", GX, GY, backend="vectorized")
    if model != "spherical":
        use_tiles(side)
    mean, variance = krige_grid(
        xy, values, GX, GY, model=model, nugget=0.1, psill=1.1, range_=12.0, exact=exact
    )
    assert mean == pytest.approx(np.asarray(their_mean).ravel(), abs=1e-8)
    assert variance == pytest.approx(np.asarray(their_variance).ravel(), abs=1e-8)


@given(st.integers(0, 1000), st.integers(1, 30), st.integers(3, 40))
def test_only_the_inside_cells_are_estimated_row_by_row(seed: int, side: int, size: int) -> None:
    random = np.random.default_rng(seed)
    inside = random.random((size, size + 3)) < random.choice([0.02, 0.3, 0.9])
    x, y = np.linspace(0, 10, size + 3), np.linspace(0, 8, size)
    row, column = np.nonzero(inside)
    xy, values = random.uniform(0, 9, (12, 2)), random.normal(size=12)
    parameters: dict[str, Any] = {
        "model": "exponential", "nugget": 0.1, "psill": 1.0, "range_": 6.0,
    }  # fmt: skip
    dense = krige(xy, values, np.column_stack([x[column], y[row]]), **parameters)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tiles, "choose_side", lambda system, grid: side)
        mean, variance = krige_grid(xy, values, x, y, inside, **parameters)
    assert mean.shape == (inside.sum(),)
    assert mean == pytest.approx(dense[0], abs=1e-8)
    assert variance == pytest.approx(dense[1], abs=1e-8)


@given(st.integers(0, 1000), st.integers(1, 9), st.floats(0, 1))
def test_tiles_cover_every_inside_cell_once_and_none_is_empty(
    seed: int, side: int, share: float
) -> None:
    inside = np.random.default_rng(seed).random((17, 23)) < share
    times = np.zeros(inside.shape, dtype=int)
    for tile in lay_tiles(inside, side):
        window = inside[tile.rows, tile.columns]
        assert max(window.shape) <= side
        assert window[[0, -1]].any(axis=1).all()
        assert window[:, [0, -1]].any(axis=0).all()
        times[tile.rows, tile.columns] += 1
    assert (times[inside] == 1).all()
    assert times.max(initial=0) <= 1


@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 1)])
def test_a_grid_of_one_row_or_one_column_is_a_grid(
    use_tiles: Callable[[int], None], shape: tuple[int, int]
) -> None:
    xy, values = survey()
    ny, nx = shape
    x, y = GX[:nx], GY[:ny]
    parameters: dict[str, Any] = {
        "model": "exponential", "nugget": 0.1, "psill": 1.0, "range_": 9.0,
    }  # fmt: skip
    dense = krige(xy, values, np.column_stack([np.tile(x, ny), np.repeat(y, nx)]), **parameters)
    use_tiles(16)
    tiled = krige_grid(xy, values, x, y, **parameters)
    assert tiled[0] == pytest.approx(dense[0], abs=1e-9)
    assert tiled[1] == pytest.approx(dense[1], abs=1e-9)


def test_steps_need_not_be_equal(use_tiles: Callable[[int], None]) -> None:
    xy, values = survey()
    x, y = np.geomspace(0.1, 30, 50), np.cumsum(np.linspace(0.01, 0.5, 60))
    parameters: dict[str, Any] = {
        "model": "matern", "nugget": 0.1, "psill": 1.0, "range_": 9.0,
    }  # fmt: skip
    places = np.column_stack([np.tile(x, 60), np.repeat(y, 50)])
    dense = krige(xy, values, places, **parameters)
    use_tiles(16)
    tiled = krige_grid(xy, values, x, y, **parameters)
    assert tiled[0] == pytest.approx(dense[0], abs=1e-9)


def test_the_frame_of_a_whole_country_costs_no_digits(use_tiles: Callable[[int], None]) -> None:
    xy, values = survey()
    parameters: dict[str, Any] = {
        "model": "exponential", "nugget": 0.1, "psill": 1.0, "range_": 9.0,
    }  # fmt: skip
    use_tiles(20)
    here = krige_grid(xy, values, GX, GY, **parameters)
    there = krige_grid(xy + 2.0**22, values, GX + 2.0**22, GY + 2.0**22, **parameters)
    assert there[0] == pytest.approx(here[0], abs=1e-7)
    assert there[1] == pytest.approx(here[1], abs=1e-7)


def test_tiles_that_are_too_rough_are_noticed_and_the_dense_back_end_does_the_grid(
    use_tiles: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    xy, values = survey()
    parameters: dict[str, Any] = {
        "model": "gaussian", "nugget": 0.1, "psill": 1.0, "range_": 2.0,
    }  # fmt: skip
    dense = krige(xy, values, PLACES, **parameters)
    use_tiles(70)  # ten ranges wide
    tiled = krige_grid(xy, values, GX, GY, **parameters)
    assert tiled[0] == pytest.approx(dense[0], abs=1e-12)
    assert tiled[1] == pytest.approx(dense[1], abs=1e-12)
    monkeypatch.setattr(tiles, "ROUGH", np.inf)
    rough = krige_grid(xy, values, GX, GY, **parameters)
    assert np.abs(rough[0] - dense[0]).max() > 1e-3


def grid_of(cells: int, range_: float, model: Model, n: int) -> tuple[Any, Grid]:
    random = np.random.default_rng(1)
    xy = random.random((n, 2)) / range_
    kernel = Kernel(model, 0.1, 1.0, 1.0)
    system = solve_system(xy, random.normal(size=n), np.zeros(n), kernel, at_reading=-1.0)
    axis = (np.arange(cells) + 0.5) / cells
    return system, Grid(axis, axis, np.ones((cells, cells), dtype=bool), np.eye(2) / range_)


@pytest.mark.parametrize(
    ("model", "cells", "range_", "n", "tiled"),
    [
        ("exponential", 1000, 0.5, 300, True),
        ("matern", 1000, 0.5, 300, True),
        ("gaussian", 1000, 0.5, 300, True),
        ("exponential", 10, 0.5, 300, False),  # few cells
        ("exponential", 300, 0.5, 3, False),  # few readings
        ("gaussian", 200, 0.01, 300, False),  # the range is a cell or two
        ("spherical", 1000, 0.5, 300, False),  # not smooth
    ],
)
def test_tiles_are_laid_where_they_pay(
    model: Model, cells: int, range_: float, n: int, tiled: bool
) -> None:
    system, grid = grid_of(cells, range_, model, n)
    assert (tiles.choose_side(system, grid) > 0) is tiled


@given(st.floats(0, 2 * np.pi), st.floats(0.05, 20))
def test_a_covariance_at_the_edge_of_far_is_a_polynomial_over_the_tile(
    angle: float, range_: float
) -> None:
    axis = lay_axis(np.linspace(-1, 1, 15), tiles.NODES)
    direction = np.array([[np.cos(angle), np.sin(angle)]])

    def parameter(distance: float) -> float:
        return float(ellipse_parameters(distance * direction, axis, axis, np.eye(2))[0])

    low, high = 1.0, 9.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if parameter(middle) < tiles.ELLIPSE else (low, middle)
    datum = high * direction[0]

    def covariance(x: Floats, y: Floats) -> Floats:
        distance = np.hypot(*np.meshgrid(x - datum[0], y - datum[1]))
        return correlation(distance, model="exponential", range_=range_)

    inner = np.linspace(-1, 1, 15)
    interpolated = axis.basis @ covariance(axis.nodes, axis.nodes) @ axis.basis.T
    assert interpolated == pytest.approx(covariance(inner, inner), abs=1e-9)


@given(st.floats(1.0, 50), st.floats(-30, 30))
def test_the_ellipse_of_a_datum_on_an_axis_is_known_in_closed_form(
    ratio: float, middle: float
) -> None:
    # Trefethen 2013, chapter 8: the ellipse through z, real or imaginary, has z ± sqrt(z² ∓ 1)
    axis = lay_axis(middle + np.array([-2.0, 2.0]), 5)
    datum = np.array([[middle + 2 * ratio, middle]])
    along_x = ratio + np.sqrt(ratio**2 - 1)
    beside = max(2 * ratio - 2, 0.0) / 2
    along_y = beside + np.sqrt(beside**2 + 1)
    got = ellipse_parameters(datum, axis, axis, np.eye(2))[0]
    assert got == pytest.approx(min(along_x, along_y), rel=1e-6)


def test_progress_counts_the_inside_cells_to_the_last(use_tiles: Callable[[int], None]) -> None:
    xy, values = survey()
    inside = np.random.default_rng(1).random((NY, NX)) < 0.4
    calls: list[tuple[int, int]] = []
    use_tiles(16)
    krige_grid(
        xy, values, GX, GY, inside, model="exponential", nugget=0.1, psill=1.0, range_=9.0,
        progress=lambda done, all_: calls.append((done, all_)),
    )  # fmt: skip
    assert calls == sorted(calls)
    assert calls[-1] == (inside.sum(), inside.sum())
    assert len(calls) == len(lay_tiles(inside, 16))


def test_a_cancelled_grid_leaves_no_thread_behind(use_tiles: Callable[[int], None]) -> None:
    class CancelledError(Exception):
        pass

    def stop(done: int, all_: int) -> None:
        raise CancelledError

    xy, values = survey()
    use_tiles(8)
    threads = threading.active_count()
    with pytest.raises(CancelledError):
        krige_grid(
            xy, values, GX, GY, model="exponential", nugget=0.1, psill=1.0, range_=9.0,
            progress=stop,
        )  # fmt: skip
    assert threading.active_count() == threads


def test_memory_is_that_of_the_map_and_a_few_tiles() -> None:
    random = np.random.default_rng(1)
    xy, values = random.uniform(0, 30, (200, 2)), random.normal(size=200)
    axis = np.linspace(0, 30, 700)
    tracemalloc.start()
    krige_grid(xy, values, axis, axis, model="exponential", nugget=0.1, psill=1.0, range_=9.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # mean, variance and the cells' numbers take 12 MB; all covariances would take 784 MB
    assert peak < 60e6


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"gx": [0.0, 2.0, 1.0]}, "gx does not ascend; give its centres in order"),
        ({"gy": [1.0, 1.0]}, "gy does not ascend"),
        ({"gx": [0.0, np.nan]}, "gx row 1 .* is not a finite number"),
        ({"gx": []}, r"gx has shape \(0,\); give the centres of one axis"),
        ({"gy": [[0.0, 1.0]]}, r"gy has shape \(1, 2\)"),
        ({"gx": ["a"]}, "gx is not an array of numbers"),
        ({"inside": np.ones((3, 2), bool)}, r"inside is bool of shape \(3, 2\); .* \(2, 3\), rows"),
        ({"inside": np.ones((2, 3))}, r"inside is float64 of shape \(2, 3\)"),
    ],
)
def test_a_grid_that_cannot_be_used_is_refused(words: dict[str, Any], message: str) -> None:
    good: dict[str, Any] = {"gx": [0.0, 1.0, 2.0], "gy": [0.0, 1.0], "inside": None}
    with pytest.raises(EstimateError, match=message):
        krige_grid(
            [(0, 0), (1, 0)], [1.0, 2.0], **(good | words), model="exponential", nugget=0.1,
            psill=1.0, range_=9.0,
        )  # fmt: skip


def test_no_inside_cell_gives_no_estimate() -> None:
    mean, variance = krige_grid(
        [(0, 0), (1, 0)], [1.0, 2.0], [0.0, 1.0], [0.0], np.zeros((1, 2), bool),
        model="exponential", nugget=0.1, psill=1.0, range_=9.0,
    )  # fmt: skip
    assert mean.shape == variance.shape == (0,)
