"""Kriging through the doors on plain arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.kriging import krige
from hgmap.site.model import Floor, Opening, Room

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
        ({"error_variance": [-1.0, 0.0, 0.0]}, "negative"),
    ],
)
def test_what_doors_do_not_know_is_refused(wrong: dict[str, Any], text: str) -> None:
    with pytest.raises(EstimateError, match=text) as caught:
        krige(XY, VALUES, [[1.0, 1.0]], floor=floor_of(door=True), **(GIVEN | wrong))
    assert "\n" not in str(caught.value)


def test_rooms_without_a_floor_are_refused() -> None:
    with pytest.raises(EstimateError, match="without a floor"):
        krige(XY, VALUES, [[1.0, 1.0]], room=[0, 0, 0], **GIVEN)
