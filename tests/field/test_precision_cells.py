"""What the estimate of very many readings can be asked, against the estimate of few."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.averaged import estimate_cells
from hgmap.field.beliefs import Beliefs
from hgmap.field.cell_estimate import CellEstimate
from hgmap.field.dense_cells import DenseCells
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.precision_mixture import weigh_by_precision
from hgmap.field.predict import predict
from hgmap.field.rooms import room_figures
from hgmap.field.wall_candidate import WALL_FLUX, wall_candidates
from hgmap.field.weigh import weigh
from tests.field.precision_cases import Case, make_case, make_floor

Floats = NDArray[np.float64]
RANGES_M = np.geomspace(1.5, 30.0, 4)
COUNT = 4000
APART = 3
"""Position of the room that no reading reaches."""


class Both(NamedTuple):
    case: Case
    dense: DenseCells
    precision: PrecisionCells


@cache
def both() -> Both:
    """Return both forms, several candidates weighed."""
    case = make_case(make_floor(["open", "sealed"], 0.4, True), 11, 60, 4)
    return Both(
        case,
        estimate_cells(case.walls.graph, case.places, walls=case.walls, ranges_m=RANGES_M),
        by_precision(case),
    )


@cache
def both_of_one(flux: float, n: int = 40) -> Both:
    """Return both forms, with one range, share and flux: one part carries all the weight."""
    case = make_case(make_floor(["open", "sealed"], 0.4, True), 11, n, 4)
    beliefs = Beliefs(np.array([0.3]))
    (candidate,) = wall_candidates(case.walls, case.weights, np.array([5.0]), wall_flux={flux: 1.0})
    mixture = weigh(
        [candidate], case.values, case.trend, error_weight=case.error_weight, beliefs=beliefs
    )
    mean, variance = predict(mixture, case.target_trend)
    dense = DenseCells(case.walls.graph, case.weights, case.target_trend, mean, variance, mixture)
    return Both(case, dense, by_precision(case, np.array([5.0]), {flux: 1.0}, beliefs))


def by_precision(
    case: Case,
    ranges_m: Floats = RANGES_M,
    wall_flux: dict[float, float] | None = None,
    beliefs: Beliefs | None = None,
) -> PrecisionCells:
    made = weigh_by_precision(
        case.walls,
        case.weights,
        case.values,
        ranges_m=ranges_m,
        wall_flux=WALL_FLUX if wall_flux is None else wall_flux,
        error_weight=case.error_weight,
        beliefs=beliefs,
    )
    return PrecisionCells.of(case.walls, case.places, made)


def rooms_of(made: CellEstimate) -> sp.csr_array:
    """Return what averages each room that a reading reaches: one row a room."""
    room = made.graph.room
    cells = np.flatnonzero(room != APART)
    share = 1.0 / np.bincount(room)[room[cells]]
    return sp.csr_array((share, (room[cells], cells)), shape=(APART, len(room)))


def point(made: CellEstimate, x: float, y: float, room: int) -> sp.csr_array:
    return made.graph.interpolation(np.array([[x, y]]), np.array([room]))


def test_mean_and_variance_of_every_cell_are_those_of_the_other_form() -> None:
    _, dense, precision = both()
    unknown = precision.graph.room == APART
    assert precision.candidates == dense.candidates > 5
    for ours, theirs in ((precision.mean, dense.mean), (precision.variance, dense.variance)):
        assert (np.isnan(ours) == unknown).all()
        assert ours[~unknown] == pytest.approx(theirs[~unknown], rel=1e-6, abs=1e-6)
    for name in ("nugget", "sill", "range_m", "degrees_of_freedom"):
        assert getattr(precision, name) == pytest.approx(getattr(dense, name), rel=1e-6)


def test_each_range_weighs_what_it_weighs_in_the_other_form() -> None:
    _, dense, precision = both()
    weights = [precision.weight_of_range(float(one)) for one in RANGES_M]
    assert weights == pytest.approx([dense.weight_of_range(float(one)) for one in RANGES_M])
    assert sum(weights) == pytest.approx(1.0)
    assert precision.weight_of_range(2.0) == 0.0


def test_each_reading_is_predicted_from_the_others_as_in_the_other_form() -> None:
    _, dense, precision = both()
    for ours, theirs in zip(precision.left_out(), dense.left_out(), strict=True):
        assert ours == pytest.approx(theirs, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("flux", [0.0, 1.0])
def test_averages_and_their_covariance_are_those_of_the_other_form(flux: float) -> None:
    _, dense, precision = both_of_one(flux)
    mean, covariance = precision.averages(rooms_of(precision))
    expected, expected_covariance = dense.averages(rooms_of(dense))
    assert mean == pytest.approx(expected, rel=1e-6, abs=1e-6)
    assert covariance == pytest.approx(expected_covariance, rel=1e-6, abs=1e-9)
    assert abs(covariance[0, 1]) > 0.02 * covariance[0, 0]  # the door joins the rooms


def test_averages_are_of_the_whole_mixture_and_their_covariance_of_its_heaviest() -> None:
    _, dense, precision = both()
    mean, covariance = precision.averages(rooms_of(precision))
    expected, whole = dense.averages(rooms_of(dense))
    assert mean == pytest.approx(expected, rel=1e-6, abs=1e-6)
    heaviest = dense.posterior.of_weights(rooms_of(dense), rooms_of(dense))
    assert covariance == pytest.approx(heaviest, rel=1e-6, abs=1e-9)
    # the candidates' own differences add little
    assert (np.diag(covariance) > 0.85 * np.diag(whole)).all()
    assert (np.diag(covariance) < 1.05 * np.diag(whole)).all()


def test_an_average_of_cells_that_no_reading_reaches_has_no_error() -> None:
    precision = both_of_one(0.1).precision
    away = point(precision, 1.0, 7.0, APART)
    _, covariance = precision.averages(sp.vstack([away, point(precision, 1.0, 1.0, 0)]).tocsr())
    assert np.isnan(covariance[0]).all()
    assert np.isnan(covariance[:, 0]).all()
    assert covariance[1, 1] > 0


@pytest.mark.parametrize("flux", [0.0, 1.0])
def test_weights_of_readings_add_to_1_in_their_part_and_make_the_estimate(flux: float) -> None:
    case, dense, precision = both_of_one(flux)
    parts = case.trend.argmax(axis=1)
    for x, y, room in ((0.3, 0.3, 0), (2.9, 1.6, 0), (4.0, 3.0, 1), (8.0, 2.0, 2)):
        at = point(precision, x, y, room)
        weights = precision.reading_weights(at)
        own = parts == (at @ case.target_trend)[0].argmax()
        assert weights[own].sum() == pytest.approx(1.0, abs=1e-8)
        assert weights[~own] == pytest.approx(0.0, abs=1e-8)
        known = np.nan_to_num(precision.mean)
        assert weights @ case.values == pytest.approx((at @ known)[0], abs=1e-6)
        assert weights == pytest.approx(dense.reading_weights(at), abs=1e-7)


def test_no_reading_weighs_where_none_reaches() -> None:
    precision = both_of_one(0.1).precision
    assert np.isnan(precision.reading_weights(point(precision, 1.0, 7.0, APART))).all()


@pytest.mark.parametrize("flux", [0.0, 1.0])
def test_draws_have_the_mean_of_the_estimate_and_a_variance_widened_to_students_t(
    flux: float,
) -> None:
    _, _, precision = both_of_one(flux, 12)
    draws = precision.draws(count=COUNT, seed=4)
    known = np.isfinite(precision.mean[draws.cells])
    fields = draws.fields[known]
    mean, variance = precision.mean[draws.cells][known], precision.variance[draws.cells][known]
    assert np.abs(fields.mean(axis=1) - mean).max() < 6.0 * np.sqrt(variance.max() / COUNT)
    freedom = precision.degrees_of_freedom
    assert freedom < 12
    ratio = fields.var(axis=1) / variance
    assert np.median(ratio) == pytest.approx(freedom / (freedom - 2), rel=0.08)


@pytest.mark.parametrize("flux", [0.0, 1.0])
def test_draws_given_their_sill_covary_as_the_estimate_says(flux: float) -> None:
    # few readings, so that the wall flux of the draws is not all corrected away
    _, dense, precision = both_of_one(flux, 12)
    sill = np.full(COUNT, precision.sill)
    fields = precision.posterior.draws(sill, np.random.default_rng(9))
    reached = precision.made.common.cells
    assert fields.shape == (len(reached), COUNT)
    ratio = fields.var(axis=1) / precision.variance[reached]
    assert np.median(ratio) == pytest.approx(1.0, rel=0.03)
    assert np.abs(ratio - 1.0).max() < 6.0 * np.sqrt(2.0 / COUNT)
    averaged = rooms_of(precision)[:, reached] @ fields
    _, covariance = dense.averages(rooms_of(dense))
    noise = np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)) * 2.0 / COUNT)
    assert (np.abs(np.cov(averaged) - covariance) < 6.0 * noise).all()


def test_draws_of_a_mixture_are_those_of_its_heaviest_candidate() -> None:
    _, dense, precision = both()
    alone = replace(dense.mixture, parts=(replace(dense.mixture.parts[0], weight=1.0),))
    expected, variance = predict(alone, dense.target_trend)
    fields = precision.draws(count=COUNT, seed=4).fields
    known = np.isfinite(precision.mean)
    freedom = precision.degrees_of_freedom
    ratio = fields[known].var(axis=1) / variance[known]
    assert np.median(ratio) == pytest.approx(freedom / (freedom - 2), rel=0.04)
    error = np.abs(fields.mean(axis=1) - expected)[known]
    assert (error < 6.0 * np.sqrt(variance[known] / COUNT)).all()
    # so close that the other candidates' estimates do not pass
    assert np.nanmax(np.abs(dense.mean - expected)) > 6.0 * np.sqrt(np.nanmin(variance) / COUNT)


def test_the_same_seed_draws_the_same_fields_and_unreached_cells_have_none() -> None:
    precision = both_of_one(0.1).precision
    one, again, other = (precision.draws(count=20, seed=seed).fields for seed in (1, 1, 2))
    assert np.array_equal(one, again, equal_nan=True)
    assert not np.array_equal(one, other, equal_nan=True)
    unknown = precision.graph.room == APART
    assert one.shape == (len(unknown), 20)
    assert np.isnan(one[unknown]).all()
    assert np.isfinite(one[~unknown]).all()


def test_figures_of_rooms_are_those_of_the_other_form() -> None:
    _, dense, precision = both_of_one(0.1)
    ours, theirs = (room_figures(made, 4, log=True) for made in (precision, dense))
    for name in ("centre", "centre_se"):
        one, other = getattr(ours, name), getattr(theirs, name)
        assert one[:APART] == pytest.approx(other[:APART], rel=1e-6)
        assert np.isnan([one[APART], other[APART]]).all()
    # these are drawn
    for name in ("average", "low", "high"):
        one, other = getattr(ours, name), getattr(theirs, name)
        assert one[:APART] == pytest.approx(other[:APART], rel=0.1)
        assert np.isnan([one[APART], other[APART]]).all()
    level = float(np.median(theirs.highest[:APART]))
    anywhere = ours.probability_anywhere_above(level)
    assert anywhere[:APART] == pytest.approx(
        theirs.probability_anywhere_above(level)[:APART], abs=0.12
    )
    assert np.isnan(anywhere[APART])
