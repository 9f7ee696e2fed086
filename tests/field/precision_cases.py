"""Invented readings on invented floors, for both forms of the wall-aware estimate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import scipy.sparse as sp
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, box

from hgmap.field.beliefs import Beliefs
from hgmap.field.graph import CellGraph
from hgmap.field.mixture import Mixture
from hgmap.field.places import Places
from hgmap.field.precision import PrecisionPosterior, posterior_by_precision
from hgmap.field.wall_candidate import WallCandidate, Ways
from hgmap.field.walls import WallField, WallKernel
from hgmap.field.weigh import weigh
from hgmap.site.building import Floor, Opening, Room

Floats = NDArray[np.float64]
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
            openings.append(Opening(f"d{k}", LineString([(at, 1), (at, 2.2)]), doors[k - 1], sides))
    rooms.append(Room("apart", "Apart", box(0, 6, 3, 9)))
    walls = (LineString([(1.5, 1.2), (1.5, 4)]),) if inner_wall else ()
    return Floor("g", "Ground", tuple(rooms), openings=tuple(openings), walls=walls)


class Case(NamedTuple):
    walls: WallField
    weights: sp.csr_array
    values: Floats
    trend: Floats
    target_trend: Floats
    error_weight: Floats
    xy: Floats
    room: NDArray[np.int64]

    @property
    def places(self) -> Places:
        n = len(self.values)
        ones, each = np.ones(n, dtype=np.int64), np.arange(n)
        return Places(self.xy, self.values, self.room, ones, self.error_weight, each)


def make_case(floor: Floor, seed: int, n: int, crowd: int = 0, step_m: float = STEP_M) -> Case:
    """Return readings on a floor: ``crowd`` of them in one cell, and replicates."""
    random = np.random.default_rng(seed)
    graph = CellGraph.over(floor, step_m)
    # the room that stands apart is read by none
    home = random.choice(np.flatnonzero(graph.room < len(floor.rooms) - 1), n)
    home[:crowd] = home[0]
    xy = graph.xy[home] + random.uniform(-0.48, 0.48, (n, 2)) * step_m
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
        xy,
        graph.room[home],
    )


def candidate_of(case: Case, kernel: WallKernel, flux: float) -> WallCandidate:
    return WallCandidate(Ways(kernel, case.weights, {}), case.walls.graph.component, flux, 0.0)


def dense(case: Case, range_m: float, share: float, flux: float) -> Mixture:
    return weigh(
        [candidate_of(case, case.walls.kernel(range_m), flux)],
        case.values,
        case.trend,
        error_weight=case.error_weight,
        beliefs=Beliefs(np.array([share])),
    )


def sparse(case: Case, range_m: float, share: float, flux: float) -> PrecisionPosterior:
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
