"""The diagonal of the inverse, against the inverse itself."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from hgmap.field.graph import CellGraph
from hgmap.field.selected import Lines, diagonal_of_inverse, lines_of
from hgmap.field.sparse import Factor
from hgmap.site.model import Floor, Room
from tests.field.small_floors import pair, scattered


def shifted(graph: CellGraph, shift: float | np.ndarray) -> sp.csc_array:
    return sp.csc_array(graph.laplacian() + sp.diags_array(np.full(len(graph.xy), shift)))


def lines_along(graph: CellGraph, axis: int, width: int) -> Lines:
    """Lines of ``width`` columns (axis 1) or rows (axis 0), by their definition."""
    line = np.nonzero(graph.raster.inside)[axis] // width
    order = np.argsort(line, kind="stable")
    starts = np.r_[np.flatnonzero(np.diff(line[order], prepend=-1)), len(line)]
    i, j = graph.edges.T
    return Lines(order, starts, np.flatnonzero(np.abs(line[i] - line[j]) > 1))


def check(graph: CellGraph, lines: Lines, shift: float | np.ndarray) -> None:
    matrix = shifted(graph, shift)
    expected = np.diag(np.linalg.inv(matrix.toarray()))
    assert diagonal_of_inverse(matrix, graph, lines) == pytest.approx(expected, rel=1e-8)


@given(st.integers(0, 10_000), st.floats(0.2, 0.5), st.floats(1e-4, 10))
def test_it_is_that_of_the_inverse_on_any_floor(seed: int, step_m: float, shift: float) -> None:
    graph = CellGraph.over(scattered(seed), step_m)
    check(graph, lines_of(graph), shift)


@given(st.integers(0, 10_000), st.integers(0, 1), st.integers(1, 4))
def test_it_is_so_along_columns_and_rows_of_any_width(seed: int, axis: int, width: int) -> None:
    graph = CellGraph.over(scattered(seed), 0.3)
    # not the same for every cell, so that a mixed-up order would show
    shift = np.random.default_rng(seed).uniform(0.01, 1.0, len(graph.xy))
    check(graph, lines_along(graph, axis, width), shift)


@pytest.mark.parametrize("turned", [False, True])
def test_edges_through_a_thick_wall_are_put_back(turned: bool) -> None:
    graph = CellGraph.over(pair(gap_m=0.5, turned=turned), 0.2)
    lines = lines_along(graph, 0 if turned else 1, 1)
    assert len(lines.far) >= 4  # a door of 0.9 m in cells of 0.2 m
    check(graph, lines, 0.05)
    # and they matter: without them the answer is another
    matrix = shifted(graph, 0.05)
    shut = CellGraph.over(pair(gap_m=0.5, turned=turned, state="sealed"), 0.2)
    apart = diagonal_of_inverse(shifted(shut, 0.05), shut, lines_of(shut))
    assert np.abs(diagonal_of_inverse(matrix, graph, lines) - apart).max() > 0.01


@pytest.mark.parametrize("turned", [False, True])
def test_lines_of_a_floor_with_a_thick_wall_know_which_edges_reach_too_far(turned: bool) -> None:
    graph = CellGraph.over(pair(gap_m=0.15, turned=turned), 0.2)
    lines = lines_of(graph)
    away = np.abs(graph.xy[graph.edges[:, 0]] - graph.xy[graph.edges[:, 1]]).max(axis=1)
    # narrow lines are the cheapest here; the door's edges skip one, those of the rooms do not
    assert lines.far.tolist() == np.flatnonzero(away > 0.3).tolist() != []
    check(graph, lines, 0.05)


@given(st.integers(0, 10_000), st.floats(0.15, 0.5))
def test_lines_hold_every_cell_once_and_touch_only_their_neighbours(
    seed: int, step_m: float
) -> None:
    graph = CellGraph.over(scattered(seed), step_m)
    lines = lines_of(graph)
    m = len(graph.xy)
    assert np.array_equal(np.sort(lines.order), np.arange(m))
    assert (lines.starts[0], lines.starts[-1]) == (0, m)
    assert (np.diff(lines.starts) > 0).all()
    line = np.empty(m, dtype=np.int64)
    line[lines.order] = np.repeat(np.arange(len(lines.starts) - 1), np.diff(lines.starts))
    near = np.delete(graph.edges, lines.far, axis=0)
    assert (np.abs(line[near[:, 0]] - line[near[:, 1]]) <= 1).all()


@pytest.mark.parametrize(("size", "count"), [((8.0, 2.0), 32), ((2.0, 8.0), 32)])
def test_the_lines_run_across_a_long_floor(size: tuple[float, float], count: int) -> None:
    graph = CellGraph.over(Floor("g", "Ground", (Room("a", "A", box(0, 0, *size)),)), 0.25)
    lines = lines_of(graph)
    assert set(np.diff(lines.starts)) == {8}
    assert len(lines.starts) - 1 == count


def test_the_factor_solves_one_right_hand_side_and_several() -> None:
    graph = CellGraph.over(pair(gap_m=0.3), 0.3)
    matrix = shifted(graph, 0.1)
    right = np.random.default_rng(1).normal(size=(len(graph.xy), 3))
    factor = Factor(matrix)
    expected = np.linalg.solve(matrix.toarray(), right)
    assert factor.solve(right) == pytest.approx(expected, abs=1e-12)
    assert factor.solve(right[:, 0]) == pytest.approx(expected[:, 0], abs=1e-12)
