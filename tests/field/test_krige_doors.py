"""Kriging through the doors on plain arrays."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pytest
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.site.building import Floor, Opening, Room

GIVEN: dict[str, Any] = {"model": "matern", "nugget": 0.05, "psill": 1.0, "range_": 2.0}


def floor_of(*, door: bool) -> Floor:
    openings = (Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b")),) if door else ()
    rooms = (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 12, 5)))
    return Floor("g", "Ground", rooms, openings=openings)


XY = np.array([(5.8, 0.5), (1.0, 2.0), (3.0, 4.0)])
VALUES = np.array([5.0, 1.0, 0.0])


def test_in_open_space_it_is_kriging_along_straight_lines() -> None:
    hall = Floor("g", "Hall", (Room("a", "A", box(-8, -8, 8, 8)),))
    random = np.random.default_rng(0)
    xy, values = random.uniform(-2, 2, (15, 2)), random.normal(size=15)
    targets = random.uniform(-2, 2, (40, 2))
    mean, variance = krige(xy, values, targets, floor=hall, **GIVEN)
    straight, straight_variance = krige(xy, values, targets, exact=False, **GIVEN)
    assert np.sqrt(np.mean((mean - straight) ** 2)) < 0.05
    assert np.sqrt(np.mean((variance - straight_variance) ** 2)) < 0.05


def test_a_wall_shuts_a_reading_out_and_a_door_lets_a_little_of_it_in() -> None:
    behind = [[6.2, 0.5]]
    straight = krige(XY, VALUES, behind, exact=False, **GIVEN)[0][0]
    through = krige(XY, VALUES, behind, floor=floor_of(door=True), **GIVEN)[0][0]
    assert through < straight - 1.0
    mean, variance = krige(XY, VALUES, behind, floor=floor_of(door=False), **GIVEN)
    assert np.isnan(mean).all()
    assert np.isnan(variance).all()


def test_the_side_of_a_wall_can_be_said_instead_of_found() -> None:
    floor, on_the_wall = floor_of(door=True), [[6.0, 0.5]]
    west = krige(XY, VALUES, on_the_wall, floor=floor, target_room=[0], **GIVEN)[0][0]
    east = krige(XY, VALUES, on_the_wall, floor=floor, target_room=[1], **GIVEN)[0][0]
    assert west > east + 1.0


def test_a_reading_with_a_large_error_weighs_little() -> None:
    floor = floor_of(door=True)
    there = [[5.6, 0.7]]
    trusted = krige(XY, VALUES, there, floor=floor, **GIVEN)[0][0]
    doubted = krige(XY, VALUES, there, floor=floor, error_variance=[50.0, 0, 0], **GIVEN)[0][0]
    assert trusted > 4.0
    assert doubted < 2.0


def test_the_variance_holds_the_nugget_and_grows_away_from_the_readings() -> None:
    floor = floor_of(door=True)
    near, far = krige(XY, VALUES, [[5.7, 0.5], [11.5, 4.5]], floor=floor, **GIVEN)[1]
    assert GIVEN["nugget"] < near < far < GIVEN["nugget"] + 2 * GIVEN["psill"]


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        ({"model": "exponential"}, "straight lines only"),
        ({"smoothness": 2.5}, "smoothness is 1"),
        ({"exact": True}, "exact=False"),
        ({"anisotropy": Anisotropy(0.5, 30.0)}, "anisotropy"),
        ({"room": [0, 0, 7]}, "has not"),
        ({"nugget": -1.0}, "nugget"),
        ({"range_": np.nan}, "range_"),
        ({"range_": 1e-300}, r"range_ of 1e-300 m cannot be used; give one from 0.001 to 1e\+06 m"),
        ({"range_": 1e300}, r"range_ of 1e\+300 m cannot be used"),
        ({"floor": "ground"}, "floor is of type str, not a Floor"),
        ({"error_variance": [-1.0, 0.0, 0.0]}, "negative"),
    ],
)
def test_what_doors_do_not_know_is_refused(wrong: dict[str, Any], text: str) -> None:
    with pytest.raises(EstimateError, match=text) as caught:
        krige(XY, VALUES, [[1.0, 1.0]], **({"floor": floor_of(door=True)} | GIVEN | wrong))
    assert "\n" not in str(caught.value)


def test_rooms_without_a_floor_are_refused() -> None:
    with pytest.raises(EstimateError, match="without a floor"):
        krige(XY, VALUES, [[1.0, 1.0]], room=[0, 0, 0], **GIVEN)


@pytest.mark.parametrize("range_", [1e-3, 1e6])
def test_the_shortest_and_the_longest_range_still_make_an_estimate(range_: float) -> None:
    given = GIVEN | {"range_": range_}
    mean, variance = krige(XY, VALUES, [[1.0, 1.0]], floor=floor_of(door=True), **given)
    assert 0.0 <= mean[0] <= 5.0
    assert variance[0] >= GIVEN["nugget"]


def test_a_place_off_the_plan_is_refused_and_not_moved() -> None:
    floor = floor_of(door=True)
    outside = [[1.0, 1.0], [12.5, 2.0], [15.0, 2.0], [-9.0, 2.0]]
    text = r"^targets row 2 \(counted from 0\) is 3 m outside every room of .*, and 1 more; "
    with pytest.raises(EstimateError, match=text):
        krige(XY, VALUES, outside, floor=floor, **GIVEN)
    with pytest.raises(EstimateError, match=text):
        idw(XY, VALUES, outside, floor=floor)
    for estimate in (idw, partial(krige, **GIVEN)):
        with pytest.raises(EstimateError, match=r"^xy row 1 \(counted from 0\) is 0.7 m outside"):
            estimate([[1.0, 1.0], [6.0, 5.7]], [1.0, 2.0], [[1.0, 1.0]], floor=floor)


def test_a_place_within_a_wall_or_of_a_stated_room_is_taken() -> None:
    floor = floor_of(door=True)
    assert np.isfinite(krige(XY, VALUES, [[12.5, 2.0]], floor=floor, **GIVEN)[0]).all()
    assert np.isfinite(idw(XY, VALUES, [[12.5, 2.0]], floor=floor)).all()
    said = idw(XY, VALUES, [[15.0, 2.0]], floor=floor, target_room=[1])
    assert np.isfinite(said).all()


def test_inverse_distances_too_want_a_floor_and_not_its_name() -> None:
    with pytest.raises(EstimateError, match="floor is of type str, not a Floor"):
        idw(XY, VALUES, [[1.0, 1.0]], floor="ground")  # type: ignore[arg-type]
