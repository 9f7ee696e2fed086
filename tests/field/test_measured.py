"""The error that an instrument's checks show: it widens the estimate, and never averages out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field import averaged, estimate
from hgmap.field.estimate import READING_SD, EstimateSettings, estimate_surface
from hgmap.field.idw import idw
from hgmap.field.influence import reading_weights
from hgmap.field.kriging import krige
from hgmap.field.measured import error_by_room, shared_sd, working_errors
from hgmap.field.places import merge_places
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.raster import Raster
from hgmap.field.rooms import room_figures
from hgmap.field.surface import Surface
from hgmap.field.variogram import Variogram
from hgmap.site.building import Floor, Opening, Room

Floats = NDArray[np.float64]

APART = Floor("g", "Ground", (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 12, 5))))
JOINED = replace(APART, openings=(Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b")),))
WAYS: dict[str, dict[str, Any]] = {
    "through doors": {},
    "through doors, linear": {"scale": "linear"},
    "straight": {"walls": False},
    "idw": {"method": "idw", "walls": False},
    "idw through doors": {"method": "idw"},
    "idw, linear": {"method": "idw", "scale": "linear"},
    "many": {"walls": False},
    "many through doors": {},
}


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Every way from readings to an estimate."""
    name = str(request.param)
    if name == "many":
        monkeypatch.setattr(estimate, "MOST_TO_AVERAGE", 5)
    if name == "many through doors":
        monkeypatch.setattr(averaged, "precision_pays", lambda *_, **__: True)
    return WAYS[name]


def readings(n: int = 14, seed: int = 5) -> tuple[Floats, Floats]:
    random = np.random.default_rng(seed)
    xy = random.uniform((0.2, 0.2), (11.8, 4.8), (n, 2))
    return xy, np.exp(0.1 * xy[:, 0] + random.normal(0, 0.2, n))


def made(error: Floats | None, floor: Floor = JOINED, n: int = 14, **settings: Any) -> Surface:
    xy, concentration = readings(n)
    return estimate_surface(
        floor, xy, concentration, EstimateSettings(cell_m=0.5, **settings), error=error
    )


def one_error(size: float, n: int = 14) -> Floats:
    """Of the first reading, in shares of its concentration."""
    error = np.zeros(n)
    error[0] = size * readings(n)[1][0]
    return error


def at_first(surface: Surface) -> tuple[float, float]:
    """Return sd and weight of the first reading in the cell nearest to it."""
    raster = surface.raster
    xy = readings()[0][0]
    column, row = int(np.abs(raster.x - xy[0]).argmin()), int(np.abs(raster.y - xy[1]).argmin())
    place = np.array([raster.x[column], raster.y[row]])
    room = int(raster.room_index[row, column])
    weight = reading_weights(surface, JOINED, place, room)[surface.group[0]]
    return float(surface.sd[row, column]), float(weight)


def test_no_error_changes_no_byte_of_the_estimate(way: dict[str, Any]) -> None:
    without, zero = made(None, **way), made(np.zeros(14), **way)
    assert without.mean.tobytes() == zero.mean.tobytes()
    assert without.sd.tobytes() == zero.sd.tobytes()
    assert without.notes == zero.notes
    assert len(zero.error) == 0


def test_a_larger_error_weighs_less_and_leaves_a_larger_sd(way: dict[str, Any]) -> None:
    sd, weight = zip(
        *(at_first(made(one_error(e), **way)) for e in (0, 0.1, 0.3, 1.0)), strict=True
    )
    assert list(sd) == sorted(set(sd))
    assert list(weight) == sorted(set(weight), reverse=True)


def test_an_error_that_all_share_is_in_the_sd_of_every_cell(way: dict[str, Any]) -> None:
    concentration = readings()[1]
    surface = made(0.3 * concentration, **way)
    inside = surface.raster.inside
    if surface.scale == "log":
        assert (surface.sd[inside] >= np.hypot(READING_SD, 0.3)).all()
    else:
        assert (surface.sd[inside] >= 0.3 * concentration.min()).all()


def test_both_forms_through_doors_take_the_error_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    found = []
    for pays in (False, True):
        monkeypatch.setattr(averaged, "precision_pays", lambda *_, pays=pays, **__: pays)
        found.append(made(0.2 * readings()[1] * (np.arange(14) % 3)))
    dense, precise = found
    assert isinstance(precise.estimate, PrecisionCells)
    assert not isinstance(dense.estimate, PrecisionCells)
    inside = dense.raster.inside
    assert precise.mean[inside] == pytest.approx(dense.mean[inside], abs=0.05)
    assert precise.sd[inside] == pytest.approx(dense.sd[inside], rel=0.05)


