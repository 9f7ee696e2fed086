"""Inverse distance weighting over walks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.idw import idw
from hgmap.field.idw_doors import BLOCK_BYTES, idw_through_doors, leave_one_out_through_doors
from hgmap.field.paths import Walks
from hgmap.field.variogram import SMALLEST_LOG_SD
from hgmap.site.building import Floor, Opening, OpeningState, Room
from tests.truth.buildings import make_building, take_readings


def two_rooms(state: OpeningState = "open") -> Floor:
    return Floor(
        "g",
        "Ground",
        (Room("a", "A", box(0, 0, 5, 10)), Room("b", "B", box(5, 0, 10, 10))),
        openings=(Opening("D", LineString([(5, 4), (5, 5)]), state, ("a", "b")),),
    )


XY = np.array([(2.0, 2.0), (4.5, 9.0), (5.5, 9.0), (9.0, 1.0)])
VALUES = np.array([1.0, 2.0, 30.0, 40.0])


def test_readings_are_weighed_by_the_length_of_the_walk() -> None:
    # (2, 2) to (8, 2): by (5, 4), 2 hypot(3, 2); (8, 6) to (8, 2): 4, within the room
    xy, values = np.array([(2.0, 2.0), (8.0, 6.0)]), [1.0, 3.0]
    weight = np.array([2 * np.hypot(3, 2), 4.0]) ** -2
    found = idw(xy, values, [(8, 2)], floor=two_rooms())
    assert found[0] == pytest.approx(weight @ values / weight.sum())


def test_through_doors_a_reading_with_twice_the_variance_counts_half() -> None:
    xy, values = np.array([(2.0, 2.0), (8.0, 6.0)]), [1.0, 3.0]
    weight = np.array([2 * np.hypot(3, 2), 4.0]) ** -2 / [1.0, 2.0]
    found = idw(xy, values, [(8, 2), (8, 6)], floor=two_rooms(), error_variance=[0.1, 0.2])
    assert found == pytest.approx([weight @ values / weight.sum(), 3.0])
    plain = idw(xy, values, [(8, 2)], floor=two_rooms())
    assert idw(xy, values, [(8, 2)], floor=two_rooms(), error_variance=7.0) == plain


def test_a_reading_behind_a_thin_wall_weighs_little() -> None:
    beside = [(4.6, 9.0)]
    assert idw(XY, VALUES, beside)[0] > 2.3
    assert idw(XY, VALUES, beside, floor=two_rooms())[0] == pytest.approx(2.0, abs=0.02)


def test_without_a_floor_nothing_is_changed() -> None:
    xy = np.random.default_rng(1).uniform(0, 10, (20, 2))
    weight = np.hypot(*(xy[:, None] - XY[None]).transpose(2, 0, 1)) ** -2.0
    np.testing.assert_allclose(
        idw(XY, VALUES, xy), weight @ VALUES / weight.sum(axis=1), rtol=1e-12
    )


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 10_000), st.floats(0.5, 8.0))
def test_in_one_convex_room_it_is_the_same_as_along_straight_lines(seed: int, power: float) -> None:
    random = np.random.default_rng(seed)
    floor = Floor("g", "G", (Room("a", "A", box(-3, 2, 9, 8)),))
    xy, targets = (random.uniform((-3, 2), (9, 8), (n, 2)) for n in (7, 30))
    values = random.lognormal(size=7)
    np.testing.assert_allclose(
        idw(xy, values, targets, power=power, floor=floor),
        idw(xy, values, targets, power=power),
        rtol=1e-9,
    )


def test_at_a_reading_it_is_that_reading() -> None:
    np.testing.assert_allclose(idw(XY, VALUES, XY, floor=two_rooms()), VALUES)


def test_the_room_said_of_a_reading_on_the_wall_decides() -> None:
    on_wall = [(5.0, 9.0), (5.0, 9.0)]
    found = idw(on_wall, [1.0, 9.0], on_wall, floor=two_rooms(), room=[0, 1], target_room=[0, 1])
    np.testing.assert_allclose(found, [1.0, 9.0])


def test_a_target_that_no_reading_reaches_is_nan() -> None:
    found = idw(XY[:2], VALUES[:2], [(1, 1), (8, 8)], floor=two_rooms("sealed"))
    assert np.isfinite(found).tolist() == [True, False]


def test_a_sealed_door_lets_no_reading_through() -> None:
    found = idw(XY, VALUES, [(1, 1), (8, 8)], floor=two_rooms("sealed"))
    assert 1.0 <= found[0] <= 2.0
    assert 30.0 <= found[1] <= 40.0


def test_many_targets_in_blocks_are_the_same_as_one_by_one_and_progress_is_told() -> None:
    random = np.random.default_rng(0)
    walks = Walks.over(two_rooms())
    xy = random.uniform(0, 10, (400, 2))
    values = random.uniform(0, 1, 400)
    targets = random.uniform(0, 10, (2 * BLOCK_BYTES // (8 * 400) + 5, 2))
    told: list[tuple[int, int]] = []
    found = idw_through_doors(
        walks, xy, values, None, targets, None, power=2.0,
        progress=lambda done, every: told.append((done, every)),
    )  # fmt: skip
    assert len(told) == 3
    assert told[-1] == (len(targets), len(targets))
    some = random.choice(len(targets), 20, replace=False)
    for k in some:
        alone = idw(xy, values, targets[[k]], floor=walks.floor)
        assert found[k] == pytest.approx(alone[0], rel=1e-9)


def test_rooms_that_do_not_fit_are_refused() -> None:
    floor = two_rooms()
    with pytest.raises(EstimateError, match="each of the 4 places"):
        idw(XY, VALUES, XY, floor=floor, room=[0, 1])
    with pytest.raises(EstimateError, match="target_room names a room"):
        idw(XY, VALUES, XY, floor=floor, target_room=[0, 1, 2, 0])
    with pytest.raises(EstimateError, match="without a floor"):
        idw(XY, VALUES, XY, room=[0, 0, 1, 1])


def test_each_reading_is_left_out_as_if_it_had_not_been_taken() -> None:
    walks = Walks.over(two_rooms())
    error = leave_one_out_through_doors(walks, XY, VALUES, None, power=2.0)
    for k in range(4):
        keep = np.arange(4) != k
        alone = idw(XY[keep], VALUES[keep], XY[[k]], floor=walks.floor)
        assert error[k] == pytest.approx(VALUES[k] - alone[0])


def surface_of(floor: Floor, xy: np.ndarray, values: np.ndarray, walls: bool | None = None):  # type: ignore[no-untyped-def]
    return estimate_surface(
        floor, xy, values, EstimateSettings(method="idw", cell_m=0.5, walls=walls)
    )


def test_a_surface_goes_through_the_doors_where_the_plan_shows_one() -> None:
    made = surface_of(two_rooms(), XY, VALUES)
    assert made.settings["walls"] is True
    raster = made.raster
    cells = raster.points()
    found = idw(
        XY, np.log(VALUES), cells, floor=two_rooms(), target_room=raster.room_index[raster.inside]
    )
    np.testing.assert_allclose(made.mean[raster.inside], found)
    error = leave_one_out_through_doors(
        Walks.over(two_rooms()), XY, np.log(VALUES), None, power=2.0
    )
    np.testing.assert_allclose(made.scores.residuals, error)


def test_a_surface_along_straight_lines_can_still_be_asked_for() -> None:
    made = surface_of(two_rooms(), XY, VALUES, walls=False)
    assert made.settings["walls"] is False
    straight = idw(XY, np.log(VALUES), made.raster.points())
    np.testing.assert_allclose(made.mean[made.raster.inside], straight, rtol=1e-8)


def test_a_part_with_one_reading_is_at_least_as_unsure_as_the_stated_sill() -> None:
    xy = np.array([(1.0, 1.0), (1.0, 9.0), (4.0, 5.0), (2.0, 5.0), (8.0, 5.0)])
    values = np.array([1.0, 1.01, 1.02, 0.99, 1.0])
    made = surface_of(two_rooms("sealed"), xy, np.repeat(values, 1), walls=True)
    west, east = made.sd[:, :10], made.sd[:, 10:]
    assert (east >= SMALLEST_LOG_SD).all()
    assert np.isfinite(west).all()
    assert made.degrees_of_freedom == 3


def test_a_part_without_a_reading_has_neither_estimate_nor_sd() -> None:
    xy = np.array([(1.0, 1.0), (1.0, 9.0), (4.0, 5.0)])
    made = surface_of(two_rooms("sealed"), xy, np.array([1.0, 2.0, 3.0]), walls=True)
    assert np.isnan(made.mean[:, 10:]).all()
    assert np.isnan(made.sd[:, 10:]).all()
    assert np.isfinite(made.mean[:, :10]).all()


def test_readings_that_cannot_reach_each_other_make_no_surface() -> None:
    rooms = tuple(Room(str(k), f"R{k}", box(3 * k, 0, 3 * k + 3, 3)) for k in range(3))
    xy = np.array([(1.5, 1.5), (4.5, 1.5), (7.5, 1.5)])
    with pytest.raises(EstimateError, match="separate parts"):
        surface_of(Floor("g", "G", rooms), xy, np.array([1.0, 2.0, 3.0]), walls=True)


def test_in_simulated_buildings_it_errs_less_than_along_straight_lines() -> None:
    for seed in range(3):
        building = make_building(seed)
        readings = take_readings(building, 60, seed=0, noise_sd=0.1)
        targets = building.targets[::7]
        truth = building.log_truth(targets)
        doors = idw(readings.xy, readings.values, targets, floor=building.floor)
        straight = idw(readings.xy, readings.values, targets)
        reached = np.isfinite(doors)
        error = [np.sqrt(np.mean((one - truth)[reached] ** 2)) for one in (doors, straight)]
        assert error[0] < 0.9 * error[1]
