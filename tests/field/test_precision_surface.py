"""Which floors are estimated by the precision form, and that nothing else changes with it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field import averaged, estimate
from hgmap.field.dense_cells import DenseCells
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.influence import reading_weights
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.rooms import room_figures
from hgmap.field.surface import Surface
from tests.field.precision_cases import make_floor

Floats = NDArray[np.float64]
FLOOR = make_floor(["open", "sealed", "closed"], 0.4, True)
APART = 4
"""Position of the room that no reading reaches."""


@pytest.fixture
def pays(monkeypatch: pytest.MonkeyPatch) -> None:
    """The precision form pays for any number of readings."""
    monkeypatch.setattr(averaged, "precision_pays", lambda *_, **__: True)


def readings(n: int = 30) -> tuple[Floats, Floats]:
    random = np.random.default_rng(8)
    room = np.arange(n) % 4
    xy = np.column_stack([3.4 * room + random.uniform(0.1, 2.9, n), random.uniform(0.1, 3.9, n)])
    xy[n // 2 + 1 :: 4] = xy[1]  # replicates
    return xy, np.exp(np.sin(xy[:, 0]) + 0.2 * random.normal(size=n))


def surface(bounds: Any = None, n: int = 30, **settings: Any) -> Surface:
    xy, concentration = readings(n)
    return estimate_surface(
        FLOOR, xy, concentration, EstimateSettings(cell_m=0.5, **settings), bounds=bounds
    )


def dense_and_precise(monkeypatch: pytest.MonkeyPatch, **settings: Any) -> tuple[Surface, Surface]:
    found = []
    for pays in (False, True):
        monkeypatch.setattr(averaged, "precision_pays", lambda *_, pays=pays, **__: pays)
        found.append(surface(**settings))
    dense, precise = found
    assert isinstance(dense.estimate, DenseCells)
    assert isinstance(precise.estimate, PrecisionCells)
    return dense, precise


@pytest.mark.parametrize("settings", [{}, {"scale": "linear"}, {"n": 5}])
def test_the_map_is_the_same_by_either_form(
    monkeypatch: pytest.MonkeyPatch, settings: dict[str, Any]
) -> None:
    dense, precise = dense_and_precise(monkeypatch, **settings)
    assert np.isnan(precise.mean[dense.raster.room_index == APART]).all()
    for name in ("mean", "sd"):
        ours, theirs = getattr(precise, name), getattr(dense, name)
        assert ours == pytest.approx(theirs, rel=1e-4, abs=1e-4, nan_ok=True)
    assert precise.notes == dense.notes
    assert precise.degrees_of_freedom == dense.degrees_of_freedom
    for part in ("variogram", "scores"):
        ours, theirs = getattr(precise, part), getattr(dense, part)
        for name, value in vars(theirs).items():
            wanted = (
                value if isinstance(value, str) else pytest.approx(value, rel=1e-4, nan_ok=True)
            )
            assert getattr(ours, name) == wanted, name


def test_the_cost_of_the_forms_decides_and_is_asked_for_what_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = []

    def cost(walls: object, places: int, *, ranges: int, fluxes: int) -> bool:
        asked.append((places, ranges, fluxes))
        return False

    monkeypatch.setattr(averaged, "precision_pays", cost)
    assert isinstance(surface().estimate, DenseCells)
    assert asked == [(26, 7, 3)]  # 30 readings, five of them at one place


@pytest.mark.usefixtures("pays")
@pytest.mark.parametrize("given", [{"range_m": 4.0}, {"nugget": 0.1}, {"sill": 0.5}])
def test_parameters_that_are_given_keep_the_form_that_takes_them(given: dict[str, float]) -> None:
    assert isinstance(surface(**given).estimate, DenseCells)


@pytest.mark.usefixtures("pays")
def test_readings_that_are_intervals_keep_the_form_that_draws_them() -> None:
    _, upper = readings()
    lower = upper.copy()
    lower[3] /= 4.0
    assert isinstance(surface(bounds=(lower, upper)).estimate, DenseCells)
    assert isinstance(surface(bounds=(upper, upper)).estimate, PrecisionCells)


@pytest.mark.usefixtures("pays")
@pytest.mark.parametrize("settings", [{"walls": False}, {"method": "idw"}])
def test_straight_lines_and_distances_know_no_precision(settings: dict[str, Any]) -> None:
    assert not isinstance(surface(**settings).estimate, PrecisionCells)


def test_figures_of_rooms_are_near_those_of_the_dense_form(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = (
        room_figures(one.estimate, 5, log=True)
        for one in reversed(dense_and_precise(monkeypatch, n=200))
        if one.estimate is not None
    )
    assert ours.centre == pytest.approx(theirs.centre, abs=1e-4, nan_ok=True)
    # errors are those of the heaviest candidate alone: nearly all there is, with many readings
    assert ours.centre_se == pytest.approx(theirs.centre_se, rel=0.02, nan_ok=True)
    for name in ("average", "low", "high"):
        assert getattr(ours, name) == pytest.approx(getattr(theirs, name), rel=0.08, nan_ok=True)
    assert np.isnan(ours.average).tolist() == [False, False, False, False, True]


def test_weights_of_readings_are_near_those_of_the_dense_form(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dense, precise = dense_and_precise(monkeypatch)
    for room in range(4):
        place = np.array([3.4 * room + 1.2, 2.1])
        ours, theirs = (reading_weights(one, FLOOR, place, room) for one in (precise, dense))
        assert ours.sum() == pytest.approx(1.0)
        assert ours == pytest.approx(theirs, abs=0.1)
        assert np.corrcoef(ours, theirs)[0, 1] > 0.9
    assert np.isnan(reading_weights(precise, FLOOR, np.array([1.0, 7.0]), APART)).all()


def test_what_places_leave_uncertain_is_the_heaviest_candidate_s_in_both_forms(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dense, precise = dense_and_precise(monkeypatch)
    assert dense.posterior is not None
    assert precise.posterior is not None
    a, b = np.array([[0.4, 0.6], [2.2, 3.0]]), np.array([[1.1, 2.0], [2.9, 0.3]])
    assert precise.posterior.covariance(a, b, 0) == pytest.approx(
        dense.posterior.covariance(a, b, 0), rel=1e-5
    )


@pytest.mark.usefixtures("pays")
def test_among_very_many_readings_intervals_are_numbers_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(estimate, "MOST_THROUGH_DOORS", 20)
    _, concentration = readings()
    made = surface((np.where(concentration < 1, 0.01, 1) * concentration, concentration))
    assert isinstance(made.estimate, PrecisionCells)
    assert any("taken at the value that was written" in note for note in made.notes)


def test_very_many_readings_and_a_parameter_given_are_refused_in_one_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(estimate, "MOST_THROUGH_DOORS", 20)
    with pytest.raises(EstimateError, match="too many for kriging through the doors") as caught:
        surface(range_m=4.0)
    assert "--straight" in caught.value.todo
    assert caught.value.where == "floor 'g'"
