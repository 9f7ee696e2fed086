"""The precision form of the wall-aware field says what the dense form says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pytest
import scipy.sparse as sp
from hgmap.field.doors import WALL_FLUX, DoorPosterior, _WallCandidate, estimate_through_doors
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field.graph import CellGraph
from hgmap.field.mixture import (
    SHARES,
    Mixture,
    _likelihood,
    _spectrum,
    leave_one_out,
    predict,
    weigh,
)
from hgmap.field.precision import PrecisionPosterior, posterior_by_precision
from hgmap.field.precision_cost import precision_pays
from hgmap.field.precision_mixture import weigh_by_precision
from hgmap.field.precision_places import PlacesByPrecision
from hgmap.field.walls import WallField, WallKernel
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
            openings.append(Opening(f"d{k}", LineString([(at, 1), (at, 2.2)]), doors[k - 1], sides))
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


def candidate_of(case: Case, kernel: WallKernel, flux: float) -> _WallCandidate:
    component, half = case.walls.graph.component, kernel.half(case.weights)
    return _WallCandidate(kernel, case.weights, component, half, flux, 0.0)


def dense(case: Case, range_m: float, share: float, flux: float) -> Mixture:
    return weigh(
        [candidate_of(case, case.walls.kernel(range_m), flux)],
        case.values,
        case.trend,
        error_weight=case.error_weight,
        shares=np.array([share]),
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


@settings(max_examples=25, deadline=None)
@given(CASES, st.floats(1.0, 60.0), st.floats(1.0, 60.0), st.sampled_from([0.0, 0.1, 1.0]))
def test_candidates_of_both_forms_can_be_compared(
    case: Case, range_m: float, other_range_m: float, flux: float
) -> None:
    def likelihood(range_m: float, share: float) -> tuple[float, float]:
        kernel = case.walls.kernel(range_m)
        spectrum = _spectrum(
            candidate_of(case, kernel, flux), case.values, case.trend, case.error_weight
        )
        freedom = len(case.values) - case.trend.shape[1]
        return (
            sparse(case, range_m, share, flux).log_likelihood,
            _likelihood(spectrum, share, freedom, 0.0)[0],
        )

    precision, covariance = likelihood(range_m, 0.3)
    for share in (1e-4, 100.0):
        other_precision, other_covariance = likelihood(other_range_m, share)
        assert precision - other_precision == pytest.approx(
            covariance - other_covariance, rel=1e-9, abs=1e-6
        )


@pytest.mark.parametrize(("seed", "n"), [(3, 40), (4, 16), (5, 200)])
def test_ranges_shares_and_fluxes_weigh_as_in_the_dense_form(seed: int, n: int) -> None:
    case = make_case(make_floor(["open", "sealed", "closed"], 0.4, True), seed, n, 5)
    ranges = np.geomspace(1.0, 40.0, 4)
    whole = estimate_through_doors(
        case.walls, case.weights, case.values, error_weight=case.error_weight, ranges_m=ranges
    )
    made = weigh_by_precision(
        case.walls,
        case.weights,
        case.values,
        ranges_m=ranges,
        wall_flux=WALL_FLUX,
        error_weight=case.error_weight,
    )
    theirs = {
        (part.candidate.range_m, part.share, part.candidate.flux): (part.weight, part.sill)
        for part in whole.mixture.parts
        if isinstance(part.candidate, _WallCandidate)
    }
    ours = {(one.range_m, one.share, one.flux): (one.weight, one.sill) for one in made.parts}
    assert len(theirs) > 5
    assert ours.keys() == theirs.keys()
    for key, (weight, sill) in theirs.items():
        assert ours[key] == pytest.approx((weight, sill), rel=1e-6)
    assert sum(one.weight for one in made.parts) == pytest.approx(1.0)
    known = ~np.isnan(whole.mean)
    assert (np.isnan(made.mean) == ~known).all()
    assert made.mean[known] == pytest.approx(whole.mean[known], rel=1e-6, abs=1e-6)
    assert made.variance[known] == pytest.approx(whole.variance[known], rel=1e-6)
    error, sd = leave_one_out(whole.mixture)
    assert made.left_out_error == pytest.approx(error, rel=1e-6, abs=1e-6)
    assert made.left_out_sd == pytest.approx(sd, rel=1e-6)
    assert made.nugget == pytest.approx(whole.mixture.nugget, rel=1e-6)
    assert made.sill == pytest.approx(whole.mixture.sill, rel=1e-6)
    assert made.range_m == pytest.approx(whole.mixture.range_m, rel=1e-6)
    assert made.degrees_of_freedom == whole.mixture.degrees_of_freedom


def test_many_readings_need_only_some_of_the_shares() -> None:
    case = make_case(make_floor(["open", "closed"], 0.0, False), 5, 400)
    tried = weigh_by_precision(
        case.walls, case.weights, case.values, ranges_m=(2.0, 8.0), wall_flux=(0.0,)
    ).tried
    assert tried < 2 * len(SHARES)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**16), st.integers(200, 600), st.sampled_from([1e-3, 1.0, 100.0]))
def test_many_readings_of_few_cells_say_what_their_averages_say(
    seed: int, n: int, share: float
) -> None:
    # readings at one place are worth one reading of less error: the law both forms must keep
    floor = make_floor(["open", "closed"], 0.0, False)
    case = make_case(floor, seed, n)
    chosen = np.arange(n) % 15
    weights = sp.csr_array(case.weights[chosen])
    many = case._replace(weights=weights, trend=case.trend[chosen], error_weight=case.error_weight)
    precision = np.bincount(chosen, weights=1.0 / case.error_weight)
    first = np.arange(15)
    few = case._replace(
        weights=sp.csr_array(case.weights[first]),
        trend=case.trend[first],
        values=np.bincount(chosen, weights=case.values / case.error_weight) / precision,
        error_weight=1.0 / precision,
    )
    one, other = (sparse(some, 7.0, share, 1.0) for some in (many, few))
    known = case.target_trend.any(axis=1)
    assert one.mean[known] == pytest.approx(other.mean[known], rel=1e-6, abs=1e-6)
    assert one.variance[known] / one.sill == pytest.approx(
        other.variance[known] / other.sill, rel=1e-6
    )


def test_a_long_range_on_fine_cells_keeps_its_digits() -> None:
    # range over step 1,300: K K holds the mean of the floor in its last four digits
    graph = CellGraph.over(make_floor(["open", "closed"], 0.0, False), 0.1)
    random = np.random.default_rng(7)
    home = random.choice(np.flatnonzero(graph.room < 3), 30)
    weights = graph.interpolation(graph.xy[home], graph.room[home])
    part = graph.component[home]
    reached = np.unique(part)
    case = Case(
        WallField(graph),
        weights,
        random.normal(0, 1, 30),
        (part[:, None] == reached).astype(float),
        (graph.component[:, None] == reached).astype(float),
        np.ones(30),
    )
    known = case.target_trend.any(axis=1)
    for share in (1e-3, 1.0, 100.0):
        other = dense(case, 130.0, share, 0.1)
        mean, variance = predict(other, case.target_trend)
        made = sparse(case, 130.0, share, 0.1)
        assert made.mean[known] == pytest.approx(mean[known], rel=1e-6, abs=1e-6)
        assert made.variance[known] == pytest.approx(variance[known], rel=5e-6)


def test_no_share_of_noise_is_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(ValueError, match="above 0"):
        sparse(case, 5.0, 0.0, 0.0)


def test_readings_that_cannot_be_weighed_are_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(EstimateError, match="do not differ"):
        weigh_by_precision(case.walls, case.weights, np.ones(12), ranges_m=(3.0,), wall_flux=(0.0,))
    one = sp.csr_array(case.weights[[0]])
    with pytest.raises(EstimateError, match="no more readings"):
        weigh_by_precision(case.walls, one, np.ones(1), ranges_m=(3.0,), wall_flux=(0.0,))


def test_progress_counts_up_and_can_cancel() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 20)
    steps: list[tuple[int, int]] = []

    def run(progress) -> None:
        weigh_by_precision(
            case.walls,
            case.weights,
            case.values,
            ranges_m=(2.0, 6.0),
            wall_flux=(0.0,),
            progress=progress,
        )

    run(lambda done, whole: steps.append((done, whole)))
    shares = [done / whole for done, whole in steps]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(done: int, whole: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(stop)


def test_the_precision_form_pays_for_many_readings_only() -> None:
    walls = WallField(CellGraph.over(make_floor(["open"], 0.0, False), 0.1))
    assert not precision_pays(walls, 40, ranges=7, fluxes=3)
    assert precision_pays(walls, 2000, ranges=7, fluxes=3)


def test_a_range_beyond_what_doubles_hold_is_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(EstimateError, match="too long for cells"):
        sparse(case, 1e5, 1.0, 0.0)
    # the longest that is not: the mean is held by the pins alone
    mean, variance = predict(dense(case, 2e4, 100.0, 0.0), case.target_trend)
    made = sparse(case, 2e4, 100.0, 0.0)
    known = case.target_trend.any(axis=1)
    assert made.mean[known] == pytest.approx(mean[known], abs=1e-5)
    assert made.variance[known] == pytest.approx(variance[known], rel=1e-4)


def test_places_covary_as_in_the_dense_form() -> None:
    case = make_case(make_floor(["open", "closed"], 0.4, True), 11, 60)
    kernel = case.walls.kernel(5.0)
    for flux in (0.0, 1.0):
        mixture = weigh(
            [candidate_of(case, kernel, flux)],
            case.values,
            case.trend,
            error_weight=case.error_weight,
        )
        estimate = weigh_by_precision(
            case.walls,
            case.weights,
            case.values,
            ranges_m=(5.0,),
            wall_flux=(flux,),
            error_weight=case.error_weight,
        )
        theirs = DoorPosterior(case.walls.graph, mixture)
        ours = PlacesByPrecision(case.walls, estimate)
        a, b = np.array([[0.4, 0.6], [2.2, 3.0]]), np.array([[1.1, 2.0], [2.9, 0.3], [0.4, 0.6]])
        assert ours.covariance(a, b, 0) == pytest.approx(theirs.covariance(a, b, 0), rel=1e-6)
        assert ours.variance(a, 0) == pytest.approx(theirs.variance(a, 0), rel=1e-6)
        # no reading reaches the room that stands apart
        assert np.isnan(ours.variance(np.array([[1.0, 7.0]]), 3)).all()
