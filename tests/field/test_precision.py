"""The precision form of the wall-aware field says what the dense form says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.field.doors import _WallCandidate
from hgmap.field.graph import CellGraph
from hgmap.field.mixture import leave_one_out, predict, weigh
from hgmap.field.precision import PrecisionField, posterior_by_precision
from hgmap.field.walls import WallField
from hgmap.site.model import Floor, Opening, Room

STEP_M = 0.5


def make_floor(doors: Sequence[str], thick_m: float, inner_wall: bool) -> Floor:
    """Return rooms in a row, walls of a thickness between them; one more stands apart."""
    rooms, openings = [], []
    for k in range(len(doors) + 1):
        west = k * (3.0 + thick_m)
        rooms.append(Room(f"r{k}", f"R{k}", box(west, 0, west + 3, 4)))
        if k:
            at = west - thick_m / 2
            sides = (f"r{k - 1}", f"r{k}")
            openings.append(
                Opening(f"d{k}", LineString([(at, 1), (at, 2.2)]), doors[k - 1], sides)
            )
    rooms.append(Room("apart", "Apart", box(0, 6, 3, 9)))
    walls = (LineString([(1.5, 1.2), (1.5, 4)]),) if inner_wall else ()
    return Floor("g", "Ground", tuple(rooms), openings=tuple(openings), walls=walls)


class Case(NamedTuple):
    walls: WallField
    weights: sp.csr_array
    values: np.ndarray
    trend: np.ndarray
    target_trend: np.ndarray
    error_weight: np.ndarray


def make_case(floor: Floor, seed: int, n: int, crowd: int = 0) -> Case:
    """Return readings on a floor: ``crowd`` of them in one cell, and replicates."""
    random = np.random.default_rng(seed)
    graph = CellGraph.over(floor, STEP_M)
    # the room that stands apart is read by none
    home = random.choice(np.flatnonzero(graph.room < len(floor.rooms) - 1), n)
    home[:crowd] = home[0]
    xy = graph.xy[home] + random.uniform(-0.24, 0.24, (n, 2))
    weights = graph.interpolation(xy, graph.room[home])
    part = graph.component[home]
    reached = np.unique(part)
    return Case(
        WallField(graph),
        weights,
        np.sin(xy[:, 0]) + 3.0 * (part == reached[0]) + random.normal(0, 0.5, n),
        (part[:, None] == reached).astype(float),
        (graph.component[:, None] == reached).astype(float),
        1.0 / random.integers(1, 4, n),
    )


def dense(case: Case, range_m: float, share: float, flux: float):
    kernel = case.walls.kernel(range_m)
    half = kernel.half(case.weights)
    candidate = _WallCandidate(
        kernel, case.weights, case.walls.graph.component, half, flux, float(np.log(range_m))
    )
    return weigh(
        [candidate],
        case.values,
        case.trend,
        error_weight=case.error_weight,
        shares=np.array([share]),
    )


def sparse(case: Case, range_m: float, share: float, flux: float):
    return posterior_by_precision(
        case.walls.kernel(range_m),
        case.walls.graph,
        case.weights,
        case.values,
        case.trend,
        case.target_trend,
        share=share,
        error_weight=case.error_weight,
        flux=flux,
    )


CASES = st.builds(
    make_case,
    st.builds(
        make_floor,
        st.lists(st.sampled_from(["open", "closed", "sealed"]), min_size=1, max_size=3),
        st.sampled_from([0.0, 0.4, 1.0]),
        st.booleans(),
    ),
    st.integers(0, 2**16),
    st.integers(12, 40),
    st.sampled_from([0, 6]),
)


@settings(max_examples=60, deadline=None)
@given(
    CASES,
    st.floats(1.0, 60.0),
    st.sampled_from([1e-4, 1e-2, 0.3, 1.0, 20.0, 100.0]),
    st.sampled_from([0.0, 0.1, 1.0]),
)
def test_it_says_what_the_dense_form_says(
    case: Case, range_m: float, share: float, flux: float
) -> None:
    other = dense(case, range_m, share, flux)
    mean, variance = predict(other, case.target_trend)
    made = sparse(case, range_m, share, flux)
    known = case.target_trend.any(axis=1)
    assert np.isnan(made.mean[~known]).all()
    assert np.isnan(made.variance[~known]).all()
    assert made.sill == pytest.approx(other.parts[0].sill, rel=1e-6)
    assert made.mean[known] == pytest.approx(mean[known], rel=1e-6, abs=1e-6)
    assert made.variance[known] == pytest.approx(variance[known], rel=1e-6)
    error, sd = leave_one_out(other)
    alone = np.isnan(error)
    assert (np.isnan(made.left_out_error) == alone).all()
    assert made.left_out_error[~alone] == pytest.approx(error[~alone], rel=1e-6, abs=1e-6)
    assert made.left_out_sd[~alone] == pytest.approx(sd[~alone], rel=1e-6)