def test_the_single_straight_fit_is_kriging_with_error_variances(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(estimate, "MOST_TO_AVERAGE", 5)
    error = 0.2 * np.arange(14) / 14
    xy, concentration = readings()
    surface = made(error * concentration, walls=False)
    fit = surface.variogram
    assert isinstance(fit, Variogram)
    mean, _ = krige(
        xy, np.log(concentration), surface.raster.points(), model=fit.model, nugget=fit.nugget,
        psill=fit.psill, range_=fit.range_m, exact=False, error_variance=error**2,
    )  # fmt: skip
    assert surface.mean[surface.raster.inside] == pytest.approx(mean, abs=1e-7)


def test_weights_by_distance_fall_with_the_whole_variance_of_a_reading() -> None:
    error = 0.2 * np.arange(14) / 14
    xy, concentration = readings()
    surface = made(error * concentration, method="idw", walls=False)
    plain = idw(
        xy, np.log(concentration), surface.raster.points(),
        error_variance=READING_SD**2 + error**2,
    )  # fmt: skip
    assert surface.mean[surface.raster.inside] == pytest.approx(plain, abs=1e-7)


@given(st.integers(1, 12), st.floats(0.01, 2.0))
def test_replicates_do_not_average_the_shared_error_out(count: int, error: float) -> None:
    def places(one: Floats | None) -> Any:
        return merge_places(
            np.zeros((count, 2)), np.ones(count), np.zeros(count, dtype=np.int64),
            tolerance_m=0.01, reading_sd=0.1, error=one, stated_sd=0.1,
        )  # fmt: skip

    with_error = places(np.full(count, error))
    assert with_error.error == pytest.approx([error])
    added = with_error.error_weight - places(None).error_weight
    assert added == pytest.approx([(error / 0.1) ** 2])


@given(st.floats(1e-3, 1e3), st.floats(0, 1e4), st.floats(1.0, 10.0))
def test_two_sd_reach_at_least_two_errors_up(value: float, share: float, more: float) -> None:
    one, two = working_errors(
        np.array([value, value]), np.array([share * value, more * share * value]), log=True
    )
    assert value * np.exp(2.0 * one) >= value * (1.0 + 2.0 * share) * (1.0 - 1e-9)
    assert two >= one
    if share <= 1.0:
        assert one == pytest.approx(share)  # the delta method


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_room_takes_the_error_of_its_own_readings(first: float, second: float) -> None:
    xy = np.array([(1.0, 1.0), (5.9, 4.0), (6.1, 4.0)])
    room = np.array([0, 0, 1])
    places = merge_places(
        xy, np.zeros(3), room, tolerance_m=0.01, reading_sd=0.1, stated_sd=0.1,
        error=np.array([first, first, second + 1e-3]),
    )  # fmt: skip
    raster = Raster.over(APART, 0.5)
    found = raster.spread(shared_sd(places, raster))
    assert found[raster.room_index == 0] == pytest.approx(first)
    assert found[raster.room_index == 1] == pytest.approx(second + 1e-3)
    assert error_by_room(room, places.error, 2) == pytest.approx([first, second + 1e-3])


def test_a_room_without_a_reading_takes_the_error_of_all() -> None:
    places = merge_places(
        np.array([(1.0, 1.0), (5.0, 4.0)]), np.zeros(2), np.zeros(2, dtype=np.int64),
        tolerance_m=0.01, reading_sd=0.1, stated_sd=0.1, error=np.array([0.1, 0.5]),
    )  # fmt: skip
    raster = Raster.over(APART, 0.5)
    there = raster.spread(shared_sd(places, raster))[raster.room_index == 1]
    assert ((there > 0.1) & (there <= 0.5)).all()
    assert error_by_room(places.room, places.error, 2) == pytest.approx([0.3, 0.3])


def test_the_average_of_a_room_is_no_surer_than_the_error_that_its_readings_share() -> None:
    surface = made(None)
    assert surface.estimate is not None
    plain = room_figures(surface.estimate, 2, log=True)
    zero = room_figures(surface.estimate, 2, log=True, error=np.zeros(2))
    wide = room_figures(surface.estimate, 2, log=True, error=np.array([0.0, 0.5]))
    assert zero.average_se.tobytes() == plain.average_se.tobytes()
    assert zero.highest.tobytes() == plain.highest.tobytes()
    assert wide.average_se[0] == plain.average_se[0]
    assert wide.average_se[1] > 1.5 * plain.average_se[1]
    assert wide.centre_se[1] == pytest.approx(np.hypot(plain.centre_se[1], 0.5))


def test_an_error_larger_than_its_reading_is_said() -> None:
    texts = "; ".join(made(one_error(2.0)).notes)
    assert "1 reading has an error of its own" in texts
    assert "1 reading is smaller than its own measured error" in texts


@pytest.mark.parametrize("error", [np.full(14, -0.1), np.full(14, np.nan), np.zeros(3)])
def test_an_error_that_cannot_be_is_refused(error: Floats) -> None:
    with pytest.raises(EstimateError, match="error"):
        made(error)
