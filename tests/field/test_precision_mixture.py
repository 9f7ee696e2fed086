"""Ranges, nuggets and wall fluxes weigh the same by precision and by covariance."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

from hgmap.errors import EstimateError
from hgmap.field.averaged import estimate_cells
from hgmap.field.beliefs import SHARES, Beliefs
from hgmap.field.graph import CellGraph
from hgmap.field.mixture_posterior import MixturePosterior
from hgmap.field.points import Progress
from hgmap.field.precision_cost import precision_pays
from hgmap.field.precision_mixture import weigh_by_precision
from hgmap.field.precision_places import PlacesByPrecision
from hgmap.field.wall_candidate import WALL_FLUX, WallCandidate
from hgmap.field.walls import WallField
from hgmap.field.weigh import weigh
from tests.field.precision_cases import candidate_of, make_case, make_floor

BELIEFS = {
    "nothing": Beliefs(),
    "a small nugget": Beliefs(nugget_median=0.02, nugget_log_sd=1.0),
    "a large nugget": Beliefs(nugget_median=5.0, nugget_log_sd=0.5),
    "a least sill": Beliefs(nugget_median=0.1, least_sill=3.0),
}


@pytest.mark.parametrize("held", BELIEFS)
@pytest.mark.parametrize(("seed", "n"), [(3, 40), (4, 16), (5, 200)])
def test_ranges_shares_and_fluxes_weigh_as_in_the_dense_form(seed: int, n: int, held: str) -> None:
    case = make_case(make_floor(["open", "sealed", "closed"], 0.4, True), seed, n, 5)
    ranges = np.geomspace(1.0, 40.0, 4)
    whole = estimate_cells(
        case.walls.graph,
        case.places,
        walls=case.walls,
        ranges_m=ranges,
        beliefs=BELIEFS[held],
    )
    made = weigh_by_precision(
        case.walls,
        case.weights,
        case.values,
        ranges_m=ranges,
        wall_flux=WALL_FLUX,
        error_weight=case.error_weight,
        beliefs=BELIEFS[held],
    )
    theirs = {
        (part.candidate.range_m, part.share, part.candidate.flux): (part.weight, part.sill)
        for part in whole.mixture.parts
        if isinstance(part.candidate, WallCandidate)
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
    error, sd = whole.left_out()
    assert made.left_out_error == pytest.approx(error, rel=1e-6, abs=1e-6)
    assert made.left_out_sd == pytest.approx(sd, rel=1e-6)
    assert made.nugget == pytest.approx(whole.nugget, rel=1e-6)
    assert made.sill == pytest.approx(whole.sill, rel=1e-6)
    assert made.range_m == pytest.approx(whole.range_m, rel=1e-6)
    assert made.degrees_of_freedom == whole.degrees_of_freedom


def test_many_readings_need_only_some_of_the_shares() -> None:
    case = make_case(make_floor(["open", "closed"], 0.0, False), 5, 400)
    tried = weigh_by_precision(
        case.walls, case.weights, case.values, ranges_m=(2.0, 8.0), wall_flux={0.0: 1.0}
    ).tried
    assert tried < 2 * len(SHARES)


def test_readings_that_cannot_be_weighed_are_refused() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 12)
    with pytest.raises(EstimateError, match="do not differ"):
        weigh_by_precision(
            case.walls, case.weights, np.ones(12), ranges_m=(3.0,), wall_flux={0.0: 1.0}
        )
    one = sp.csr_array(case.weights[[0]])
    with pytest.raises(EstimateError, match="no more readings"):
        weigh_by_precision(case.walls, one, np.ones(1), ranges_m=(3.0,), wall_flux={0.0: 1.0})


def test_progress_counts_up_and_can_cancel() -> None:
    case = make_case(make_floor(["open"], 0.0, False), 1, 20)
    steps: list[tuple[int, int]] = []

    def run(progress: Progress) -> None:
        weigh_by_precision(
            case.walls,
            case.weights,
            case.values,
            ranges_m=(2.0, 6.0),
            wall_flux={0.0: 1.0},
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
            wall_flux={flux: 1.0},
            error_weight=case.error_weight,
        )
        theirs = MixturePosterior(case.walls.graph, mixture, case.target_trend)
        ours = PlacesByPrecision(case.walls, estimate)
        a, b = np.array([[0.4, 0.6], [2.2, 3.0]]), np.array([[1.1, 2.0], [2.9, 0.3], [0.4, 0.6]])
        assert ours.covariance(a, b, 0) == pytest.approx(theirs.covariance(a, b, 0), rel=1e-6)
        assert ours.variance(a, 0) == pytest.approx(theirs.variance(a, 0), rel=1e-6)
        # no reading reaches the room that stands apart
        assert np.isnan(ours.variance(np.array([[1.0, 7.0]]), 3)).all()
