"""The wall-aware field: variance 1 everywhere, nothing through a wall, a covariance on any plan."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import box

from hgmap.field.graph import CellGraph
from hgmap.field.walls import WallField, WallKernel
from hgmap.site.building import Floor, Room
from tests.field.small_floors import pair, scattered

Floats = NDArray[np.float64]
SEEDS = st.integers(0, 10_000)
RANGES = st.floats(0.5, 40.0)


def covariance(graph: CellGraph, kernel: WallKernel) -> Floats:
    """Between all cells, by the kernel's own half."""
    half = kernel.half(graph.interpolation(graph.xy, graph.room))
    return half.T @ half


def dense(graph: CellGraph, range_m: float) -> Floats:
    """D K^-1 a I K^-1 D of the module's formulas, written out edge by edge."""
    m, area = len(graph.xy), graph.raster.cell_m**2
    matrix = np.zeros((m, m))
    for (i, j), conductance in zip(graph.edges, graph.conductance, strict=True):
        matrix[i, i] += conductance
        matrix[j, j] += conductance
        matrix[i, j] -= conductance
        matrix[j, i] -= conductance
    kappa = np.sqrt(8) / range_m
    inverse = np.linalg.inv(matrix + kappa**2 * area * np.eye(m))
    raw = inverse @ (area * np.eye(m)) @ inverse
    scale = 1 / np.sqrt(np.diag(raw))
    return np.asarray(scale[:, None] * raw * scale)


@given(SEEDS, RANGES)
def test_the_covariance_is_what_the_formulas_say(seed: int, range_m: float) -> None:
    graph = CellGraph.over(scattered(seed), 0.35)
    got = covariance(graph, WallField(graph).kernel(range_m))
    # the central difference that the normalisation takes is good to its step squared
    assert got == pytest.approx(dense(graph, range_m), abs=5e-6)


@given(SEEDS, RANGES)
def test_every_cell_has_variance_1(seed: int, range_m: float) -> None:
    graph = CellGraph.over(scattered(seed), 0.35)
    variance = np.diag(covariance(graph, WallField(graph).kernel(range_m)))
    assert variance == pytest.approx(np.ones(len(variance)), abs=5e-6)


@given(SEEDS, RANGES)
def test_the_covariance_of_readings_and_a_nugget_is_positive_definite(
    seed: int, range_m: float
) -> None:
    floor = scattered(seed)
    graph = CellGraph.over(floor, 0.35)
    random = np.random.default_rng(seed)
    west, south, east, north = floor.bounds
    points = random.uniform((west, south), (east, north), (25, 2))
    room = random.integers(0, len(floor.rooms), 25)
    half = WallField(graph).kernel(range_m).half(graph.interpolation(points, room))
    gram = half.T @ half
    assert np.linalg.eigvalsh(gram).min() > -1e-12
    np.linalg.cholesky(gram + 1e-6 * np.eye(25))


@given(SEEDS, RANGES)
def test_columns_are_the_covariance_of_all_cells_with_the_readings(
    seed: int, range_m: float
) -> None:
    graph = CellGraph.over(scattered(seed), 0.35)
    kernel = WallField(graph).kernel(range_m)
    random = np.random.default_rng(seed)
    cells = random.choice(len(graph.xy), 5, replace=False)
    points = graph.xy[cells] + random.uniform(-0.1, 0.1, (5, 2))
    read = graph.interpolation(points, graph.room[cells])
    half = kernel.half(read)
    columns = kernel.columns(half)
    assert columns.shape == (len(graph.xy), 5)
    assert columns == pytest.approx(covariance(graph, kernel) @ read.T.toarray(), abs=1e-9)
    assert read @ columns == pytest.approx(half.T @ half, abs=1e-9)


@pytest.mark.parametrize("gap_m", [0.0, 0.3])
@pytest.mark.parametrize("range_m", [0.5, 5.0, 100.0])
def test_nothing_passes_between_sealed_rooms(gap_m: float, range_m: float) -> None:
    graph = CellGraph.over(pair(gap_m=gap_m, state="sealed"), 0.25)
    matrix = covariance(graph, WallField(graph).kernel(range_m))
    across = matrix[graph.room == 0][:, graph.room == 1]
    assert across.size
    assert (across == 0.0).all()


def test_a_door_lets_more_through_the_wider_it_stands_open() -> None:
    def between(**door: object) -> float:
        graph = CellGraph.over(pair(**door), 0.25)  # type: ignore[arg-type]
        kernel = WallField(graph).kernel(6.0)
        at = graph.interpolation(np.array([[1.5, 1.5], [4.5, 1.5]]), np.array([0, 1]))
        half = kernel.half(at)
        return float(half[:, 0] @ half[:, 1])

    sealed, closed, narrow, wide = (
        between(state="sealed"),
        between(state="closed"),
        between(door=(1.25, 1.75)),
        between(door=(0.5, 2.5)),
    )
    assert 0 == sealed < closed < narrow < wide < 1


def test_the_kernel_of_a_range_is_made_once() -> None:
    walls = WallField(CellGraph.over(pair(), 0.4))
    first = walls.kernel(3.0)
    other = walls.kernel(4.0)
    assert walls.kernel(3.0) is first
    assert walls.kernel(4.0) is other
    assert (first.range_m, other.range_m) == (3.0, 4.0)
    assert (first.scale != other.scale).any()


@given(SEEDS, RANGES)
def test_the_wall_flux_has_mean_0_and_spread_1_in_each_part_of_the_floor(
    seed: int, range_m: float
) -> None:
    graph = CellGraph.over(scattered(seed), 0.35)
    flux = WallField(graph).kernel(range_m).wall_flux
    for part in np.unique(graph.component):
        mine = flux[graph.component == part]
        assert mine.mean() == pytest.approx(0.0, abs=1e-9)
        # a part of one cell, or with the same walls round every cell, has no pattern to spread
        patterned = np.ptp(graph.wall_faces[graph.component == part]) > 1e-9
        assert mine.std() == pytest.approx(1.0 if patterned else 0.0)


def test_the_wall_flux_falls_from_the_corners_to_the_middle() -> None:
    graph = CellGraph.over(Floor("g", "Ground", (Room("a", "A", box(0, 0, 5, 4)),)), 0.25)
    flux = graph.raster.spread(WallField(graph).kernel(2.0).wall_flux)
    middle_row, middle_column = flux[8], flux[:, 10]
    assert flux[0, 0] == pytest.approx(np.nanmax(flux))
    assert (np.diff(middle_row[:10]) < 0).all()
    assert (np.diff(middle_column[:8]) < 0).all()
    assert flux == pytest.approx(flux[::-1, ::-1], abs=1e-9)


def test_a_part_of_one_cell_has_no_wall_flux() -> None:
    rooms = (Room("a", "A", box(0, 0, 2, 2)), Room("b", "B", box(2, 0, 2.5, 0.5)))
    graph = CellGraph.over(Floor("g", "Ground", rooms), 0.5)
    kernel = WallField(graph).kernel(3.0)
    assert (graph.room == 1).sum() == 1
    assert (kernel.wall_flux[graph.room == 1] == 0).all()
    assert np.diag(covariance(graph, kernel)) == pytest.approx(np.ones(17), abs=1e-6)
