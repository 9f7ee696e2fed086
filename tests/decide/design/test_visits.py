"""The places of a floor are numbered as they are walked to, and the way is the walk itself."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.design.places import DesignPlace, design_building
from hgmap.decide.design.spots import ToFind
from hgmap.decide.design.visits import design_visits
from hgmap.errors import EstimateError
from hgmap.site.building import Floor, Opening, Room


def two_rooms(*, door: bool = True) -> Floor:
    rooms = (
        Room("A", "Room A", shapely.box(0, 0, 4, 4)),
        Room("B", "Room B", shapely.box(4, 0, 8, 4)),
    )
    line = shapely.LineString([(4, 3), (4, 4)])
    openings = (Opening("d", line, rooms=("A", "B")),) if door else ()
    return Floor("f", "Floor", rooms, openings=openings)


def at(name: str, room: str, x: float, y: float, height_m: float = 1.5) -> DesignPlace:
    return DesignPlace(name, "f", room, f"Room {room}", x, y, height_m, "reading", "")


def test_the_walk_bends_round_the_door_and_its_length_is_that_of_the_way() -> None:
    design = design_visits(two_rooms(), [at("1", "A", 3, 1), at("2", "B", 5, 1)])
    ((number, way),) = design.way
    assert number == 2
    # by hand: from (3, 1) to the near jamb (4, 3), and down again
    assert way.length == pytest.approx(2 * np.hypot(1, 2))
    assert design.route_m == pytest.approx(way.length)


def test_all_heights_of_a_place_share_its_number() -> None:
    places = [at("1a", "A", 1, 1), at("2a", "B", 7, 1), at("1b", "A", 1, 1, 0.3)]
    design = design_visits(two_rooms(), places)
    assert {one.place.id: one.number for one in design.visits} in (
        {"1a": 1, "1b": 1, "2a": 2},
        {"1a": 2, "1b": 2, "2a": 1},
    )
    assert design.places == 2


def test_a_room_without_a_way_is_named_and_no_way_leads_to_it() -> None:
    places = [at("1", "A", 1, 1), at("2", "A", 3, 1), at("3", "B", 7, 1)]
    design = design_visits(two_rooms(door=False), places)
    assert design.unreachable == ("Room B",)
    assert [number for number, _ in design.way] == [2]
    assert design.visits[-1].place.room == "B"


def test_a_start_has_a_way_to_the_first_place() -> None:
    design = design_visits(two_rooms(), [at("1", "A", 1, 1)], start=(1.0, 3.0))
    ((number, way),) = design.way
    assert (number, way.length) == (1, pytest.approx(2.0))


def test_the_chance_is_the_share_of_the_room_near_its_place() -> None:
    design = design_visits(two_rooms(), [at("1", "A", 2, 2)], find=ToFind(1.0, 0.9))
    # a circle of radius 1 in a room of 16 m²; cells of 0.25 m
    assert design.chances[0].probability == pytest.approx(np.pi / 16, abs=0.02)
    assert design.chances[1].probability == 0.0
    assert design.probability == pytest.approx(np.pi / 32, abs=0.01)
    assert np.isinf(design.gaps.rows[1].radius_m)


def test_a_place_of_another_floor_or_without_coordinates_is_refused() -> None:
    blank = DesignPlace("b", "", "", "", None, None, None, "field blank", "")
    for place in (blank, at("1", "C", 1, 1)):
        with pytest.raises(EstimateError, match="not of floor"):
            design_visits(two_rooms(), [place])


@given(st.integers(0, 50), st.floats(0.8, 6.0))
def test_every_reading_is_visited_once(seed: int, spacing_m: float) -> None:
    floor = two_rooms()
    every = design_building([floor], use="school", spacing_m=spacing_m, seed=seed)
    places = [one for one in every if one.floor]
    design = design_visits(floor, places)
    assert sorted(one.place.id for one in design.visits) == sorted(one.id for one in places)
    numbers = [one.number for one in design.visits]
    assert sorted(set(numbers)) == list(range(1, design.places + 1))
