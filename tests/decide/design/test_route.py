"""The way through the rooms, against laws and against every order there is."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import box

from hgmap.decide.design.route import RoutePlan, plan_route
from hgmap.errors import EstimateError
from hgmap.field.paths import Walks
from hgmap.site.building import Floor, Room
from tests.field.small_floors import pair, scattered

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def drawn(floor: Floor, seed: int, count: int) -> tuple[Floats, Ints]:
    random = np.random.default_rng(seed)
    room = random.integers(0, len(floor.rooms), count)
    boxes = np.array([one.polygon.bounds for one in floor.rooms])
    low, high = boxes[room, :2], boxes[room, 2:]
    return low + random.uniform(0.05, 0.95, (count, 2)) * (high - low), room


def way(walks: Walks, xy: Floats, room: Ints, order: Ints) -> float:
    legs = walks.distances(xy, room, xy, room)[order[:-1], order[1:]]
    return float(legs[np.isfinite(legs)].sum())


@given(st.integers(0, 10_000), st.integers(0, 25), st.booleans(), st.booleans())
@settings(max_examples=40, deadline=None)
def test_every_place_once_and_never_a_longer_way_than_as_given(
    seed: int, count: int, with_start: bool, with_source: bool
) -> None:
    floor = scattered(seed)
    walks = Walks.over(floor)
    xy, room = drawn(floor, seed, count)
    start = xy[0] if with_start and count else None
    source = int(np.random.default_rng(seed).integers(len(floor.rooms))) if with_source else None
    route = plan_route(walks, xy, room=room, start=start, source_room=source)
    assert sorted(route.order.tolist()) == list(range(count))
    if not count:
        return
    part = walks.parts_of(xy, room)
    ours = part == part[route.order[0]]
    # as given, but for what has to stand at the end
    given_order = np.array(
        sorted(np.flatnonzero(ours), key=lambda one: (room[one] == source, one)), dtype=np.int64
    )
    reached = ours[route.order]
    assert not reached[int(ours.sum()) :].any()
    found = route.leg_m[: int(ours.sum())].sum()
    begin = 0.0
    if start is not None:
        begin = float(walks.distances(xy[:1], room[:1], xy, room)[0, given_order[0]])
    assert found <= begin + way(walks, xy, room, given_order) + 1e-6
    sources = room[route.order[reached]] == source
    assert not (sources[:-1] & ~sources[1:]).any()
    assert {floor.rooms[one].name for one in room[~ours]} == set(route.unreachable)


def test_a_short_route_is_mostly_the_shortest_there_is() -> None:
    # fixed seeds: two orders turned until no turn helps promise nothing for the worst case
    floor = Floor("g", "G", (Room("a", "A", box(0, 0, 20, 12)),))
    walks = Walks.over(floor)
    every = np.array(list(itertools.permutations(range(7))))
    longer = []
    for seed in range(40):
        xy, room = drawn(floor, seed, 7)
        legs = walks.distances(xy, room, xy, room)
        shortest = legs[every[:, :-1], every[:, 1:]].sum(axis=1).min()
        longer.append(plan_route(walks, xy, room=room).length_m / shortest)
    assert min(longer) >= 1 - 1e-9
    assert max(longer) <= 1.25
    assert np.mean(np.array(longer) < 1 + 1e-9) >= 0.8


def test_a_row_of_places_is_walked_along() -> None:
    floor = Floor("g", "G", (Room("a", "A", box(0, 0, 11, 2)),))
    xy = np.column_stack([[5, 1, 9, 3, 7, 2, 10, 4, 8, 6], np.ones(10)]).astype(np.float64)
    route = plan_route(Walks.over(floor), xy, start=(0.5, 1.0))
    assert xy[route.order, 0].tolist() == list(range(1, 11))
    assert route.length_m == pytest.approx(9.5)
    assert route.leg_m[0] == pytest.approx(0.5)


def test_the_way_goes_through_the_door_and_the_source_comes_last() -> None:
    walks = Walks.over(pair(door=(1.0, 1.9)))
    xy = np.array([(5.0, 3.5), (2.0, 3.5), (4.0, 3.5), (1.0, 3.5)])
    route = plan_route(walks, xy, source_room=1)
    assert route.order.tolist() == [3, 1, 2, 0]
    through = 2 * float(np.hypot(1.0, 1.6))
    assert route.length_m == pytest.approx(1.0 + through + 1.0, abs=1e-6)
    assert route.source_room == "B"


def test_a_sealed_room_is_named_and_comes_last() -> None:
    walks = Walks.over(pair(state="sealed"))
    xy = np.array([(5.0, 3.5), (2.0, 3.5), (1.0, 3.5)])
    route = plan_route(walks, xy)
    assert route.order.tolist()[-1] == 0
    assert route.unreachable == ("B",)
    assert np.isinf(route.leg_m[-1])
    assert route.length_m == pytest.approx(1.0)


def test_a_start_that_is_cut_off_from_every_place_reaches_none() -> None:
    walks = Walks.over(pair(state="sealed"))
    route = plan_route(walks, np.array([(2.0, 3.5), (1.0, 3.5)]), start=(5.0, 1.0))
    assert sorted(route.order.tolist()) == [0, 1]
    assert np.isinf(route.leg_m[0])
    assert route.unreachable == ("A",)


def test_no_place_is_no_way() -> None:
    route = plan_route(Walks.over(pair()), np.empty((0, 2)))
    assert isinstance(route, RoutePlan)
    assert route.length_m == 0.0
    assert not len(route.order)


def test_what_is_not_on_the_floor_is_refused() -> None:
    walks = Walks.over(pair())
    with pytest.raises(EstimateError, match="outside every room"):
        plan_route(walks, np.array([(1.0, 1.0)]), start=(40.0, 1.0))
    with pytest.raises(EstimateError, match="has no room 7"):
        plan_route(walks, np.array([(1.0, 1.0)]), source_room=7)
    with pytest.raises(EstimateError, match="too many"):
        plan_route(walks, np.column_stack([np.linspace(0.1, 2.9, 2001), np.ones(2001)]))


def test_all_heights_of_a_place_are_read_on_the_spot() -> None:
    walks = Walks.over(pair())
    xy = np.array([(1.0, 1.0), (2.0, 3.0), (1.0, 1.0), (2.0, 3.0), (1.0, 1.0)])
    route = plan_route(walks, xy)
    assert route.order.tolist() in ([0, 2, 4, 1, 3], [1, 3, 0, 2, 4])
    assert route.length_m == pytest.approx(float(np.hypot(1, 2)))
    assert (route.leg_m > 0).sum() == 1
