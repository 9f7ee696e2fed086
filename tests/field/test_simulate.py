"""Conditional simulation, and what it says of whole rooms."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.stats import norm
from shapely import LineString, box

from hgmap.field.averaged import estimate_cells
from hgmap.field.beliefs import Beliefs
from hgmap.field.branch import READING_SD
from hgmap.field.dense_cells import DenseCells
from hgmap.field.graph import CellGraph
from hgmap.field.places import merge_places
from hgmap.field.rooms import room_figures
from hgmap.field.walls import WallField
from hgmap.site.building import Floor, Opening, Room

Floats = NDArray[np.float64]

FLOOR = Floor(
    "g",
    "Ground",
    (
        Room("a", "A", box(0, 0, 4, 3)),
        Room("b", "B", box(4, 0, 8, 3)),
        Room("shut", "Shut", box(8, 0, 10, 3)),
    ),
    openings=(Opening("d", LineString([(4, 1), (4, 2)]), "open", ("a", "b")),),
)
COUNT = 3000


@cache
def made(walls: bool, hidden: bool = False, sill: float | None = 0.5) -> DenseCells:
    random = np.random.default_rng(2)
    xy = random.uniform((0.2, 0.2), (7.8, 2.8), (14, 2))
    values = 0.3 * xy[:, 0] + random.normal(0, 0.2, 14)
    lower = values.copy()
    if hidden:
        lower[:5] -= 2.0
    graph = CellGraph.over(FLOOR, 0.5)
    places = merge_places(
        xy, values, (xy[:, 0] > 4).astype(np.int64), tolerance_m=1e-6, reading_sd=None,
        bounds=(lower, values),
    )  # fmt: skip
    return estimate_cells(
        graph,
        places,
        walls=WallField(graph) if walls else None,
        ranges_m=np.array([3.0, 9.0]),
        beliefs=Beliefs(sill=sill),
    )


@pytest.mark.parametrize("hidden", [False, True])
@pytest.mark.parametrize("walls", [False, True])
def test_mean_and_variance_of_the_draws_come_to_those_of_kriging(walls: bool, hidden: bool) -> None:
    one = made(walls, hidden)
    draws = one.draws(count=COUNT, seed=4)
    known = np.isfinite(one.mean[draws.cells])
    fields = draws.fields[known]
    mean, variance = one.mean[draws.cells][known], one.variance[draws.cells][known]
    assert np.abs(fields.mean(axis=1) - mean).max() < 5.0 * np.sqrt(variance.max() / COUNT)
    assert np.median(fields.var(axis=1) / variance) == pytest.approx(1.0, rel=0.06)


def test_a_sill_that_is_not_known_widens_the_draws_to_students_t() -> None:
    one = made(walls=True, sill=None)
    draws = one.draws(count=COUNT, seed=4)
    known = np.isfinite(one.mean[draws.cells])
    ratio = draws.fields[known].var(axis=1) / one.variance[draws.cells][known]
    freedom = one.mixture.degrees_of_freedom
    assert np.median(ratio) == pytest.approx(freedom / (freedom - 2), rel=0.08)


def test_the_same_seed_draws_the_same_fields() -> None:
    one = made(walls=True)
    assert np.array_equal(
        one.draws(count=20, seed=1).fields, one.draws(count=20, seed=1).fields,
        equal_nan=True,
    )  # fmt: skip
    assert not np.array_equal(
        one.draws(count=20, seed=1).fields, one.draws(count=20, seed=2).fields,
        equal_nan=True,
    )  # fmt: skip


def test_a_part_that_no_reading_reaches_has_no_draw() -> None:
    one = made(walls=True)
    draws = one.draws(count=5)
    shut = one.graph.room[draws.cells] == 2
    assert np.isnan(draws.fields[shut]).all()
    assert np.isfinite(draws.fields[~shut]).all()


@pytest.mark.parametrize("walls", [False, True])
def test_a_room_average_is_that_of_its_cells_and_surer_than_any_of_them(walls: bool) -> None:
    one = made(walls)
    figures = room_figures(one, 3, log=True)
    for index in (0, 1):
        cells = one.graph.room == index
        assert figures.centre[index] == pytest.approx(one.mean[cells].mean(), abs=1e-9)
        own = np.sqrt(figures.centre_se[index] ** 2 - READING_SD**2)
        assert own < np.sqrt(one.variance[cells].mean())
    draws = one.draws(count=COUNT, seed=7)
    for index in (0, 1):
        average = draws.fields[one.graph.room[draws.cells] == index].mean(axis=0)
        own = np.sqrt(figures.centre_se[index] ** 2 - READING_SD**2)
        assert average.mean() == pytest.approx(figures.centre[index], abs=5 * own / COUNT**0.5)
        assert average.std() == pytest.approx(own, rel=0.1)


def test_an_unreached_room_has_no_figures() -> None:
    figures = room_figures(made(walls=True), 3, log=True)
    assert np.isnan(figures.average[2])
    assert np.isnan(figures.centre[2])
    assert np.isnan(figures.probability_anywhere_above(1.0)[2])


def test_somewhere_above_is_likelier_than_at_any_one_place() -> None:
    one = made(walls=True)
    figures = room_figures(one, 3, log=True)
    level = float(np.exp(one.mean[one.graph.room == 0].max() + 0.3))
    anywhere = figures.probability_anywhere_above(level)
    cells = one.graph.room == 0
    sd = np.sqrt(one.variance[cells])
    at_one_place = norm.sf((np.log(level) - one.mean[cells]) / sd)
    assert anywhere[0] > at_one_place.max()
    assert figures.probability_anywhere_above(1e9)[:2].tolist() == [0.0, 0.0]
    assert figures.probability_anywhere_above(1e-9)[:2].tolist() == [1.0, 1.0]


def test_the_mean_concentration_lies_above_the_geometric_mean() -> None:
    figures = room_figures(made(walls=True), 3, log=True)
    assert (figures.average[:2] > np.exp(figures.centre[:2])).all()
    assert (figures.low[:2] < figures.average[:2]).all()
    assert (figures.average[:2] < figures.high[:2]).all()


def test_a_room_average_along_straight_lines_is_taken_over_a_sample_of_its_cells() -> None:
    one = made(walls=False)
    candidate = one.mixture.parts[0].candidate
    cells = np.flatnonzero(one.graph.room == 0)
    weights = sp.csr_array(
        (np.full(len(cells), 1 / len(cells)), (np.zeros(len(cells), dtype=int), cells)),
        shape=(1, len(one.graph.xy)),
    )
    exact = float((weights @ candidate.columns_to(weights))[0, 0])
    assert float(candidate.between(weights)[0, 0]) == pytest.approx(exact, rel=1e-9)
    few = sp.csr_array(sp.vstack([weights] * 60))  # 25 cells each: every second of 48
    assert candidate.between(few)[0, 0] == pytest.approx(exact, rel=0.02)
