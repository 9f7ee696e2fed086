"""Inverses of matrices taken apart at their doors agree with the dense ones."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.field.bordered import BorderedFactor
from hgmap.field.graph import CellGraph
from hgmap.field.layout import Layout, best_layout, borders_of
from hgmap.field.pattern import on_pattern, pattern_of
from hgmap.field.tridiagonal import BlockTridiagonal
from hgmap.site.building import Floor, Opening, Room


def plan(thick_m: float) -> CellGraph:
    """Return three rooms round a corner, one of them behind a wall of a thickness."""
    rooms = (
        Room("a", "A", box(0, 0, 4, 3)),
        Room("b", "B", box(4, 0, 7, 6)),
        Room("c", "C", box(7 + thick_m, 1, 10 + thick_m, 5)),
    )
    middle = 7 + thick_m / 2
    doors = (
        Opening("ab", LineString([(4, 1), (4, 2)]), "open", ("a", "b")),
        Opening("bc", LineString([(middle, 2), (middle, 4)]), "closed", ("b", "c")),
    )
    walls = (LineString([(2, 1), (2, 3)]),)
    return CellGraph.over(Floor("g", "Ground", rooms, openings=doors, walls=walls), 0.5)


GRAPHS = {thick: plan(thick) for thick in (0.0, 0.5, 1.0)}


def system(
    graph: CellGraph, power: int, shift: float, borders: tuple[np.ndarray, ...]
) -> tuple[sp.csr_array, Layout, np.ndarray]:
    """Return a power of G + shift I, the layout of its pattern, and its entries there."""
    matrix = sp.csr_array(graph.laplacian() + shift * sp.eye_array(len(graph.xy)))
    if power == 2:
        matrix = sp.csr_array(matrix @ matrix)
    pattern = pattern_of((matrix,))
    position = np.column_stack(np.nonzero(graph.raster.inside))
    return matrix, best_layout(pattern, position, borders), on_pattern(pattern, matrix)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sorted(GRAPHS)),
    st.sampled_from([1, 2]),
    st.floats(1e-2, 10.0),
    st.integers(0, 2),
    st.integers(0, 2**16),
)
def test_every_border_gives_the_inverse(
    thick_m: float, power: int, shift: float, which: int, seed: int
) -> None:
    graph = GRAPHS[thick_m]
    matrix, layout, data = system(graph, power, shift, (borders_of(graph)[which],))
    inverse = np.linalg.inv(matrix.toarray())
    factor = BorderedFactor(layout, data)
    assert factor.log_determinant == pytest.approx(
        np.linalg.slogdet(matrix.toarray())[1], rel=1e-9, abs=1e-9
    )
    right = np.random.default_rng(seed).normal(size=(len(inverse), 3))
    largest = np.abs(inverse).max()
    assert factor.solve(right) == pytest.approx(inverse @ right, rel=1e-8, abs=1e-8 * largest)
    assert factor.solve(right[:, 0]) == pytest.approx(
        inverse @ right[:, 0], rel=1e-8, abs=1e-8 * largest
    )
    i, j = (axis.astype(np.int64) for axis in matrix.nonzero())
    diagonal, entries = factor.inverse((i, j))
    assert diagonal == pytest.approx(np.diag(inverse), rel=1e-9)
    assert entries == pytest.approx(inverse[i, j], rel=1e-8, abs=1e-10 * largest)
    assert factor.inverse()[0] == pytest.approx(diagonal, rel=1e-12)
    assert factor.squared_inverse() == pytest.approx(np.diag(inverse @ inverse), rel=1e-8)


def test_doors_are_chosen_for_a_border_where_rooms_are_narrow_beside_the_floor() -> None:
    rooms = tuple(Room(f"r{k}", f"R{k}", box(0, 5 * k, 30, 5 * k + 5)) for k in range(6))
    doors = tuple(
        Opening(f"d{k}", LineString([(9, 5 * k), (10, 5 * k)]), "open", (f"r{k - 1}", f"r{k}"))
        for k in range(1, 6)
    )
    graph = CellGraph.over(Floor("g", "Ground", rooms, openings=doors), 0.2)
    _, layout, _ = system(graph, 2, 0.1, borders_of(graph))
    assert set(layout.border) == set(borders_of(graph)[0])
    assert len(layout.regions) == 6


def test_regions_and_border_hold_every_cell_once() -> None:
    graph = GRAPHS[0.5]
    _, layout, _ = system(graph, 2, 0.1, borders_of(graph))
    held = np.concatenate([*(region.cells for region in layout.regions), layout.border])
    assert np.array_equal(np.sort(held), np.arange(len(graph.xy)))


def test_what_is_not_positive_definite_is_refused() -> None:
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        BlockTridiagonal([np.eye(2), np.eye(2)], [np.full((2, 2), 2.0)])
    graph = GRAPHS[0.0]
    _, layout, data = system(graph, 1, -1.0, borders_of(graph))
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        BorderedFactor(layout, data)


def test_two_blocks_by_hand() -> None:
    # [[2, 1], [1, 2]]: inverse [[2, -1], [-1, 2]] / 3, its square's diagonal 5/9, determinant 3
    factor = BlockTridiagonal([np.array([[2.0]]), np.array([[2.0]])], [np.array([[1.0]])])
    first, second = factor.squared_inverse()
    assert first == pytest.approx([2 / 3, 2 / 3])
    assert second == pytest.approx([5 / 9, 5 / 9])
    assert factor.log_determinant == pytest.approx(np.log(3.0))
