"""From readings on a floor to a surface: what is made, what is refused, and what is said."""

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
from hgmap.field.estimate import READING_SD, EstimateSettings, estimate_surface
from hgmap.field.kriging import krige
from hgmap.field.posterior import Posterior
from hgmap.field.surface import Surface
from hgmap.field.variogram import AveragedFit, Variogram
from hgmap.site.building import Floor, Opening, Room

Floats = NDArray[np.float64]

FLOOR = Floor("g", "Ground", (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 12, 5))))
JOINED = replace(FLOOR, openings=(Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b")),))
COARSE = EstimateSettings(cell_m=0.5)
GIVEN = {"nugget": 0.05, "sill": 0.8, "range_m": 6.0}
GIVEN_VARIOGRAM = Variogram("exponential", 0.05, 0.8, 6.0)


def readings(n: int, seed: int = 1) -> tuple[Floats, Floats]:
    random = np.random.default_rng(seed)
    xy = random.uniform((0.2, 0.2), (11.8, 4.8), (n, 2))
    return xy, np.exp(0.2 * xy[:, 0] + random.normal(0, 0.3, n))


def surface_of(n: int = 12, **settings: Any) -> Surface:
    return estimate_surface(FLOOR, *readings(n), EstimateSettings(**({"cell_m": 0.5} | settings)))


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("scale", ["log", "linear"])
@pytest.mark.parametrize("n", [3, 7, 8, 20])
def test_a_surface_covers_the_floor_and_nothing_else(method: Any, scale: Any, n: int) -> None:
    surface = surface_of(n, method=method, scale=scale)
    assert surface.mean.shape == surface.sd.shape == surface.raster.shape == (10, 24)
    assert (np.isfinite(surface.mean) == surface.raster.inside).all()
    assert (np.isfinite(surface.sd) == surface.raster.inside).all()
    assert (surface.sd[surface.raster.inside] > 0).all()
    assert surface.degrees_of_freedom == n - 1
    assert surface.scores.n == n
    assert surface.settings["cell_m"] == 0.5
    assert surface.settings["method"] == method


def test_on_the_log_scale_the_concentration_is_the_median() -> None:
    surface = surface_of()
    inside = surface.raster.inside
    assert surface.concentration()[inside] == pytest.approx(np.exp(surface.mean[inside]))
    plain = surface_of(scale="linear")
    assert plain.concentration() is plain.mean


@pytest.mark.parametrize("scale", ["log", "linear"])
@pytest.mark.parametrize("n", [5, 20])
def test_the_sd_leaves_out_the_error_of_a_reading_and_no_more(scale: Any, n: int) -> None:
    surface = surface_of(n, scale=scale, **GIVEN)
    noise_free = Posterior(surface.xy, GIVEN_VARIOGRAM).variance(surface.raster.points())
    reading = READING_SD**2 if scale == "log" else 0.0
    mean = surface.mean[surface.raster.inside]
    least = READING_SD if scale == "log" else READING_SD * np.abs(mean)
    expected = np.maximum(np.sqrt(noise_free + GIVEN["nugget"] - reading), least)
    assert surface.sd[surface.raster.inside] == pytest.approx(expected, abs=1e-8)


def test_with_parameters_given_the_mean_is_ordinary_kriging_with_them() -> None:
    surface = surface_of(20, **GIVEN)
    mean, _ = krige(
        surface.xy, surface.values, surface.raster.points(), exact=False,
        model="exponential", nugget=GIVEN["nugget"], psill=GIVEN["sill"],
        range_=GIVEN["range_m"],
    )  # fmt: skip
    assert surface.mean[surface.raster.inside] == pytest.approx(mean, abs=1e-8)
    fit = surface.variogram
    assert isinstance(fit, AveragedFit)
    assert (fit.origin, fit.candidates) == ("given", 1)
    assert (fit.nugget, fit.psill, fit.range_m) == pytest.approx((0.05, 0.8, 6.0))


def test_a_parameter_that_is_given_is_kept_and_the_others_are_weighed() -> None:
    for name, value in GIVEN.items():
        fit = surface_of(20, **{name: value}).variogram
        assert isinstance(fit, AveragedFit)
        assert getattr(fit, "psill" if name == "sill" else name) == pytest.approx(value)
        assert fit.candidates > 1


@pytest.mark.parametrize(("name", "value"), [("range_m", 0.0), ("sill", -1.0), ("nugget", np.nan)])
def test_a_parameter_that_cannot_be_is_refused(name: str, value: float) -> None:
    with pytest.raises(EstimateError, match="cannot be used"):
        surface_of(20, **{name: value})


@pytest.mark.parametrize("walls", [False, True])
@pytest.mark.parametrize(
    "extreme",
    [
        {"range_m": 1e-3}, {"range_m": 1e6}, {"sill": 1e-9}, {"sill": 1e6}, {"nugget": 1e-9},
        {"nugget": 1e6}, {"range_m": 1e-3, "sill": 1e-9, "nugget": 1e6},
        {"range_m": 1e6, "sill": 1e6, "nugget": 1e-9}, {"range_m": 1e6, "sill": 1e6, "nugget": 0.0},
    ],
)  # fmt: skip
def test_a_parameter_at_its_bounds_makes_a_surface(extreme: dict[str, float], walls: bool) -> None:
    settings = EstimateSettings(cell_m=0.5, walls=walls, **extreme)  # type: ignore[arg-type]
    made = estimate_surface(JOINED, *readings(20), settings)
    inside = made.raster.inside
    assert np.isfinite(made.mean[inside]).all()
    assert (made.sd[inside] > 0).all()


@given(st.floats(1e-3, 1e3), st.sampled_from(["kriging", "idw"]), st.integers(0, 50))
def test_the_unit_of_the_readings_does_not_change_a_log_surface(
    factor: float, method: Any, seed: int
) -> None:
    xy, values = readings(10, seed)
    settings = EstimateSettings(cell_m=1.0, method=method)
    one = estimate_surface(FLOOR, xy, values, settings)
    other = estimate_surface(FLOOR, xy, factor * values, settings)
    inside = one.raster.inside
    assert other.mean[inside] == pytest.approx(one.mean[inside] + np.log(factor), abs=1e-3)
    assert other.sd[inside] == pytest.approx(one.sd[inside], rel=1e-2, abs=1e-6)


def test_replicates_are_merged_and_said() -> None:
    xy, values = readings(6)
    surface = estimate_surface(
        FLOOR,
        np.vstack([xy, xy[:1] + np.array([0.004, 0])]),
        np.append(values, 4 * values[0]),
        COARSE,
    )
    assert len(surface.values) == 6
    assert surface.values[0] == pytest.approx(np.log(2 * values[0]))
    assert "1 place with replicates: averaged on the working scale" in surface.notes


def test_idw_says_that_it_has_no_error_model() -> None:
    surface = surface_of(method="idw")
    assert surface.variogram is None
    assert any("no error model" in note for note in surface.notes)
    inside = surface.raster.inside
    assert np.ptp(surface.sd[inside]) == 0


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("n", [3, 5, 8, 20])
@pytest.mark.parametrize("scale", ["log", "linear"])
def test_readings_that_are_all_equal_do_not_prove_an_even_floor(
    method: Any, n: int, scale: Any
) -> None:
    xy, _ = readings(n)
    surface = estimate_surface(
        FLOOR, xy, np.full(n, 0.7), EstimateSettings(cell_m=0.5, method=method, scale=scale)
    )
    inside = surface.raster.inside
    assert surface.concentration()[inside] == pytest.approx(0.7)
    least = READING_SD * (1 if scale == "log" else 0.7)
    assert surface.sd[inside].min() > least * (1 - 1e-9)
    assert np.median(surface.sd[inside]) > 1.2 * least


@pytest.mark.parametrize("n", [4, 12])
def test_idw_of_readings_that_nearly_agree_claims_no_less_than_the_error_of_a_reading(
    n: int,
) -> None:
    xy, _ = readings(n)
    almost = np.array([0.7 * (1 + 1e-6 * k) for k in range(n)])
    surface = estimate_surface(FLOOR, xy, almost, EstimateSettings(cell_m=0.5, method="idw"))
    least = np.log(2) if n < 8 else READING_SD
    assert surface.sd[surface.raster.inside] == pytest.approx(least, rel=1e-3)


@pytest.mark.parametrize(
    ("n", "message"),
    [
        (0, "0 usable readings: a surface needs 3"),
        (1, "1 usable reading: a surface needs 3"),
        (2, "2 usable readings: a surface needs 3"),
    ],
)
@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_fewer_than_three_readings_make_no_surface(n: int, message: str, method: Any) -> None:
    xy, values = readings(n)
    with pytest.raises(EstimateError, match=message):
        estimate_surface(FLOOR, xy, values, EstimateSettings(method=method))


@pytest.mark.parametrize(("places", "word"), [(1, "1 place:"), (2, "2 places:")])
def test_many_readings_at_fewer_than_three_places_make_no_surface(places: int, word: str) -> None:
    xy = np.array([(1.0, 1.0), (9.0, 3.0)])[np.arange(9) % places]
    with pytest.raises(EstimateError, match=f"the usable readings stand at {word}"):
        estimate_surface(FLOOR, xy, np.arange(1.0, 10.0), COARSE)


@pytest.mark.parametrize("bad", [0.0, -1.0])
def test_the_log_scale_refuses_what_has_no_logarithm(bad: float) -> None:
    xy, values = readings(5)
    values[2] = bad
    with pytest.raises(EstimateError, match="log scale needs concentrations above 0"):
        estimate_surface(FLOOR, xy, values, COARSE)
    linear = EstimateSettings(cell_m=0.5, scale="linear")
    assert np.isfinite(estimate_surface(FLOOR, xy, values, linear).mean).any()


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_numbers_that_are_not_finite_are_refused_by_row(method: Any, bad: float) -> None:
    settings = EstimateSettings(cell_m=0.5, method=method)
    xy, values = readings(6)
    spoilt = values.copy()
    spoilt[4] = bad
    with pytest.raises(EstimateError, match="row 4"):
        estimate_surface(FLOOR, xy, spoilt, settings)
    xy[2, 1] = bad
    with pytest.raises(EstimateError, match="row 2"):
        estimate_surface(FLOOR, xy, values, settings)


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("n", [3, 12])
def test_readings_on_one_line_make_a_surface(method: Any, n: int) -> None:
    xy = np.column_stack([np.linspace(0.5, 11.5, n), np.full(n, 2.0)])
    surface = estimate_surface(
        FLOOR, xy, np.linspace(1.0, 5.0, n), EstimateSettings(cell_m=0.5, method=method)
    )
    assert np.isfinite(surface.mean[surface.raster.inside]).all()


def test_a_cell_that_does_not_fit_names_the_floor() -> None:
    with pytest.raises(EstimateError, match="use cells of") as caught:
        surface_of(cell_m=1e-4)
    assert caught.value.where


def test_a_large_floor_gets_coarser_cells_and_a_note() -> None:
    hall = Floor("h", "Hall", (Room("a", "A", box(0, 0, 400, 300)),))
    xy, values = readings(3)
    surface = estimate_surface(hall, xy, values, EstimateSettings(method="idw"))
    assert surface.raster.cell_m == 0.5
    assert any("cells of 0.5 m, since 0.1 m would be too many" in note for note in surface.notes)


def test_progress_ends_at_the_whole() -> None:
    calls: list[tuple[int, int]] = []
    estimate_surface(FLOOR, *readings(9), COARSE, lambda done, all_: calls.append((done, all_)))
    done, whole = calls[-1]
    assert done == whole


def test_readings_that_agree_just_below_a_level_leave_the_error_they_share() -> None:
    xy, _ = readings(12)
    surface = estimate_surface(FLOOR, xy, np.linspace(0.780, 0.790, 12), COARSE)
    inside = surface.raster.inside
    # a level of 0.8 is nearer than one and a half times the error of a reading
    assert (np.log(0.8) - surface.mean[inside] < 1.5 * surface.sd[inside]).all()


@pytest.mark.parametrize(
    ("method", "texts"),
    [
        ("kriging", ("2 non-detects each count as anything from 1/100 of the detection limit to "
                     "the whole of it",
                     "1 saturated reading counts as anything from the value it exceeds to 100 "
                     "times that")),
        ("idw", ("2 non-detects stand at their detection limit",
                 "1 saturated reading stands at its lower bound")),
    ],
)  # fmt: skip
def test_the_notes_say_how_intervals_are_taken(method: Any, texts: tuple[str, ...]) -> None:
    xy, values = readings(12)
    lower, upper = values.copy(), values.copy()
    lower[:2] /= 100.0
    upper[3] *= 100.0
    settings = EstimateSettings(cell_m=0.5, method=method)
    surface = estimate_surface(FLOOR, xy, values, settings, bounds=(lower, upper))
    assert set(texts) <= set(surface.notes)


@pytest.mark.parametrize("walls", [True, False])
def test_a_non_detect_lowers_the_estimate_and_widens_its_interval(walls: bool) -> None:
    xy, values = readings(20)
    low = values < 2.0
    limit = np.where(low, 2.0, values)
    bounds = (np.where(low, 0.02, values), limit)
    settings = EstimateSettings(cell_m=0.5, walls=walls)
    at_limit = estimate_surface(JOINED, xy, limit, settings)
    interval = estimate_surface(JOINED, xy, limit, settings, bounds=bounds)
    assert low.sum() > 3
    row, column = np.searchsorted(interval.raster.y, 2.5), np.searchsorted(interval.raster.x, 0.8)
    assert interval.mean[row, column] < at_limit.mean[row, column]
    assert interval.sd[row, column] > at_limit.sd[row, column]
    again = estimate_surface(JOINED, xy, limit, settings, bounds=bounds)
    inside = again.raster.inside
    assert (again.mean[inside] == interval.mean[inside]).all()  # the draws have a seed


@pytest.mark.parametrize("settings", [{"sill": 1e-6}, {"sill": 1e-6, "range_m": 1e3}])
def test_parameters_that_the_readings_contradict_are_found_out(settings: dict[str, Any]) -> None:
    assert "times as much" in surface_of(20, **settings).contradicted
    assert surface_of(20).contradicted == ""
    assert surface_of(20, sill=1.0).contradicted == ""


def test_few_readings_that_agree_leave_ground_away_from_them_in_doubt() -> None:
    hall = Floor("h", "Hall", (Room("a", "A", box(0, 0, 16, 10)),))
    xy = np.array([(2.0, 2.0), (3.0, 2.0), (4.0, 8.0)])
    made = estimate_surface(hall, xy, np.array([1.1, 1.2, 1.15]), EstimateSettings(cell_m=0.5))
    far = made.sd[made.raster.inside & (made.raster.x[None, :] > 12)]
    assert far.min() > 0.4
